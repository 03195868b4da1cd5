"""The result of `prove` as JSON; `results.schema.json` beside this file describes it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from airproof import __version__
from airproof.circuit.kinds import Circuit
from airproof.circuit.state import State, Step
from airproof.circuit.switching import Moved, MoveKind, moves_made
from airproof.circuit.tables import Tables, tables_of
from airproof.evidence.health import Finding
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Retried, Verdict
from airproof.report import again, leaning
from airproof.report.figures import exact
from airproof.report.findings import found, reason, remarks
from airproof.report.granted import granted

_WHAT: Mapping[MoveKind, str] = {
    "control": "moves",
    "range": "is set",
    "device": "moves",
    "sets off": "sets off",
    "arrives": "arrives",
    "turns round": "turns round",
    "timer expires": "expires",
    "timer reset": "is reset",
}


@dataclass(frozen=True, slots=True)
class Results:
    """All that was found out: `fingerprint` is the SHA-256 of the circuit's texts."""

    circuit: Circuit
    fingerprint: str
    verdicts: tuple[Verdict, ...]
    findings: tuple[Finding, ...]


def schema() -> dict[str, Any]:
    """The JSON Schema that every output of `to_json` satisfies."""
    text = Path(__file__).with_name("results.schema.json").read_text(encoding="utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def to_json(results: Results) -> str:
    """The whole result as one JSON object, keys in a fixed order."""
    return json.dumps(as_data(results), indent=2, ensure_ascii=False)


def as_data(results: Results) -> dict[str, Any]:
    """The whole result as plain data, as the schema describes it."""
    circuit, tables = results.circuit, tables_of(results.circuit)
    return {
        "airproof": __version__,
        "circuit": circuit.name,
        "fingerprint": results.fingerprint,
        "properties": [_entry(tables, verdict) for verdict in results.verdicts],
        "health": [_finding(tables, finding) for finding in results.findings],
        "taken_for_granted": [
            {"kind": item.kind, "name": item.name, "text": item.text} for item in granted(circuit)
        ],
    }


def _entry(tables: Tables, verdict: Verdict) -> dict[str, Any]:
    return {
        "name": verdict.property,
        "title": tables.circuit.properties[verdict.property].title,
        "verdict": verdict.word,
        "strength": verdict.strength,
        "reason": reason(verdict),
        "notes": remarks(verdict),
        "engine": verdict.engine,
        "seconds": round(verdict.seconds, 3),
        "certificate": verdict.certificate.text if verdict.certificate else None,
        "leans_on": leaning.as_data(tables.circuit, verdict),
        **run_data(tables, verdict.sequence),
        "only_if_at_once": [
            {"device": one.device, **_again(tables.circuit, verdict, one)}
            for one in verdict.retried
            if one.device is not None
        ],
        "in_an_instant": next(
            (_again(tables.circuit, verdict, one) for one in verdict.retried if not one.device),
            None,
        ),
    }


def _again(circuit: Circuit, verdict: Verdict, one: Retried) -> dict[str, Any]:
    return {
        "verdict": one.word,
        "reason": again.why_undecided(one),
        **run_data(tables_of(again.changed(circuit, verdict, one)), one.sequence),
    }


def _finding(tables: Tables, finding: Finding) -> dict[str, Any]:
    return {
        "weight": finding.weight,
        "code": finding.code,
        "names": list(finding.names),
        "text": found(finding),
        **run_data(tables, finding.sequence),
    }


def run_data(tables: Tables, sequence: Sequence | None) -> dict[str, Any]:
    """A run with its states, or nothing under the same keys."""
    if sequence is None:
        return {"length": None, "start": None, "sequence": None}
    return {
        "length": sequence.length,
        "start": _state(sequence.start),
        "sequence": [_step(tables, before, step) for before, step in sequence.pairs()],
    }


def _step(tables: Tables, before: State, step: Step) -> dict[str, Any]:
    moves = moves_made(tables, before, step.after) if step.kind == "switch" else ()
    return {
        "kind": step.kind,
        "duration": None if step.duration is None else exact(step.duration),
        "moves": [_move(move) for move in moves],
        "amounts": _numbers(step.amounts),
        "state": _state(step.after),
    }


def _move(move: Moved) -> dict[str, str]:
    return {
        "name": move.name,
        "what": _WHAT[move.kind],
        "from": _place(move.was),
        "to": _place(move.now),
    }


def _place(place: str | Fraction) -> str:
    return place if isinstance(place, str) else exact(place)


def _state(state: State) -> dict[str, Any]:
    return {
        "positions": dict(state.positions),
        "leaving": dict(state.leaving),
        "timers": dict(state.timers),
        "values": _numbers(state.values),
    }


def _numbers(values: Mapping[str, Fraction]) -> dict[str, str]:
    return {name: exact(value) for name, value in values.items()}
