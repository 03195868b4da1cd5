"""Settings that a flow can only approach: the pressure of what feeds or empties a volume.

A volume never rises above the highest of its start and of the places that lead
into it, nor falls below the lowest of its start and of the places it leads to.
Where such a bound comes through a choke, the air comes ever nearer to it; a
comparison with exactly that number waits for something that may never happen.
Air of no stated restriction may get there at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from airproof.circuit.conditions import (
    OPPOSITE,
    AllOf,
    AnyOf,
    Compare,
    Condition,
    Not,
    Order,
)
from airproof.circuit.kinds import ATMOSPHERE, Band, Choke, Conductance, Flow
from airproof.circuit.properties import Possible
from airproof.language.draft import Draft
from airproof.language.names import Problems
from airproof.language.ranges import plain, supply_ranges

Bounds = dict[str, tuple[Fraction, bool]]  # a bound, and whether the air gets there


@dataclass(frozen=True, slots=True)
class _Way:
    """Air from one place to another once it is `opening` above, and what the condition caps.

    ceiling: the target's pressure beyond which the way is shut, None = never
    floor:   the source's pressure below which the way is shut, None = never
    choked:  it only nears equality
    """

    source: str
    target: str
    opening: Fraction
    ceiling: Fraction | None
    floor: Fraction | None
    choked: bool


def check_ceilings(draft: Draft, problems: Problems) -> None:
    """No device and no `possible` waits for a pressure that is only approached."""
    ways = [way for flow in draft.flows.values() for way in _ways(flow)]
    starts = {name: volume.starts for name, volume in draft.volumes.items()}
    anywhere = _reach(draft, ways, _widened(draft, starts))
    for name, device in draft.devices.items():
        for move in device.moves:
            _check(draft, problems, _Asked(name, move.when, "setting"), anywhere)
    from_start: dict[str | None, _Reach] = {}
    for name, one in draft.properties.items():
        if isinstance(one.sentence, Possible):
            if one.start not in from_start:
                begins = _from(draft, starts, one.start)
                from_start[one.start] = _reach(draft, ways, begins)
            asked = _Asked(name, one.sentence.goal, "goal")
            _check(draft, problems, asked, from_start[one.start])


@dataclass(frozen=True, slots=True)
class _Asked:
    """Who waits for a condition."""

    name: str
    condition: Condition
    kind: str


@dataclass(frozen=True, slots=True)
class _Reach:
    """Where volumes start, and the bounds of every place."""

    starts: Mapping[str, Band]
    highest: Bounds
    lowest: Bounds


def _reach(draft: Draft, ways: list[_Way], starts: Mapping[str, Band]) -> _Reach:
    return _Reach(starts, _highest(draft, ways, starts), _lowest(draft, ways, starts))


def _widened(draft: Draft, starts: Mapping[str, Band]) -> dict[str, Band]:
    """The starts, and whatever any standing state pins."""
    bands = dict(starts)
    for standing in draft.standings.values():
        for name, value in standing.values.items():
            if name in bands:
                bands[name] = Band(min(bands[name].low, value), max(bands[name].high, value))
    return bands


def _from(draft: Draft, starts: Mapping[str, Band], state: str | None) -> dict[str, Band]:
    values = draft.standings[state].values if state else {}
    return {n: Band(values[n], values[n]) if n in values else band for n, band in starts.items()}


def _ways(flow: Flow) -> Iterator[_Way]:
    ends = [(flow.source, flow.target)]
    if not flow.one_way:
        ends.append((flow.target, flow.source))
    for source, target in ends:
        ceiling = _edge(flow.condition, target, ("<", "<="))
        floor = _edge(flow.condition, source, (">", ">="))
        choked = isinstance(flow.restriction, Choke | Conductance)
        yield _Way(source, target, flow.opening, ceiling, floor, choked)


def _edge(condition: Condition, name: str, orders: tuple[Order, Order]) -> Fraction | None:
    """The widest edge of a comparison of the named pressure that the condition insists on."""
    parts = condition.parts if isinstance(condition, AllOf) else (condition,)
    for part in parts:
        if isinstance(part, Compare) and part.form.names == (name,) and part.order in orders:
            upward = part.order in ("<", "<=")
            return part.constant + (part.tolerance if upward else -part.tolerance)
    return None


def _check(draft: Draft, problems: Problems, asked: _Asked, reach: _Reach) -> None:
    leaves = [leaf for leaf in _wanted(asked.condition, True) if leaf.form.names[0] in reach.starts]
    for leaf in leaves:
        name, upward = leaf.form.names[0], leaf.order in (">=", ">")
        bound, reached = reach.highest[name] if upward else reach.lowest[name]
        starts = reach.starts[name].high if upward else reach.starts[name].low
        begins = asked.kind == "goal" and starts == bound
        if leaf.constant == bound and not reached and not begins:
            code = f"{asked.kind}_only_{'neared' if upward else 'sunk_to'}"
            data = {"name": asked.name, "volume": name, "value": plain(bound)}
            problems.add(code, draft.spans[asked.name], **data)


def _wanted(condition: Condition, positive: bool) -> Iterator[Compare]:
    """Comparisons of one name without tolerance, as they must come true."""
    match condition:
        case Not(part=part):
            yield from _wanted(part, not positive)
        case AllOf(parts=parts) | AnyOf(parts=parts):
            for part in parts:
                yield from _wanted(part, positive)
        case Compare(form=form, order=order, constant=constant, tolerance=tolerance):
            if len(form.terms) == 1 and tolerance == 0:
                yield Compare(form, order if positive else OPPOSITE[order], constant)
        case _:
            return


def _highest(draft: Draft, ways: list[_Way], starts: Mapping[str, Band]) -> Bounds:
    """The highest pressure of every place: a least fixed point over the ways."""
    bounds, before = _fixed(draft, starts, True), None
    while bounds != before:
        before = dict(bounds)
        for way in ways:
            if way.target in starts:
                top, reached = bounds[way.source]
                there = (top - way.opening, reached and not way.choked)
                if way.ceiling is not None and way.ceiling < there[0]:
                    there = (way.ceiling, True)
                bounds[way.target] = max(bounds[way.target], there)
    return bounds


def _lowest(draft: Draft, ways: list[_Way], starts: Mapping[str, Band]) -> Bounds:
    """The lowest pressure of every place: a greatest fixed point over the ways."""
    bounds, before = _fixed(draft, starts, False), None
    while bounds != before:
        before = dict(bounds)
        for way in ways:
            if way.source in starts:
                bottom, reached = bounds[way.target]
                there = (bottom + way.opening, reached and not way.choked)
                if way.floor is not None and way.floor > there[0]:
                    there = (way.floor, True)
                bounds[way.source] = min(bounds[way.source], there, key=_lower)
    return bounds


def _lower(bound: tuple[Fraction, bool]) -> tuple[Fraction, bool]:
    """Lower first, and of two equal ones the one that is reached."""
    return (bound[0], not bound[1])


def _fixed(draft: Draft, starts: Mapping[str, Band], high: bool) -> Bounds:
    """Supplies and the atmosphere get to their bounds; volumes only start there."""
    bounds = {ATMOSPHERE: (Fraction(0), True)}
    for name, band in supply_ranges(draft).items():
        bounds[name] = (band.high if high else band.low, True)
    for name, band in starts.items():
        bounds[name] = (band.high if high else band.low, False)
    return bounds
