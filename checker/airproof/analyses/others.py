"""Another sequence of the same property, told apart by what happens in it."""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import replace

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.cone import cone
from airproof.circuit.deeds import Done
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import TIMED, Possible, Property
from airproof.engines.budget import Budget
from airproof.engines.rivals import done_by, essential, rival
from airproof.engines.search import Outcome
from airproof.engines.weaving import woven
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Reason, Verdict, Word

SHRINKING_UNITS = 10_000_000  # solver units for what is essential in one known sequence
SHARE = 0.3  # of the seconds, for all of them


def another(
    circuit: Circuit,
    prop: Property,
    known: Iterable[Sequence | Done],
    budget: Budget,
    *,
    after: int = 0,
) -> Verdict:
    """The shortest sequence that leaves out something essential of each known one.

    Something essential: one of the moves that a known sequence comes down to,
    wherever in it they stand.  So neither the same with a detour nor the same
    in another order is another one.

    after: the property is known to take more than so many steps to be decided
    Undecided (`no breach within`, `not found possible within`, or for a limit)
    where there is none as far as was searched.
    """
    began, part = time.monotonic(), cone(circuit, prop)
    short = replace(budget, seconds=SHARE * budget.seconds, resource=SHRINKING_UNITS)
    does = [one if isinstance(one, Done) else done(circuit, one) for one in known]
    cores = [essential(part, prop, one.deeds, one.steps, short) for one in does]
    outcome = rival(part, prop, cores, budget, after=after)
    if outcome.sequence is not None and part is not circuit:
        wove = woven(circuit, part, prop, outcome.sequence).sequence
        again = rival(circuit, prop, cores, budget, after=outcome.steps) if wove is None else None
        outcome = again or replace(outcome, sequence=wove, shortest=False)
    return replace(_told(circuit, prop, outcome), seconds=time.monotonic() - began)


def done(circuit: Circuit, sequence: Sequence) -> Done:
    """What the sequence does."""
    return Done(done_by(circuit, sequence), len(sequence.steps))


def _told(circuit: Circuit, prop: Property, outcome: Outcome) -> Verdict:
    run, verdict = outcome.sequence, Verdict(prop.name, "undecided", depth=outcome.steps)
    if run is None:
        reason = _why(prop, outcome)
        detail = outcome.why if reason == "solver failed" else None
        return replace(verdict, reason=reason, detail=detail)
    replay = Behaviour(circuit).replay(prop, run.start, run.steps)
    if not replay.accepted or replay.decided != len(run.steps) - 1:
        said = f"the two accounts part on a sequence: {replay.start} {replay.steps}"
        return replace(verdict, reason="defect", detail=said)
    verdict = replace(
        verdict,
        sequence=run,
        notes=() if outcome.shortest else ("a shorter sequence not ruled out",),
    )
    if isinstance(prop.sentence, TIMED):
        return replace(verdict, reason="needs sizes")
    word: Word = "holds" if isinstance(prop.sentence, Possible) else "breached"
    return replace(verdict, word=word, strength="for some sizes")


def _why(prop: Property, outcome: Outcome) -> Reason:
    if outcome.why == "deepest":
        possible = isinstance(prop.sentence, Possible)
        return "not found possible within" if possible else "no breach within"
    reasons: tuple[Reason, ...] = ("time limit", "solver limit", "interrupted")
    return next((one for one in reasons if one == outcome.why), "solver failed")
