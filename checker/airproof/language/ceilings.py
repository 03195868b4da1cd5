"""Settings that a flow can only approach: the pressure of what feeds or empties a volume.

A volume never rises above the highest of its start and of the places that lead
into it, nor falls below the lowest of its start and of the places it leads to.
Where such a bound comes from a flow, the air comes ever nearer to it; a
comparison with exactly that number waits for something that may never happen.
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
from airproof.circuit.kinds import ATMOSPHERE, Band, Flow
from airproof.circuit.properties import Possible
from airproof.language.draft import Draft
from airproof.language.names import Problems
from airproof.language.ranges import plain, supply_ranges

Bounds = dict[str, Fraction]


@dataclass(frozen=True, slots=True)
class _Way:
    """Air from one place to another once it is `opening` above, and what the condition caps.

    ceiling: the target's pressure beyond which the way is shut, None = never
    floor:   the source's pressure below which the way is shut, None = never
    """

    source: str
    target: str
    opening: Fraction
    ceiling: Fraction | None
    floor: Fraction | None


def check_ceilings(draft: Draft, problems: Problems) -> None:
    """No device and no `possible` waits for a pressure that is only approached."""
    ways = [way for flow in draft.flows.values() for way in _ways(flow)]
    starts = {name: volume.starts for name, volume in draft.volumes.items()}
    pinned = _widened(draft, starts)
    for name, device in draft.devices.items():
        for move in device.moves:
            _check(draft, problems, _Asked(name, move.when, "setting"), _Reach(ways, pinned))
    for name, one in draft.properties.items():
        if isinstance(one.sentence, Possible):
            begins = _from(draft, starts, one.start)
            _check(draft, problems, _Asked(name, one.sentence.goal, "goal"), _Reach(ways, begins))


@dataclass(frozen=True, slots=True)
class _Asked:
    """Who waits for a condition."""

    name: str
    condition: Condition
    kind: str


@dataclass(frozen=True, slots=True)
class _Reach:
    """The ways for air and where volumes start."""

    ways: list[_Way]
    starts: Mapping[str, Band]


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
        yield _Way(
            source, target, flow.opening, ceiling, _edge(flow.condition, source, (">", ">="))
        )


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
    if not leaves:
        return
    highest, lowest = _highest(draft, reach), _lowest(draft, reach)
    for leaf in leaves:
        name, upward = leaf.form.names[0], leaf.order in (">=", ">")
        bound = highest[name] if upward else lowest[name]
        starts = reach.starts[name].high if upward else reach.starts[name].low
        if leaf.constant == bound and not (asked.kind == "goal" and starts == bound):
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


def _highest(draft: Draft, reach: _Reach) -> Bounds:
    """The highest pressure of every place: a least fixed point over the ways."""
    bounds = _fixed(draft, {name: band.high for name, band in reach.starts.items()}, True)
    for _ in reach.starts:
        for way in reach.ways:
            reached = bounds[way.source] - way.opening
            if way.ceiling is not None:
                reached = min(reached, way.ceiling)
            if way.target in reach.starts:
                bounds[way.target] = max(bounds[way.target], reached)
    return bounds


def _lowest(draft: Draft, reach: _Reach) -> Bounds:
    """The lowest pressure of every place: a greatest fixed point over the ways."""
    bounds = _fixed(draft, {name: band.low for name, band in reach.starts.items()}, False)
    for _ in reach.starts:
        for way in reach.ways:
            reached = bounds[way.target] + way.opening
            if way.floor is not None:
                reached = max(reached, way.floor)
            if way.source in reach.starts:
                bounds[way.source] = min(bounds[way.source], reached)
    return bounds


def _fixed(draft: Draft, starts: Bounds, high: bool) -> Bounds:
    supplies = supply_ranges(draft)
    bounds = {name: band.high if high else band.low for name, band in supplies.items()}
    return {ATMOSPHERE: Fraction(0), **bounds, **starts}
