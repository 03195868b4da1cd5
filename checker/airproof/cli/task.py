"""What one worker does: each kind of job, with the data it needs."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from airproof.circuit.kinds import Circuit
from airproof.cli.workers import Tell
from airproof.evidence.certificate import Invariant
from airproof.evidence.given import Given, Led
from airproof.evidence.verdict import Retried, Verdict

if TYPE_CHECKING:
    from airproof.engines.budget import Budget

CHECKING = 5.0  # [s] a fresh solver has for a certificate whose search used up the limit
HEALTH = ""  # the key of the health job; no property is named so
REACH = "-"  # the key of the job that looks for what is never reached


@dataclass(frozen=True, slots=True)
class Task:
    """Examine the circuit's health or reach, or prove one property, by its `key`.

    known: what all runs from the property's start have in common, if that was found
    led: the run that it may be gone on from, if that is known
    """

    circuit: Circuit
    key: str
    seconds: float
    steps: int | None
    known: Given | None = None
    led: Led | None = None


@dataclass(frozen=True, slots=True)
class Prime:
    """Find what is known of all runs from one start, for all its properties."""

    circuit: Circuit
    start: str | None
    seconds: float


@dataclass(frozen=True, slots=True)
class Confront:
    """Hold the invariants of properties with the same start against some random runs."""

    circuit: Circuit
    claims: Mapping[str, Invariant]
    runs: int
    seed: int
    seconds: float


@dataclass(frozen=True, slots=True)
class Confronted:
    """How many runs there were, whether the limit cut the rest off, and what was found.

    faults: how a run leaves the invariant of a property, by the property's name
    """

    runs: int
    cut: bool = False
    faults: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Explain:
    """Bring a proof down to what it needs, and find what it leans on."""

    circuit: Circuit
    claim: Verdict


@dataclass(frozen=True, slots=True)
class Retry:
    """Ask again about a property that holds: with a slow device or (None) even for an instant."""

    circuit: Circuit
    claim: Verdict
    device: str | None
    seconds: float
    steps: int | None


@dataclass(frozen=True, slots=True)
class Again:
    """The answer to a Retry, and the seconds it took."""

    answer: Retried
    seconds: float


AnyTask = Task | Prime | Confront | Explain | Retry


def work(task: AnyTask, tell: Tell) -> Any:
    """One job, done in a process of its own: imports the engines there and nowhere else.

    Findings, a Verdict, Given, Confronted or Again, as the task asks.
    """
    match task:
        case Task(key=key) if key in (HEALTH, REACH):
            return _examined(task, tell)
        case Task():
            return _judged(task, tell)
        case Prime():
            return _primed(task)
        case Confront():
            return _confronted(task)
        case Explain():
            return _explained(task)
        case Retry():
            return _again(task, tell)


def _budget(task: Task | Retry, tell: Tell) -> Budget:
    from airproof.engines.budget import Budget

    budget = Budget(seconds=task.seconds, progress=lambda _, depth: tell(depth))
    return budget if task.steps is None else replace(budget, steps=task.steps)


def _examined(task: Task, tell: Tell) -> Any:
    from airproof.engines.health import examine, unreached

    budget = _budget(task, tell)
    return (examine if task.key == HEALTH else unreached)(task.circuit, budget)


def _judged(task: Task, tell: Tell) -> Verdict:
    from airproof.certify.check import certified
    from airproof.engines.budget import FARTHEST
    from airproof.engines.strategy import prove

    budget = _budget(task, tell)
    if task.steps is None:
        budget = replace(budget, farthest=FARTHEST)
    claim = prove(task.circuit, task.key, budget, task.known, task.led)
    return certified(task.circuit, claim, max(CHECKING, budget.remaining))


def _primed(task: Prime) -> Given:
    from airproof.engines.budget import Budget
    from airproof.engines.given import given

    return given(task.circuit, task.start, Budget(seconds=task.seconds))


def _confronted(task: Confront) -> Confronted:
    from airproof.certify.confront import confronted

    met = confronted(task.circuit, task.claims, task.runs, task.seed, task.seconds)
    faults = {one.property: _fault(one.fault, len(one.run.steps)) for one in met.found}
    return Confronted(met.runs, met.runs < task.runs, faults)


def _fault(fault: str, steps: int) -> str:
    said = {
        "outside": "leaves the proof's invariant",
        "breached": "breaches what was proved",
        "refused": "is none of the circuit's",
        "parted": "is judged differently by two accounts of the meaning",
    }
    return f"a random run of {steps} steps {said[fault]}"


def _explained(task: Explain) -> Verdict:
    from airproof.certify.check import certified
    from airproof.certify.leaning import explained

    smaller = certified(task.circuit, explained(task.circuit, task.claim), CHECKING)
    return smaller if smaller.reason in (None, "defect") else task.claim


def _again(task: Retry, tell: Tell) -> Again:
    from airproof.analyses.slowing import in_an_instant, with_slow

    budget = _budget(task, tell)
    if task.device is None:
        answer = in_an_instant(task.circuit, task.claim, budget)
    else:
        answer = with_slow(task.circuit, task.claim, task.device, budget)
    return Again(answer, time.monotonic() - budget.began)
