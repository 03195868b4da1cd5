"""What may happen while time passes, and what is due and so stops it."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from airproof.circuit.kinds import Flow, Volume
from airproof.circuit.landmarks import Mark
from airproof.circuit.readings import NOTHING, Inner
from airproof.circuit.refusals import Refusal
from airproof.circuit.state import State, Step, TimerState
from airproof.circuit.switching import name_refusals, supply_rule_refusals
from airproof.circuit.tables import Tables, Way


@dataclass(frozen=True, slots=True)
class Due:
    """What must move to `to` before time passes; a timer is due to be reset."""

    kind: Literal["device", "control", "timer"]
    name: str
    to: str


def due(tables: Tables, before: State, after: State) -> tuple[Due, ...]:
    """What is due in the elapse step between these states."""
    return tuple(_due(Inner(tables, before, after)))


def _due(inner: Inner) -> Iterator[Due]:
    circuit, state = inner.tables.circuit, inner.state
    for device in circuit.devices.values():
        if device.name not in state.leaving:
            for move in device.moves:
                if move.to != state.positions[device.name] and inner.plain(move.when)[1]:
                    yield Due("device", device.name, move.to)
    for rule in circuit.interlocks.values():
        elsewhere = state.positions[rule.control] != rule.position
        if rule.rule == "forced" and elsewhere and inner.plain(rule.condition)[1]:
            yield Due("control", rule.control, rule.position)
    for timer in circuit.timers.values():
        if state.timers[timer.name] == "expired" and not inner.plain(timer.runs)[0]:
            yield Due("timer", timer.name, "idle")


def elapse_refusals(
    tables: Tables, before: State, step: Step, marks: Collection[Mark]
) -> tuple[Refusal, ...]:
    """Why time cannot pass from `before` as the step says, with these landmarks."""
    wrong = name_refusals(tables, step.after)
    return wrong or tuple(_elapse_refusals(tables, before, step, marks))


def _elapse_refusals(
    tables: Tables, before: State, step: Step, marks: Collection[Mark]
) -> Iterator[Refusal]:
    inner = Inner(tables, before, step.after)
    yield from _unmoved(inner)
    yield from _crossed(inner, marks)
    yield from (Refusal("due", (thing.name, thing.to)) for thing in _due(inner))
    yield from _timers(inner)
    yield from _supplies(inner)
    yield from _flows(inner, step)
    for volume in tables.circuit.volumes.values():
        if volume.size is None:
            yield from _unsized(inner, volume)
        else:
            yield from _sized(inner, volume, step)
    yield from _quantities(inner)
    if step.duration is not None and step.duration <= 0:
        yield Refusal("duration")


def _unmoved(inner: Inner) -> Iterator[Refusal]:
    before, after = inner.state, inner.after
    for name, position in before.positions.items():
        if after.positions[name] != position or after.leaving.get(name) != before.leaving.get(name):
            yield Refusal("moved", (name,))
    for name in inner.tables.circuit.range_controls:
        if after.values[name] != before.values[name]:
            yield Refusal("moved", (name,))
    wrong = (after.fresh ^ before.fresh) | (after.aged ^ before.leaving.keys())
    if wrong or not after.rested:
        yield Refusal("memory", tuple(sorted(wrong)))


def _crossed(inner: Inner, marks: Collection[Mark]) -> Iterator[Refusal]:
    crossed = []
    for form, constant in marks:
        first, last = inner.ends(form)
        if first < constant < last or last < constant < first:
            crossed.append((form, constant))
    for form, constant in sorted(crossed, key=lambda mark: (mark[0].terms, mark[1])):
        yield Refusal("landmark", form.names, (form, constant))


def _timers(inner: Inner) -> Iterator[Refusal]:
    for name in inner.tables.circuit.timers:
        if inner.after.timers[name] not in timers_after(inner, name):
            yield Refusal("timer", (name,))


def timers_after(inner: Inner, name: str) -> tuple[TimerState, ...]:
    """What a timer may be once time has passed, its reset aside."""
    if inner.state.timers[name] == "expired":
        return ("expired",)
    can, must = inner.plain(inner.tables.circuit.timers[name].runs)
    if must:
        return ("running",)
    return ("idle", "running") if can else ("idle",)


def _supplies(inner: Inner) -> Iterator[Refusal]:
    for name, supply in inner.tables.circuit.supplies.items():
        if not supply.range.low <= inner.after.values[name] <= supply.range.high:
            yield Refusal("range", (name,))
    yield from supply_rule_refusals(inner.tables, inner.after)


# ---- air


def _flows(inner: Inner, step: Step) -> Iterator[Refusal]:
    flows = inner.tables.circuit.flows
    for name, amount in step.amounts.items():
        if name not in flows:
            yield Refusal("no such flow", (name,))
        elif amount:
            yield from _carries(inner, Way(flows[name], amount < 0))


def _carries(inner: Inner, way: Way) -> Iterator[Refusal]:
    flow = way.flow
    if not inner.flow_condition(flow)[0]:
        yield Refusal("flow shut", (flow.name,))
    if (way.backwards and flow.one_way) or min(_heads(inner, way)) < 0:
        yield Refusal("uphill", (flow.name,))


def _heads(inner: Inner, way: Way) -> tuple[Fraction, Fraction]:
    """How far upstream is above downstream and the opening, at both ends [bar]."""
    first, last = inner.gaps(way.flow)
    if way.backwards:
        return -first, -last
    opening = _opening(way.flow)
    return first - opening, last - opening


def _opening(flow: Flow) -> Fraction:
    return flow.opening if flow.one_way else NOTHING


def _sized(inner: Inner, volume: Volume, step: Step) -> Iterator[Refusal]:
    assert volume.size is not None
    rise = inner.after.values[volume.name] - inner.state.values[volume.name]
    net = _net(inner, volume.name, step)
    size = volume.size
    if net * rise < 0 or not size.low * abs(rise) <= abs(net) <= size.high * abs(rise):
        yield Refusal("air balance", (volume.name,))


def _net(inner: Inner, volume: str, step: Step) -> Fraction:
    flows, net = inner.tables.circuit.flows, NOTHING
    for name, amount in step.amounts.items():
        flow = flows.get(name)
        if flow and flow.target == volume:
            net += amount
        if flow and flow.source == volume:
            net -= amount
    return net


def _unsized(inner: Inner, volume: Volume) -> Iterator[Refusal]:
    name, tables = volume.name, inner.tables
    first, last = inner.state.values[name], inner.after.values[name]
    if last > first and not any(_drives(inner, way) for way in tables.ways_in[name]):
        yield Refusal("not filled", (name,))
    if last < first and not any(_drives(inner, way) for way in tables.ways_out[name]):
        yield Refusal("not drained", (name,))


def _drives(inner: Inner, way: Way) -> bool:
    """Counts as on, and leads downhill at both ends, strictly at one of them at least."""
    heads = _heads(inner, way)
    return min(heads) >= 0 and max(heads) > 0 and inner.flow_condition(way.flow)[0]


# ---- what is not air


def _quantities(inner: Inner) -> Iterator[Refusal]:
    for name in inner.tables.circuit.quantities:
        change = inner.after.values[name] - inner.state.values[name]
        if change and not may_change(inner, name, change > 0):
            yield Refusal("quantity", (name,))


def may_change(inner: Inner, quantity: str, upwards: bool) -> bool:
    """Whether some change that may count as on leads this way."""
    return any(
        (change.speed.high > 0 if upwards else change.speed.low < 0)
        and inner.passing(change.condition)[0]
        for change in inner.tables.circuit.quantities[quantity].changes
    )
