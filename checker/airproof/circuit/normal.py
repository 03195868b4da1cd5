"""One way of writing for what can be written in several and means the same in every reading.

Members of a condition stand in any order, as often as one likes; a `not` goes
to the leaves.  Positions stand in any order, but for a control that is moved in
their order, which may be turned round as a whole.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import TypeVar

from airproof.circuit.conditions import (
    OPPOSITE,
    AllOf,
    AnyOf,
    Compare,
    Condition,
    Not,
    Truth,
)
from airproof.circuit.kinds import (
    Change,
    Control,
    Device,
    Flow,
    Interlock,
    Move,
    Quantity,
    Timer,
)
from airproof.circuit.properties import KeptRule

Thing = TypeVar("Thing")


def normal(condition: Condition) -> Condition:
    """The same condition in every reading, and the same object for every way of writing it.

    A reading is what may and what must count as true; both go through `and` and
    `or` member by member, and `not` turns the one into the other.
    """
    match condition:
        case Not(part):
            return _opposite(part)
        case AllOf(parts) | AnyOf(parts):
            return _joined(type(condition), map(normal, parts))
    return condition


def _opposite(part: Condition) -> Condition:
    match part:
        case Not(inner):
            return normal(inner)
        case AllOf(parts):
            return _joined(AnyOf, (_opposite(each) for each in parts))
        case AnyOf(parts):
            return _joined(AllOf, (_opposite(each) for each in parts))
        case Compare(order=order):
            return replace(part, order=OPPOSITE[order])
        case Truth(value):
            return Truth(not value)
    return Not(part)


def _joined(kind: type[AllOf] | type[AnyOf], parts: Iterable[Condition]) -> Condition:
    idle, final = Truth(kind is AllOf), Truth(kind is AnyOf)
    members = {member for part in parts for member in _members(kind, part)} - {idle}
    if final in members:
        return final
    ordered = sorted(members, key=repr)
    if not ordered:
        return idle
    return ordered[0] if len(ordered) == 1 else kind(tuple(ordered))


def _members(kind: type[AllOf] | type[AnyOf], part: Condition) -> Iterator[Condition]:
    if isinstance(part, AllOf | AnyOf) and isinstance(part, kind):
        yield from part.parts
    else:
        yield part


def normal_thing(thing: Thing) -> Thing:
    """A statement of a circuit, or a rule on a control, written in the one way."""
    made: object = thing
    match thing:
        case Control():
            made = _control(thing)
        case Device():
            made = _device(thing)
        case Timer():
            made = replace(thing, runs=normal(thing.runs))
        case Quantity():
            changes = (Change(one.speed, normal(one.condition)) for one in thing.changes)
            made = replace(thing, changes=tuple(sorted(changes, key=repr)))
        case Flow() | Interlock() | KeptRule():
            made = replace(thing, condition=normal(thing.condition))
    return made  # type: ignore[return-value]


def _control(control: Control) -> Control:
    ordered = control.ordered and len(control.positions) > 2
    return replace(
        control,
        positions=_turned(control.positions) if ordered else _sorted(control.positions),
        starts=_sorted(control.starts),
        ordered=ordered,
    )


def _device(device: Device) -> Device:
    moves = {Move(move.to, normal(move.when)) for move in device.moves}
    return replace(
        device,
        positions=_sorted(device.positions),
        starts=_sorted(device.starts),
        moves=tuple(sorted(moves, key=repr)),
    )


def _sorted(places: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(sorted(places))


def _turned(places: tuple[str, ...]) -> tuple[str, ...]:
    return min(places, places[::-1])
