"""The one place that names the engines: decides what is tried, and in which order."""

from __future__ import annotations

import time
from dataclasses import dataclass

from airproof.circuit.behaviour import Behaviour, Replay
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import TIMED, Possible, Property
from airproof.engines import search
from airproof.engines.budget import Budget
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Reason, Verdict


@dataclass(frozen=True, slots=True)
class _Doubt:
    """Why nothing was decided."""

    reason: Reason
    detail: str | None = None


def prove(circuit: Circuit, name: str, budget: Budget) -> Verdict:
    """What can be said of one property at any speed.

    Raises KeyError if the circuit has no property of this name.
    """
    began, prop = time.monotonic(), circuit.properties[name]
    outcome = search.run(circuit, prop, budget)
    if outcome.sequence is None:
        doubt = _doubt(prop, outcome)
        return Verdict(
            name,
            "undecided",
            reason=doubt.reason,
            detail=doubt.detail,
            depth=outcome.steps,
            seconds=time.monotonic() - began,
        )
    return _told(circuit, prop, outcome, time.monotonic() - began)


def _doubt(prop: Property, outcome: search.Outcome) -> _Doubt:
    """Why the search stopped without a find."""
    if outcome.why == "deepest":
        possible = isinstance(prop.sentence, Possible)
        return _Doubt("not found possible within" if possible else "no breach within")
    if outcome.why == "no start":
        return _Doubt("unhealthy", "no start")
    for reason in ("time limit", "solver limit", "interrupted"):
        if outcome.why == reason:
            return _Doubt(reason)
    return _Doubt("solver failed", outcome.why.removeprefix("solver failed: "))


def _told(circuit: Circuit, prop: Property, outcome: search.Outcome, seconds: float) -> Verdict:
    """The verdict on a sequence, once the solver-free account has followed it."""
    sequence = outcome.sequence
    assert sequence is not None
    replay = Behaviour(circuit).replay(prop, sequence.start, sequence.steps)
    if (fault := _fault(replay, sequence)) is not None:
        return Verdict(prop.name, "undecided", reason="defect", detail=fault, seconds=seconds)
    if isinstance(prop.sentence, TIMED):
        return Verdict(
            prop.name,
            "undecided",
            reason="needs sizes",
            depth=outcome.steps,
            seconds=seconds,
            sequence=sequence,
        )
    return Verdict(
        prop.name,
        "holds" if isinstance(prop.sentence, Possible) else "breached",
        strength="for some sizes",
        depth=outcome.steps,
        seconds=seconds,
        sequence=sequence,
    )


def _fault(replay: Replay, sequence: Sequence) -> str | None:
    """Where the solver-free account parts from the sequence; None if it follows to the end."""
    if replay.start:
        return f"start: {replay.start}"
    for index, refusals in replay.steps.items():
        return f"step {index + 1}: {refusals}"
    last = len(sequence.steps) - 1
    return None if replay.decided == last else f"decided in step {replay.decided}, not {last}"
