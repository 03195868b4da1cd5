"""The result of `replay` as JSON; `replay.schema.json` beside this file describes it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from airproof.circuit.kinds import Circuit
from airproof.evidence.dependence import Dependence
from airproof.evidence.verdict import Verdict
from airproof.report import depending, results
from airproof.report.pack.decisions import Decision
from airproof.report.pack.keys import key_of
from airproof.report.results import Results

_RUN = ("length", "start", "sequence")


@dataclass(frozen=True, slots=True)
class Replayed:
    """The verdict with the sequence asked for, those of the earlier ones, what it depends on.

    disposed: what a meeting has decided of sequences, from which it differs too
    """

    circuit: Circuit
    fingerprint: str
    verdict: Verdict
    earlier: tuple[Verdict, ...] = ()
    dependence: Dependence | None = None
    disposed: tuple[Decision, ...] = ()

    @property
    def number(self) -> int:
        """Which of the property's sequences it is, those counted from which it differs."""
        keys = {key_of(self.circuit, one.sequence) for one in self.earlier}
        return len(keys | {one.sequence for one in self.disposed}) + 1


def to_json(replayed: Replayed) -> str:
    """One JSON object, keys in a fixed order."""
    return json.dumps(as_data(replayed), indent=2, ensure_ascii=False)


def as_data(replayed: Replayed) -> dict[str, Any]:
    """The same as plain data."""
    circuit, known = replayed.circuit, replayed.dependence
    verdicts = (replayed.verdict, *replayed.earlier)
    whole = results.as_data(Results(circuit, replayed.fingerprint, verdicts, ()))
    last, *earlier = whole["properties"]
    run = replayed.verdict.sequence
    return {
        "airproof": whole["airproof"],
        "circuit": whole["circuit"],
        "fingerprint": whole["fingerprint"],
        "number": replayed.number,
        "key": key_of(circuit, run) if run is not None else None,
        "property": last,
        "earlier": [_run(entry) for entry in earlier],
        "disposed": [
            {"sequence": one.sequence, "disposition": one.disposition, "because": one.because}
            for one in replayed.disposed
        ],
        "depends_on": depending.as_data(circuit, known) if known is not None else None,
    }


def schema() -> dict[str, Any]:
    """The JSON Schema that every output of `to_json` satisfies."""
    text = Path(__file__).with_name("replay.schema.json").read_text(encoding="utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return {**loaded, "$defs": {**results.schema()["$defs"], **loaded["$defs"]}}


def _run(entry: Mapping[str, Any]) -> dict[str, Any]:
    return {key: entry[key] for key in _RUN}
