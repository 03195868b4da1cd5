"""The one place that names the engines: decides what is tried, and in which order."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

from airproof.circuit.behaviour import Behaviour, Replay
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import TIMED, Possible, Property
from airproof.engines import prover, search
from airproof.engines.budget import Budget
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Note, Reason, Verdict, Word


@dataclass(frozen=True, slots=True)
class _Doubt:
    """Why nothing was decided."""

    reason: Reason
    detail: str | None = None


FRAMES_SHARE = 0.7  # of the time, so that a search is left some when frames do not end


@dataclass(frozen=True, slots=True)
class Turn:
    """Solver units for the search so far, then for frames (None: all that is left)."""

    search: int
    frames: int | None


TURNS = (
    Turn(1_500_000, 3_000_000),
    Turn(40_000_000, 12_000_000),
    Turn(150_000_000, None),
)


def prove(circuit: Circuit, name: str, budget: Budget) -> Verdict:
    """What can be said of one property at any speed.

    A proof is only claimed here; `certify` states it again and discharges it.
    Raises KeyError if the circuit has no property of this name.
    """
    prop, began = circuit.properties[name], time.monotonic()
    verdict = _decided(circuit, prop, budget)
    return replace(verdict, seconds=time.monotonic() - began)


def _decided(circuit: Circuit, prop: Property, budget: Budget) -> Verdict:
    """Quick facts first, then search and frames by turns, each turn longer than the last.

    Each turn's search begins afresh: a solver that was stopped in a query was
    seen to need many times longer for it than one that had not been.
    """
    proof = prover.Prover(circuit, prop, replace(budget, seconds=FRAMES_SHARE * budget.seconds))
    if (attempt := proof.facts()).invariant is not None:
        return _proved(prop, attempt)
    known = attempt.why == prover.NOT_ENOUGH
    for turn in TURNS:
        hunt = search.Search(circuit, prop, budget)
        outcome = hunt.deepen(budget.steps, units=turn.search)
        if outcome.why not in ("deepest", "solver limit"):
            break
        if known and (attempt := proof.frames(turn.frames)).invariant is not None:
            return _proved(prop, attempt)
    else:
        outcome = hunt.deepen(budget.steps)
    if outcome.sequence is not None:
        return _told(circuit, prop, outcome)
    doubt = _doubt(prop, outcome)
    return Verdict(
        prop.name, "undecided", reason=doubt.reason, detail=doubt.detail, depth=outcome.steps
    )


def _proved(prop: Property, attempt: prover.Attempt) -> Verdict:
    """No run of any length breaches it, or reaches what was asked to be possible."""
    return Verdict(
        prop.name,
        "breached" if isinstance(prop.sentence, Possible) else "holds",
        strength="any speed",
        engine=attempt.stage,
        certificate=attempt.invariant,
    )


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


def _told(circuit: Circuit, prop: Property, outcome: search.Outcome) -> Verdict:
    """The verdict on a sequence, once the solver-free account has followed it."""
    sequence = outcome.sequence
    assert sequence is not None
    replay = Behaviour(circuit).replay(prop, sequence.start, sequence.steps)
    if (fault := _fault(replay, sequence)) is not None:
        return Verdict(prop.name, "undecided", reason="defect", detail=fault)
    notes: tuple[Note, ...] = () if outcome.shortest else ("a shorter sequence not ruled out",)
    verdict = Verdict(prop.name, "undecided", depth=outcome.steps, sequence=sequence, notes=notes)
    if isinstance(prop.sentence, TIMED):
        return replace(verdict, reason="needs sizes")
    word: Word = "holds" if isinstance(prop.sentence, Possible) else "breached"
    return replace(verdict, word=word, strength="for some sizes")


def _fault(replay: Replay, sequence: Sequence) -> str | None:
    """Where the solver-free account parts from the sequence; None if it follows to the end."""
    if replay.start:
        return f"start: {replay.start}"
    for index, refusals in replay.steps.items():
        return f"step {index + 1}: {refusals}"
    last = len(sequence.steps) - 1
    return None if replay.decided == last else f"decided in step {replay.decided}, not {last}"
