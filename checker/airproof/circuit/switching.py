"""Starts, and what may move in no time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

from airproof.circuit.kinds import Circuit, Control, Device, Interlock
from airproof.circuit.properties import KeptRule
from airproof.circuit.readings import Instant, holds_as_written
from airproof.circuit.refusals import Refusal
from airproof.circuit.state import State
from airproof.circuit.tables import Tables

MoveKind = Literal[
    "control",
    "range",
    "device",  # one that moves at once
    "sets off",
    "arrives",
    "turns round",
    "timer expires",
    "timer reset",
]


@dataclass(frozen=True, slots=True)
class Moved:
    """One move of a switch step: what stood at `was` stands at, or is bound for, `now`."""

    kind: MoveKind
    name: str
    was: str | Fraction
    now: str | Fraction


# ---- starts


def start_refusals(tables: Tables, state: State, standing: str | None) -> tuple[Refusal, ...]:
    """Why the circuit, or its standing state of that name, does not start so."""
    wrong = name_refusals(tables, state)
    return wrong or tuple(_start_refusals(tables, state, standing))


def name_refusals(tables: Tables, state: State) -> tuple[Refusal, ...]:
    """What makes this no state of the circuit at all."""
    circuit = tables.circuit
    spoken = (
        (state.positions.keys() ^ tables.placed)
        | (state.values.keys() ^ tables.valued)
        | (state.timers.keys() ^ circuit.timers.keys())
        | (state.leaving.keys() - circuit.devices.keys())
        | (state.aged - state.leaving.keys())
        | (state.fresh - circuit.controls.keys() - circuit.range_controls.keys())
    )
    placed: list[Control | Device] = [*circuit.controls.values(), *circuit.devices.values()]
    astray = [x.name for x in placed if state.positions.get(x.name) not in x.positions]
    wrong = tuple(sorted({*spoken, *astray}))
    return (Refusal("names", wrong),) if wrong else ()


def _start_refusals(tables: Tables, state: State, standing: str | None) -> Iterator[Refusal]:
    circuit = tables.circuit
    pins = circuit.standings[standing] if standing is not None else None
    pinned = pins.positions if pins else {}
    for name, allowed in _start_positions(circuit):
        if state.positions[name] not in ([pinned[name]] if name in pinned else allowed):
            yield Refusal("start position", (name,))
    values = pins.values if pins else {}
    for name, band in circuit.value_starts.items():
        low, high = (values[name],) * 2 if name in values else (band.low, band.high)
        if not low <= state.values[name] <= high:
            yield Refusal("start value", (name,))
    yield from _memory_at_start(state)
    yield from supply_rule_refusals(tables, state)
    if standing is None:
        yield from _called_at_start(tables, state)


def _start_positions(circuit: Circuit) -> Iterator[tuple[str, tuple[str, ...]]]:
    for control in circuit.controls.values():
        yield control.name, control.starts if control.sealed is None else (control.sealed,)
    for device in circuit.devices.values():
        yield device.name, device.starts


def _memory_at_start(state: State) -> Iterator[Refusal]:
    awake = [name for name, timer in state.timers.items() if timer != "idle"]
    names = {*state.leaving, *state.aged, *state.fresh, *state.clocks, *awake}
    if names or not state.rested:
        yield Refusal("start memory", tuple(sorted(names)))


def _called_at_start(tables: Tables, state: State) -> Iterator[Refusal]:
    view = Instant(tables, state)
    for device in tables.circuit.devices.values():
        here = state.positions[device.name]
        if device.starts_called and any(
            move.to != here and view.plain(move.when)[1] for move in device.moves
        ):
            yield Refusal("start called", (device.name,))


def supply_rule_refusals(tables: Tables, state: State) -> Iterator[Refusal]:
    """The assumptions on supplies that do not hold in this state."""
    for name, rule in tables.supply_rules.items():
        if not all(holds_as_written(leaf, state.values) for leaf in rule.comparisons):
            yield Refusal("supply rule", (name,))


# ---- switch steps


def moves_made(tables: Tables, before: State, after: State) -> tuple[Moved, ...]:
    """What moved in this switch step; a change that no device can make is left out."""
    circuit = tables.circuit
    moves = [
        Moved("control", name, before.positions[name], after.positions[name])
        for name in circuit.controls
        if before.positions[name] != after.positions[name]
    ]
    moves += [
        Moved("range", name, before.values[name], after.values[name])
        for name in circuit.range_controls
        if before.values[name] != after.values[name]
    ]
    for device in circuit.devices.values():
        kind = device_move(device, before, after)
        if kind:
            here, there = before.positions[device.name], after.positions[device.name]
            was = before.leaving[device.name] if kind == "arrives" else here
            moves.append(Moved(kind, device.name, was, there))
    for name in circuit.timers:
        was, now = before.timers[name], after.timers[name]
        if was != now and now != "running":
            moves.append(
                Moved("timer expires" if now == "expired" else "timer reset", name, was, now)
            )
    return tuple(moves)


def device_move(device: Device, before: State, after: State) -> MoveKind | None:
    """The one move that leads from one place to the other, whether it is called for or not."""
    name = device.name
    was, now = before.positions[name], after.positions[name]
    left, leaving = before.leaving.get(name), after.leaving.get(name)
    if name in after.aged:
        return None  # who moves is not aged, and who ages does not move
    if device.moving is None:
        return "device" if was != now and left is None and leaving is None else None
    if left is None:
        return "sets off" if now != was and leaving == was else None
    if leaving is None:
        return "arrives" if now == was else None
    bound_back = was if now == left else left
    return "turns round" if now != was and leaving == bound_back else None


def switch_refusals(tables: Tables, before: State, after: State) -> tuple[Refusal, ...]:
    """Why no switch step leads from `before` to `after`."""
    wrong = name_refusals(tables, after)
    return wrong or tuple(_switch_refusals(tables, before, after))


def _switch_refusals(tables: Tables, before: State, after: State) -> Iterator[Refusal]:
    view = Instant(tables, before)
    moves = moves_made(tables, before, after)
    moved = frozenset(move.name for move in moves)
    if not moved:
        yield Refusal("nothing moves")
    yield from _bookkeeping(tables, before, after, moved)
    for move in moves:
        if move.kind == "control":
            yield from _control_refusals(view, move, after)
        elif move.kind == "range":
            yield from _range_refusals(view, move)
        elif move.kind.startswith("timer"):
            yield from _timer_refusals(view, move)
        else:
            yield from _device_refusals(view, move)


def _bookkeeping(
    tables: Tables, before: State, after: State, moved: frozenset[str]
) -> Iterator[Refusal]:
    circuit = tables.circuit
    hands = moved & (circuit.controls.keys() | circuit.range_controls.keys())
    fresh = hands | (frozenset() if before.rested else before.fresh)
    if after.rested or after.fresh != fresh:
        yield Refusal("memory", tuple(sorted(after.fresh ^ fresh)))
    for name, value in before.values.items():
        if name not in circuit.range_controls and after.values[name] != value:
            yield Refusal("value changed", (name,))
    for name in circuit.devices:
        if name not in moved and _place(before, name) != _place(after, name):
            yield Refusal("no such move", (name,))
    for name in circuit.timers:
        if name not in moved and before.timers[name] != after.timers[name]:
            yield Refusal("timer", (name,))


def _place(state: State, device: str) -> tuple[str, str | None, bool]:
    return state.positions[device], state.leaving.get(device), device in state.aged


def _device_refusals(view: Instant, move: Moved) -> Iterator[Refusal]:
    device = view.tables.circuit.devices[move.name]
    if move.kind == "arrives":
        if move.name not in view.state.aged:
            yield Refusal("not aged", (move.name,))
    elif move.now not in called_to(view, device):
        yield Refusal("not called", (move.name,))


def called_to(view: Instant, device: Device) -> tuple[str, ...]:
    """The positions, other than where it stands or is bound, that the device may leave for."""
    here = view.state.positions[device.name]
    return tuple(move.to for move in device.moves if move.to != here and view.plain(move.when)[0])


def _timer_refusals(view: Instant, move: Moved) -> Iterator[Refusal]:
    runs = view.tables.circuit.timers[move.name].runs
    if move.kind == "timer expires":
        if move.was != "running":
            yield Refusal("timer", (move.name,))
    elif view.plain(runs)[1]:
        yield Refusal("timer", (move.name,))


def _range_refusals(view: Instant, move: Moved) -> Iterator[Refusal]:
    band = view.tables.circuit.range_controls[move.name].range
    assert isinstance(move.now, Fraction)
    if not band.low <= move.now <= band.high:
        yield Refusal("range", (move.name,))
    if _has_moved(view.state, move.name):
        yield Refusal("twice in no time", (move.name,))


def _has_moved(state: State, control: str) -> bool:
    return control in state.fresh and not state.rested


# ---- controls and their rules


def _control_refusals(view: Instant, move: Moved, after: State) -> Iterator[Refusal]:
    control = view.tables.circuit.controls[move.name]
    was, now = str(move.was), str(move.now)
    if control.sealed is not None:
        yield Refusal("sealed", (control.name,))
    if control.ordered and _places_between(control, was, now) != 1:
        yield Refusal("not a neighbour", (control.name,))
    if _has_moved(view.state, control.name) and not is_forced(view, control, now):
        yield Refusal("twice in no time", (control.name,))
    rules = view.tables.rules[control.name]
    others_moved = (
        Instant(view.tables, _put_back(after, view.state, control.name)) if rules else view
    )
    for name, rule in rules:
        if not all(_allows(rule, control, now, v) for v in (view, others_moved)):
            yield Refusal("interlock", (control.name, name))


def _put_back(after: State, before: State, control: str) -> State:
    """`after` as it is but for one control, which has not moved yet."""
    return replace(
        after,
        positions={**after.positions, control: before.positions[control]},
        fresh=(after.fresh - {control}) | (before.fresh & {control}),
    )


def is_forced(view: Instant, control: Control, now: str) -> bool:
    """Whether an interlock that may count as true forces this very move."""
    return any(
        rule.rule == "forced"
        and view.plain(rule.condition)[0]
        and towards(rule, control, view.state.positions[control.name], now)
        for _, rule in view.tables.rules[control.name]
    )


def _allows(rule: Interlock | KeptRule, control: Control, now: str, view: Instant) -> bool:
    can, must = view.plain(rule.condition)
    was = view.state.positions[control.name]
    match rule.rule:
        case "only":
            return now != rule.position or can
        case "locked":
            return was != rule.position or not must
        case "forced":
            return not must or towards(rule, control, was, now)


def towards(rule: Interlock | KeptRule, control: Control, was: str, now: str) -> bool:
    if now == rule.position:
        return True
    to_go = _places_between(control, was, rule.position)
    return control.ordered and _places_between(control, now, rule.position) == to_go - 1


def _places_between(control: Control, one: str, other: str) -> int:
    return abs(control.positions.index(one) - control.positions.index(other))
