"""Turns a model into a sequence with as few changes and as round numbers as it allows."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain, pairwise

import z3

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import TIMED, Property
from airproof.circuit.state import Step
from airproof.engines.budget import Budget
from airproof.engines.unrolling import Unrolling, valuation
from airproof.evidence.sequence import Sequence
from airproof.transition.decode import state_of
from airproof.transition.layout import number, value_names
from airproof.transition.terms import any_of, equal, implies, negation

GRAINS = tuple(Fraction(1, n) for n in (1, 2, 10, 20, 100))


@dataclass(frozen=True, slots=True)
class Candidate:
    """The first `steps` steps of an unrolling under one model."""

    circuit: Circuit
    unrolling: Unrolling
    steps: int
    model: z3.ModelRef


def rounded(
    found: Candidate,
    prop: Property,
    budget: Budget,
    *,
    settled: int | None = None,
    still: frozenset[str] = frozenset(),
) -> Sequence:
    """The sequence of the model, its positions and order of moves kept.

    Every value is first asked to stay as it was, then to be a rounder number;
    what the steps do not allow, or the budget cuts off, keeps the model's value.
    settled: so many first steps (0: the start alone) keep the model's values, but for how
             long they last
    still: keys of values that are as in the model all along; what is no value is so anyway
    """
    timed = isinstance(prop.sentence, TIMED)
    numbers = _pinned(found, budget, settled, still, timed=timed)
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


def _pinned(
    found: Candidate, budget: Budget, settled: int | None, still: frozenset[str], *, timed: bool
) -> z3.ModelRef:
    """A model with the same booleans and rounder numbers; how long steps last only if `timed`.

    The found one itself where no time is left.
    """
    if budget.remaining <= 0:
        return found.model
    states, flows, lasted = _numbers(found, lambda key: key not in still)
    done = settled or 0
    known = [*chain(*(states[: done + 1] if settled is not None else ()), *flows[:done])]
    known += chain(*_numbers(found, lambda key: key in still)[0])
    solver = found.unrolling.numbers_only(found.model, found.steps, known)
    solver.set("timeout", 1000)
    solver.add(*_as_in(found.model, known))
    if settled is None:
        _show(solver, found.model, [*chain(*states, *flows, lasted)])
    changed = [] if settled is not None else list(states[0])
    for was, now in pairwise(states[done:]):
        changed += _changed(solver, was, now)
    if solver.check() != z3.sat:
        return found.model
    model = solver.model()
    for terms in (changed, [*chain(*flows[done:])], lasted if timed else []):
        for term in _loose(solver, model, terms):
            if budget.remaining <= 0:
                return model
            model = _settle(solver, model, term)
    return model


def _show(solver: z3.Solver, model: z3.ModelRef, terms: list[z3.ArithRef]) -> None:
    """Has the solver see the model, near which it then begins to look for others."""
    solver.push()
    solver.add(*_as_in(model, terms))
    solver.check()
    solver.pop()


def _as_in(model: z3.ModelRef, terms: Iterable[z3.ArithRef]) -> Iterator[z3.BoolRef]:
    return (equal(term, model.eval(term, model_completion=True)) for term in terms)


def _numbers(
    found: Candidate, wanted: Callable[[str], bool]
) -> tuple[list[list[z3.ArithRef]], list[list[z3.ArithRef]], list[z3.ArithRef]]:
    """The wanted values of each state, what flows in each step, and how long each step lasts."""
    names = [key for name in value_names(found.circuit) if wanted(key := f"value {name}")]
    inputs = found.unrolling.inputs[: found.steps]
    return (
        [[terms[name] for name in names] for terms in found.unrolling.states[: found.steps + 1]],
        [[term for key, term in one.items() if key != "duration"] for one in inputs],
        [one["duration"] for one in inputs],
    )


def _changed(
    solver: z3.Solver, was: list[z3.ArithRef], now: list[z3.ArithRef]
) -> list[z3.ArithRef]:
    """Has as many numbers as can be stay as they were; those that cannot."""
    stays = [z3.FreshBool("stays", solver.ctx) for _ in now]
    pairs = zip(stays, was, now, strict=True)
    solver.add(*(implies(mark, equal(a, b)) for mark, a, b in pairs))
    left = dict(zip([mark.get_id() for mark in stays], stays, strict=True))
    while left and (answer := solver.check(*left.values())) != z3.sat:
        core = [mark.get_id() for mark in solver.unsat_core()]
        if answer == z3.unknown or not core:
            return now
        del left[core[0]]
    solver.add(*left.values())
    return [term for mark, term in zip(stays, now, strict=True) if mark.get_id() not in left]


def _loose(solver: z3.Solver, model: z3.ModelRef, terms: list[z3.ArithRef]) -> list[z3.ArithRef]:
    """Those that are not round and may have other values than the model's, in their order."""
    values = {t.get_id(): model.eval(t, model_completion=True) for t in terms}
    fixed = [t for t in terms if values[t.get_id()].as_fraction().denominator > 1]
    loose = set[int]()
    same = {t.get_id(): equal(t, values[t.get_id()]) for t in fixed}
    while fixed and solver.check(any_of(negation(same[t.get_id()]) for t in fixed)) == z3.sat:
        other = solver.model()
        moved = {t.get_id() for t in fixed if z3.is_false(other.eval(same[t.get_id()]))}
        loose |= moved
        fixed = [t for t in fixed if t.get_id() not in moved]
    return [t for t in terms if t.get_id() in loose]


def _settle(solver: z3.Solver, model: z3.ModelRef, term: z3.ArithRef) -> z3.ModelRef:
    """Pins one number to the roundest that the steps allow."""
    now = model.eval(term, model_completion=True).as_fraction()
    for value in _roundest(now):
        so = equal(term, number(solver.ctx, value))
        if value == now or solver.check(so) == z3.sat:
            model = model if value == now else solver.model()
            solver.add(so)
            break
    return model


def _roundest(value: Fraction) -> Iterable[Fraction]:
    return dict.fromkeys(rounder(value))


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
