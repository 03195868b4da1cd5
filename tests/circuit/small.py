"""Small circuits by hand: what the tests of the second account are built from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Any

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.conditions import YES, Compare, Condition, Order, compare, form_of
from airproof.circuit.kinds import (
    Band,
    Circuit,
    Control,
    Device,
    Flow,
    Interlock,
    Move,
    Quantity,
    RangeControl,
    Standing,
    Supply,
    Timer,
    Volume,
)
from airproof.circuit.landmarks import landmarks
from airproof.circuit.properties import Assumption, Property
from airproof.circuit.refusals import Refusal
from airproof.circuit.state import State, Step, TimerState
from airproof.circuit.switching import Moved

Number = int | str | Fraction
Thing = (
    Supply
    | Volume
    | Control
    | RangeControl
    | Device
    | Timer
    | Flow
    | Quantity
    | Interlock
    | Assumption
    | Standing
    | Property
)

SHELVES: dict[type, str] = {
    Supply: "supplies",
    Volume: "volumes",
    Control: "controls",
    RangeControl: "range_controls",
    Device: "devices",
    Timer: "timers",
    Flow: "flows",
    Quantity: "quantities",
    Interlock: "interlocks",
    Assumption: "assumptions",
    Standing: "standings",
    Property: "properties",
}


def band(low: Number, high: Number) -> Band:
    return Band(Fraction(low), Fraction(high))


def is_(name: str, order: Order, constant: Number, tolerance: Number = 0) -> Compare:
    """`name order constant +- tolerance`."""
    form = form_of({name: Fraction(1)})
    return compare(form, order, Fraction(constant), Fraction(tolerance))


def apart(one: str, other: str, order: Order, constant: Number) -> Compare:
    """`one - other order constant`."""
    return compare(form_of({one: Fraction(1), other: Fraction(-1)}), order, Fraction(constant))


def supply(name: str = "main", low: Number = 0, high: Number = 8) -> Supply:
    return Supply(name, band(low, high), band(low, high))


def volume(name: str, size: Band | None = None, starts: Band | None = None) -> Volume:
    return Volume(name, "reservoir", size, starts or band(0, 8))


def control(name: str, *positions: str, **more: Any) -> Control:
    return Control(name, positions, positions, **more)


def valve(name: str, opens: Condition, shuts: Condition, **more: Any) -> Device:
    """A device that is shut or open."""
    moves = (Move("open", opens), Move("shut", shuts))
    return Device(name, "valve", ("shut", "open"), moves, ("shut", "open"), **more)


def flow(name: str, source: str, target: str, condition: Condition = YES, **more: Any) -> Flow:
    return Flow(name, source, target, condition, **more)


def circuit(*things: Thing) -> Circuit:
    shelves: dict[str, dict[str, Thing]] = {}
    for thing in things:
        shelves.setdefault(SHELVES[type(thing)], {})[thing.name] = thing
    return Circuit("small", "A small circuit", **shelves)  # type: ignore[arg-type]


def state(
    of: Circuit,
    at: Mapping[str, str] | None = None,
    values: Mapping[str, Number] | None = None,
    timers: Mapping[str, TimerState] | None = None,
    **more: Any,
) -> State:
    """A state; what is not given stands in its first position, at 0 or idle."""
    placed: list[Control | Device] = [*of.controls.values(), *of.devices.values()]
    numbers = [*of.supplies, *of.volumes, *of.range_controls, *of.quantities]
    idle: dict[str, TimerState] = dict.fromkeys(of.timers, "idle")
    return State(
        positions={**{thing.name: thing.positions[0] for thing in placed}, **(at or {})},
        values={name: Fraction((values or {}).get(name, 0)) for name in numbers},
        timers={**idle, **(timers or {})},
        **more,
    )


def elapse(after: State, duration: Number | None = 1, **amounts: Number) -> Step:
    lasting = None if duration is None else Fraction(duration)
    moved = {name: Fraction(amount) for name, amount in amounts.items()}
    return Step("elapse", after, amounts=moved, duration=lasting)


def switch(after: State) -> Step:
    return Step("switch", after)


def rules(refusals: Iterable[Refusal]) -> set[str]:
    """The broken rules alone."""
    return {refusal.rule for refusal in refusals}


def elapse_broken(of: Circuit, before: State, step: Step) -> set[str]:
    """The rules that an elapse step breaks."""
    return rules(Behaviour(of).elapse_refusals(before, step, landmarks(of, None)))


def later(before: State, **values: Number) -> State:
    """The state after time has passed and these values changed."""
    changed = {name: Fraction(value) for name, value in values.items()}
    return replace(
        before,
        values={**before.values, **changed},
        rested=True,
        aged=frozenset(before.leaving),
    )


def switch_broken(of: Circuit, before: State, after: State) -> set[str]:
    """The rules that a switch step breaks."""
    return rules(Behaviour(of).switch_refusals(before, after))


def hand(of: Circuit, before: State, **to: str) -> State:
    """The state after these controls moved."""
    moves = [Moved("control", name, before.positions[name], there) for name, there in to.items()]
    return Behaviour(of).moved(before, moves)
