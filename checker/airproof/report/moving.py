"""What moves in a step of time, also where no reading has changed yet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from airproof.circuit.conditions import Flowing
from airproof.circuit.kinds import Circuit, Quantity
from airproof.circuit.readings import Inner
from airproof.circuit.state import State, Step
from airproof.circuit.tables import tables_of

Directions = Mapping[str, int]  # +1: from source to target, or upwards; -1: the other way


def air_moving(circuit: Circuit, before: State, step: Step) -> Directions:
    """Each flow through which air surely moves in the step; none in a switch step.

    The step's amounts say so; a flow of which they say nothing counts if it is
    flowing however its condition is read.  Air that only goes round between two
    places of equal pressure does not count.
    """
    if step.kind == "switch":
        return {}
    inner = Inner(tables_of(circuit), before, step.after)
    net = _net_at_rest(inner, step)
    found = {name: _way(inner, name, step.amounts.get(name)) for name in circuit.flows}
    circling = {name for name, sums in net.items() if found[name] * sums <= 0}
    return {name: way for name, way in found.items() if way and name not in circling}


def _net_at_rest(inner: Inner, step: Step) -> Mapping[str, Fraction]:
    """For each flow between two places of equal pressure, what goes its way in all between them."""
    flows = inner.tables.circuit.flows
    ends = {n: (f.source, f.target) for n, f in flows.items() if not any(inner.gaps(f))}
    sums: dict[tuple[str, str], Fraction] = {}
    for name, (source, target) in ends.items():
        amount = step.amounts.get(name, Fraction(0))
        sums[source, target] = sums.get((source, target), Fraction(0)) + amount
        sums[target, source] = sums.get((target, source), Fraction(0)) - amount
    return {name: sums[pair] for name, pair in ends.items()}


def _way(inner: Inner, name: str, amount: Fraction | None) -> int:
    if amount:
        return 1 if amount > 0 else -1
    if not inner.judged(Flowing(name))[1]:
        return 0
    return 1 if max(inner.gaps(inner.tables.circuit.flows[name])) > 0 else -1


def quantities_moving(circuit: Circuit, before: State, step: Step) -> Directions:
    """Each quantity that surely rises or falls in the step."""
    if step.kind == "switch":
        return {}
    inner = Inner(tables_of(circuit), before, step.after)
    found = {name: _trend(inner, one) for name, one in circuit.quantities.items()}
    return {name: way for name, way in found.items() if way}


def _trend(inner: Inner, quantity: Quantity) -> int:
    """The sign of the sum of the speeds that apply; 0 if it may be 0 or either."""
    low, high = (sum(speeds, Fraction(0)) for speeds in zip(*_speeds(inner, quantity), strict=True))
    return (low > 0) - (high < 0)


def _speeds(inner: Inner, quantity: Quantity) -> Iterator[tuple[Fraction, Fraction]]:
    """The least and greatest speed of each change, with 0 where it may not apply."""
    yield Fraction(0), Fraction(0)
    for change in quantity.changes:
        may, must = inner.passing(change.condition)
        if must:
            yield change.speed.low, change.speed.high
        elif may:
            yield min(Fraction(0), change.speed.low), max(Fraction(0), change.speed.high)
