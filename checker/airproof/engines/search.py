"""Bounded search, shortest first: finds a breach, or says how deep there is none.

A sequence found is only a candidate until `replayed` has taken it through the
solver-free account of the meaning.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass, replace

import z3

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.engines.budget import Budget
from airproof.engines.rounding import Candidate, rounded
from airproof.engines.unrolling import Answer, Effort, Unrolling
from airproof.evidence.sequence import Sequence
from airproof.transition.encode import encode
from airproof.transition.landmarks import landmarks

EXTRA_STEPS = 6  # elapse steps beyond the fewest in which a shorter length is still looked for
POLISH_SECONDS = 3.0  # spent on fewer control moves and rounder numbers, never on the verdict


@dataclass(frozen=True, slots=True)
class Outcome:
    """`sequence` if one was found; else how many steps were searched through, and why it stopped.

    steps: no sequence of up to this many steps (switch and elapse) exists
    """

    sequence: Sequence | None
    steps: int
    why: str
    effort: Effort


def run(circuit: Circuit, prop: Property, budget: Budget) -> Outcome:
    """Searches for the shortest sequence that breaches the property (or reaches its goal).

    before: nothing is known.  after: the sequence's length is the least among
    sequences of at most EXTRA_STEPS more steps than the fewest possible; a
    circuit without landmarks has no shorter one at all.
    """
    system = encode(circuit, prop, z3.Context())
    unrolling = Unrolling(system)
    answer = unrolling.check(budget)
    if answer.word != "sat":
        return Outcome(None, 0, _stopped(answer, "no start"), unrolling.effort)
    found = _deepen(unrolling, prop, budget)
    if found.word != "sat":
        done = unrolling.steps - (found.word == "unknown")
        return Outcome(None, done, _stopped(found, "deepest"), unrolling.effort)
    fewest = unrolling.steps
    find = Find(fewest, unrolling.solver.model())
    polish = replace(budget, seconds=budget.seconds - budget.remaining + POLISH_SECONDS)
    if landmarks(circuit, prop.sentence):
        find = _shorten(unrolling, find, polish)
    find = _calm(unrolling, find, polish)
    candidate = Candidate(circuit, unrolling, find.steps, find.model)
    return Outcome(rounded(candidate, prop, polish), fewest - 1, "", unrolling.effort)


def _stopped(answer: Answer, otherwise: str) -> str:
    return answer.why if answer.word == "unknown" else otherwise


def _deepen(unrolling: Unrolling, prop: Property, budget: Budget) -> Answer:
    """One step more at a time until a breach, the deepest step, or the end of the budget."""
    answer = Answer("unsat")
    while unrolling.steps < budget.steps and answer.word == "unsat":
        unrolling.extend()
        if budget.progress:
            budget.progress(prop.name, unrolling.steps)
        breached = unrolling.breached(unrolling.steps)
        answer = unrolling.check(budget, breached)
        if answer.word == "unsat":
            unrolling.solver.add(z3.Not(breached))
    return answer


@dataclass(frozen=True, slots=True)
class Find:
    """A model in which the property is breached by state `steps`."""

    steps: int
    model: z3.ModelRef

    def count(self, literals: Iterable[z3.BoolRef]) -> int:
        return sum(z3.is_true(self.model.eval(x, model_completion=True)) for x in literals)


def _costs(unrolling: Unrolling, steps: int) -> list[z3.BoolRef]:
    """One literal per step that adds to the length: a switch step, or a stretch's first step."""
    switches = unrolling.switches[:steps]
    later = [z3.And(z3.Not(now), before) for before, now in itertools.pairwise(switches)]
    return [*switches, z3.Not(switches[0]), *later]


def _moves(unrolling: Unrolling, steps: int) -> list[z3.BoolRef]:
    """One literal per control and step: the control moves in it."""
    return [
        unrolling.between(moved, i)
        for i in range(steps)
        for moved in unrolling.system.control_moves
    ]


def _better(
    unrolling: Unrolling, budget: Budget, steps: int, *limits: tuple[list[z3.BoolRef], int]
) -> Find | None:
    """A breach by state `steps` within the limits on how many of some literals are true."""
    with unrolling.scope():
        unrolling.solver.add(unrolling.breached(steps))
        for literals, most in limits:
            unrolling.solver.add(z3.PbLe([(x, 1) for x in literals], most))
        answer = unrolling.check(budget)
        return Find(steps, unrolling.solver.model()) if answer.word == "sat" else None


def _shorten(unrolling: Unrolling, find: Find, budget: Budget) -> Find:
    """Looks for a smaller length, allowing more elapse steps in a stretch."""
    fewest, best = find.steps, find
    length = find.count(_costs(unrolling, find.steps))
    for steps in range(fewest, fewest + EXTRA_STEPS + 1):
        while unrolling.steps < steps:
            unrolling.extend()
        costs = _costs(unrolling, steps)
        while length > 1 and (shorter := _better(unrolling, budget, steps, (costs, length - 1))):
            best, length = shorter, shorter.count(costs)
    return best


def _calm(unrolling: Unrolling, find: Find, budget: Budget) -> Find:
    """The fewest control moves at the same length."""
    costs, moves = _costs(unrolling, find.steps), _moves(unrolling, find.steps)
    length, best = find.count(costs), find
    while (most := best.count(moves)) > 0:
        calmer = _better(unrolling, budget, find.steps, (costs, length), (moves, most - 1))
        if calmer is None:
            break
        best = calmer
    return best
