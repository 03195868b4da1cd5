"""Is what holds safe only because a device moves at once, or because an instant is not judged?

A retry answers that one question and is a remark: the verdict itself stays as
it is.  Whether the circuit is healthy with the slow device is not asked; where
time can stop in it fewer runs are left to breach anything, so `holds` says
only as much as the circuit's own health does.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from airproof.certify.check import certified
from airproof.certify.obligations import DUTIES, discharge, obligations
from airproof.circuit.behaviour import Behaviour
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import TIMED, Property
from airproof.circuit.slow import instantly, slowed
from airproof.engines.budget import Budget
from airproof.engines.keeping import kept
from airproof.engines.quick import OutOfBudget
from airproof.engines.search import Outcome, Search
from airproof.engines.strategy import prove
from airproof.evidence.certificate import Clause, Invariant
from airproof.evidence.verdict import Reason, Retried, Verdict
from airproof.transition.literals import Bit, Literal

KEEPING_UNITS = 40_000_000  # solver units for the search of clauses that stand
SEARCH_UNITS = 20_000_000  # for a first search; the breaches on the winder need up to 11,000,000
UNITS = 50_000_000  # for everything else
CHECKING = 5.0  # [s] for a proof that was found when the time was up


def with_slow(circuit: Circuit, claim: Verdict, device: str, budget: Budget) -> Retried:
    """The property, which holds, with that device slow.

    before: the claim holds with a certificate, and the device has no moving time
    """
    assert claim.certificate is not None
    clauses = tuple(_readings(claim.certificate, device))
    return _again(slowed(circuit, device), claim, clauses, budget, device=device)


def in_an_instant(circuit: Circuit, claim: Verdict, budget: Budget) -> Retried:
    """The property, which holds while time passes, judged in instants too."""
    assert claim.certificate is not None
    clauses = claim.certificate.clauses
    return _again(instantly(circuit, claim.property), claim, clauses, budget, device=None)


def _again(
    circuit: Circuit,
    claim: Verdict,
    clauses: tuple[Clause, ...],
    budget: Budget,
    *,
    device: str | None,
) -> Retried:
    """The proof as it is, then what stands of it when read anew, then search and frames."""
    assert claim.certificate is not None
    if _stands(circuit, claim, claim.certificate, budget):
        return Retried(device, "holds")
    prop = circuit.properties[claim.property]
    try:
        left = kept(circuit, prop, clauses, _at_most(budget, KEEPING_UNITS))
    except OutOfBudget as stop:
        return Retried(device, "undecided", _reason(stop.why))
    if left.invariant is not None and _stands(circuit, claim, left.invariant, budget):
        return Retried(device, "holds")
    hunt = Search(circuit, prop, _at_most(budget, UNITS), left.known)
    outcome = hunt.deepen(budget.steps, units=SEARCH_UNITS)
    if outcome.sequence is not None:
        return _told(circuit, prop, outcome, device)
    found = prove(circuit, claim.property, _at_most(budget, UNITS))
    found = certified(circuit, found, max(CHECKING, budget.remaining))
    return Retried(device, found.word, found.reason, found.detail, found.depth, found.sequence)


def _at_most(budget: Budget, units: int) -> Budget:
    return replace(budget, resource=min(budget.resource, units))


def _reason(why: str) -> Reason:
    known: tuple[Reason, ...] = ("time limit", "solver limit", "interrupted")
    return next((reason for reason in known if reason == why), "solver failed")


def _told(circuit: Circuit, prop: Property, outcome: Outcome, device: str | None) -> Retried:
    """The answer that a sequence gives, once the solver-free account has followed it."""
    run = outcome.sequence
    assert run is not None
    replay = Behaviour(circuit).replay(prop, run.start, run.steps)
    if not replay.accepted or replay.decided != len(run.steps) - 1:
        said = f"the two accounts part on its sequence: {replay.start} {replay.steps}"
        return Retried(device, "undecided", "defect", said)
    if isinstance(prop.sentence, TIMED):
        return Retried(device, "undecided", "needs sizes", None, outcome.steps, run)
    return Retried(device, "breached", None, None, outcome.steps, run)


def _stands(circuit: Circuit, claim: Verdict, invariant: Invariant, budget: Budget) -> bool:
    """A fresh solver discharges the invariant over this circuit; it need not."""
    duties = obligations(circuit, circuit.properties[claim.property], invariant)
    answers = {answer.duty: answer.answer for answer in discharge(duties, budget.remaining)}
    return answers == dict.fromkeys(DUTIES, "unsat")


def _readings(invariant: Invariant, device: str) -> Iterator[Clause]:
    """What its clauses may mean now that the device can be on its way.

    A literal on its position spoke of a device at rest; it speaks now of where
    the device is bound for.  A clause may stand only at rest, only on the way,
    or with `at rest there` for `there`.
    """
    moving, resting = (Literal(Bit(f"way {device}"), so) for so in (True, False))
    yield moving, Literal(Bit(f"aged {device}"), so=False)
    for clause in invariant.clauses:
        others = tuple(literal for literal in clause if not _places(literal, device))
        yield from (clause, (*clause, moving), (*clause, resting))
        if others != clause:
            yield (*others, resting)


def _places(literal: Literal, device: str) -> bool:
    key = literal.rung.key if isinstance(literal.rung, Bit) else ""
    return key == f"position {device}" or key.startswith(f"position {device} ")
