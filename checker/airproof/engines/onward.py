"""Going on from a run that is known, to one that breaches a property.

For a property with a time in it no sequence decides anything before sizes do,
so the shortest is not worth its price; a run that already has the circuit at
work is then mostly a few steps away from a breach.  Nothing is claimed but
the sequence, and that is replayed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

import z3

from airproof.circuit.cone import outside
from airproof.circuit.kinds import Circuit
from airproof.circuit.landmarks import Mark, landmarks
from airproof.circuit.properties import Property
from airproof.circuit.readings import value_of
from airproof.circuit.state import State
from airproof.engines.budget import Budget
from airproof.engines.search import Find, Known, Outcome, Search
from airproof.engines.unrolling import Terms, Unrolling
from airproof.evidence.sequence import Sequence
from airproof.transition.decode import Valuation, valuation_of
from airproof.transition.layout import number, value_names

FARTHER = 8  # steps beyond the known run
UNITS = 4_000_000  # solver units for all of them

NOTHING, ALL = Fraction(0), Fraction(1)


@dataclass(frozen=True, slots=True)
class _Pin:
    """One step of the known run: its kind, what is so after it, what flowed in it."""

    switch: bool
    after: Valuation
    amounts: Valuation


def onward(
    circuit: Circuit, prop: Property, known: Known, run: Sequence, budget: Budget
) -> Outcome | None:
    """A breach within the run or soon after it; None if none was found.

    circuit: the one that `known` is of; the run may be of one that has more in it
    after: the sequence found need not be the shortest.
    """
    pins = tuple(_pins(circuit, prop, run))
    farthest = min(budget.steps, len(pins) + FARTHER)
    if len(pins) > farthest:
        return None
    hunt = Search(circuit, prop, replace(budget, resource=min(budget.resource, UNITS)), known)
    states = _state(circuit, run.start)
    _pin(hunt, 0, states)
    for i, pin in enumerate(pins):
        hunt.extend()
        unrolled = hunt.unrolling
        unrolled.solver.add(unrolled.switches[i] == pin.switch)
        _pin(hunt, i + 1, pin.after)
        _same(hunt, unrolled.inputs[i], pin.amounts)
    return _breach(hunt, len(pins), farthest)


def _breach(hunt: Search, settled: int, farthest: int) -> Outcome | None:
    unrolled = hunt.unrolling
    while True:
        breached = unrolled.breached(unrolled.steps)
        answer = unrolled.check(hunt.budget, breached)
        if answer.word == "sat":
            return hunt.polished(_first(unrolled), settled=settled)
        if answer.word == "unknown" or unrolled.steps >= farthest:
            return None
        unrolled.solver.add(z3.Not(breached))
        hunt.extend()


def _first(run: Unrolling) -> Find:
    """The model's first breach; it may be long before its last state."""
    find = Find(run.steps, run.model())
    steps = next(i for i in range(run.steps + 1) if find.count([run.breached(i)]))
    return replace(find, steps=steps)


def _pins(circuit: Circuit, prop: Property, run: Sequence) -> Iterator[_Pin]:
    """The run's steps, those of time cut where the property has a landmark."""
    marks = landmarks(circuit, prop.sentence)
    for before, step in run.pairs():
        after = _state(circuit, step.after)
        if step.kind == "switch":
            yield _Pin(True, after, {})
            continue
        ends = _values(circuit, before), _values(circuit, step.after)
        behind = NOTHING
        for share in (*_cuts(ends, marks), ALL):
            amounts = {f"amount {n}": (share - behind) * a for n, a in step.amounts.items()}
            between = {f"value {n}": v + share * (ends[1][n] - v) for n, v in ends[0].items()}
            yield _Pin(False, after if share == ALL else between, amounts)
            behind = share


def _cuts(
    ends: tuple[Mapping[str, Fraction], Mapping[str, Fraction]], marks: Iterable[Mark]
) -> list[Fraction]:
    """How far the step has come where it meets each landmark that it crosses, in order."""
    found = set[Fraction]()
    for form, constant in marks:
        now, then = (value_of(form, values) for values in ends)
        if now < constant < then or then < constant < now:
            found.add((constant - now) / (then - now))
    return sorted(found)


def _values(circuit: Circuit, state: State) -> dict[str, Fraction]:
    return {name: state.values[name] for name in value_names(circuit)}


def _state(circuit: Circuit, state: State) -> Valuation:
    """All of the state that the circuit has."""
    somewhere = {name: places[0] for name, places in circuit.positions.items()}
    state = replace(state, positions={**somewhere, **state.positions})
    return {k: v for k, v in valuation_of(circuit, state).items() if not outside(k)}


def _pin(hunt: Search, i: int, values: Valuation) -> None:
    _same(hunt, hunt.unrolling.states[i], values)


def _same(hunt: Search, terms: Terms, values: Valuation) -> None:
    context = hunt.unrolling.system.context
    for key, value in values.items():
        if isinstance(value, bool):
            hunt.unrolling.solver.add(terms[key] if value else z3.Not(terms[key]))
        else:
            hunt.unrolling.solver.add(terms[key] == number(context, value))
