"""Turns a model into a sequence with as few changes and as round numbers as it allows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

import z3

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import TIMED, Property
from airproof.circuit.state import Step
from airproof.engines.budget import Budget
from airproof.engines.unrolling import Terms, Unrolling, valuation
from airproof.evidence.sequence import Sequence
from airproof.transition.decode import state_of
from airproof.transition.layout import number, value_names

GRAINS = tuple(Fraction(1, n) for n in (1, 2, 10, 20, 100))


@dataclass(frozen=True, slots=True)
class Candidate:
    """The first `steps` steps of an unrolling under one model."""

    circuit: Circuit
    unrolling: Unrolling
    steps: int
    model: z3.ModelRef


def rounded(found: Candidate, prop: Property, budget: Budget) -> Sequence:
    """The sequence of the model, its positions and order of moves kept.

    Every value is first asked to stay as it was, then to be a rounder number;
    what the steps do not allow, or the budget cuts off, keeps the model's value.
    """
    timed = isinstance(prop.sentence, TIMED)
    numbers = _pinned(found, budget, timed=timed)
    states = found.unrolling.states[: found.steps + 1]
    first, *later = (
        state_of(found.circuit, valuation(found.model, numbers, terms)) for terms in states
    )
    kinds = [
        "switch" if z3.is_true(found.model.eval(x, model_completion=True)) else "elapse"
        for x in found.unrolling.switches[: found.steps]
    ]
    steps = []
    for i, (kind, after) in enumerate(zip(kinds, later, strict=True)):
        if kind == "switch":
            steps.append(Step("switch", after, {}, Fraction(0)))
            continue
        inputs = valuation(found.model, numbers, found.unrolling.inputs[i])
        lasted = Fraction(inputs["duration"]) if timed else None
        steps.append(Step("elapse", after, _amounts(inputs), lasted))
    return Sequence(first, tuple(steps))


def _amounts(inputs: dict[str, bool | Fraction]) -> dict[str, Fraction]:
    return {
        key.removeprefix("amount "): Fraction(value)
        for key, value in inputs.items()
        if key.startswith("amount ") and value != 0
    }


def _pinned(found: Candidate, budget: Budget, *, timed: bool) -> z3.ModelRef:
    """A model with the same booleans and rounder numbers; how long steps last only if `timed`."""
    solver = found.unrolling.numbers_only(found.model, found.steps)
    solver.set("timeout", 1000)
    if solver.check() != z3.sat:
        return found.model
    model = solver.model()
    for term, before in _numbers(found, timed=timed):
        if budget.remaining <= 0:
            return found.model
        model = _settle(solver, model, term, before)
    return model


def _numbers(found: Candidate, *, timed: bool) -> Iterator[tuple[z3.ArithRef, z3.ArithRef | None]]:
    """Each number with the one it had before, start first; then amounts and durations."""
    names = [f"value {name}" for name in value_names(found.circuit)]
    previous: Terms = {}
    for terms in found.unrolling.states[: found.steps + 1]:
        yield from ((terms[key], previous.get(key)) for key in names)
        previous = terms
    for inputs in found.unrolling.inputs[: found.steps]:
        yield from ((term, None) for key, term in inputs.items() if timed or key != "duration")


def _settle(
    solver: z3.Solver, model: z3.ModelRef, term: z3.ArithRef, before: z3.ArithRef | None
) -> z3.ModelRef:
    """Pins one number to the first candidate that the steps allow."""
    now = model.eval(term, model_completion=True).as_fraction()
    wanted = dict.fromkeys(rounder(now))
    if before is not None:
        wanted = {model.eval(before, model_completion=True).as_fraction(): None, **wanted}
    for value in wanted:
        equal = term == number(solver.ctx, value)
        if value == now:
            solver.add(equal)
            return model
        solver.push()
        solver.add(equal)
        if solver.check() == z3.sat:
            return solver.model()
        solver.pop()
    return model


def rounder(value: Fraction) -> Iterator[Fraction]:
    """Round numbers near the value, the roundest first; the value itself last.

    >>> [str(x) for x in rounder(Fraction(27, 8))][:4]
    ['3', '4', '7/2', '3']
    """
    for grain in GRAINS:
        low = (value // grain) * grain
        near = (low, low + grain) if value - low <= grain / 2 else (low + grain, low)
        yield from (near if value != low else (low,))
    yield value
