"""What one worker does: examine the circuit's health or reach, or prove one property."""

from __future__ import annotations

from dataclasses import dataclass, replace

from airproof.circuit.kinds import Circuit
from airproof.cli.workers import Tell
from airproof.evidence.health import Finding
from airproof.evidence.verdict import Verdict

CHECKING = 5.0  # [s] a fresh solver has for a certificate whose search used up the limit
HEALTH = ""  # the key of the health job; no property is named so
REACH = "-"  # the key of the job that looks for what is never reached


@dataclass(frozen=True, slots=True)
class Task:
    """The data of one job; `key` is a property's name or HEALTH."""

    circuit: Circuit
    key: str
    seconds: float
    steps: int | None


def work(task: Task, tell: Tell) -> Verdict | tuple[Finding, ...]:
    """One job, done in its own process: imports the engines there and nowhere else."""
    from airproof.certify.check import certified
    from airproof.engines.budget import Budget
    from airproof.engines.health import examine, unreached
    from airproof.engines.strategy import prove

    budget = Budget(seconds=task.seconds, progress=lambda _, depth: tell(depth))
    if task.steps is not None:
        budget = replace(budget, steps=task.steps)
    if task.key == HEALTH:
        return examine(task.circuit, budget)
    if task.key == REACH:
        return unreached(task.circuit, budget)
    claim = prove(task.circuit, task.key, budget)
    return certified(task.circuit, claim, max(CHECKING, budget.remaining))
