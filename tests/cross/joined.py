"""Two circuits put side by side as one, the second perhaps reading the first."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields, replace
from random import Random
from typing import Any, TypeVar

from airproof.circuit.conditions import (
    AllOf,
    AnyOf,
    At,
    Condition,
    Expired,
    GoneTo,
    Leaf,
    Not,
    OnTheWay,
)
from airproof.circuit.kinds import Circuit, Device
from airproof.circuit.properties import Assumption, KeptRule, Property

Thing = TypeVar("Thing")
Change = Callable[[Leaf], Leaf]

SHELVES = ("controls", "devices", "timers", "interlocks", "assumptions", "properties")


def beside(one: Circuit, other: Circuit, rng: Random | None = None) -> Circuit:
    """Both as one circuit, the names of each told apart by a prefix.

    rng: some leaves of what moves in the other are replaced by places of the one;
    None: neither reads the other
    """
    first = _renamed(one, _prefixed("a "), "a ")
    names = _prefixed("b ")
    second = _renamed(other, names, "b ")
    if rng is not None and first.positions:
        second = _reading(second, first, rng)
    shelves: dict[str, Any] = {
        name: {**getattr(first, name), **getattr(second, name)} for name in SHELVES
    }
    standings = {
        name: replace(
            standing, positions={**standing.positions, **second.standings[name].positions}
        )
        for name, standing in first.standings.items()
    }
    return replace(first, **shelves, standings=standings)


def _prefixed(prefix: str) -> Change:
    def renamed(leaf: Leaf) -> Leaf:
        match leaf:
            case At(name, place):
                return At(prefix + name, place)
            case GoneTo(name, place):
                return GoneTo(prefix + name, place)
            case OnTheWay(name):
                return OnTheWay(prefix + name)
            case Expired(name):
                return Expired(prefix + name)
        return leaf

    return renamed


def _changed(condition: Condition, change: Change) -> Condition:
    match condition:
        case Not(part):
            return Not(_changed(part, change))
        case AllOf(parts):
            return AllOf(tuple(_changed(part, change) for part in parts))
        case AnyOf(parts):
            return AnyOf(tuple(_changed(part, change) for part in parts))
    return change(condition)


def _renamed(circuit: Circuit, change: Change, prefix: str) -> Circuit:
    def kept(shelf: Mapping[str, Thing], to: Callable[[Thing], Thing]) -> dict[str, Thing]:
        return {
            prefix + name: replace(to(thing), name=prefix + name)  # type: ignore[type-var]
            for name, thing in shelf.items()
        }

    def ruled(assumption: Assumption) -> Assumption:
        rule = assumption.rule
        assert isinstance(rule, KeptRule)  # there are no supplies
        condition = _changed(rule.condition, change)
        rule = replace(rule, control=prefix + rule.control, condition=condition)
        return replace(assumption, rule=rule)

    def where(places: Mapping[str, str]) -> dict[str, str]:
        return {prefix + name: place for name, place in places.items()}

    return replace(
        circuit,
        controls=kept(circuit.controls, lambda x: x),
        devices=kept(circuit.devices, lambda x: _moving_by(x, change)),
        timers=kept(circuit.timers, lambda x: replace(x, runs=_changed(x.runs, change))),
        interlocks=kept(
            circuit.interlocks,
            lambda x: replace(
                x, control=prefix + x.control, condition=_changed(x.condition, change)
            ),
        ),
        assumptions=kept(circuit.assumptions, ruled),
        properties=kept(circuit.properties, lambda x: _judged_by(x, change)),
        standings={
            n: replace(x, positions=where(x.positions)) for n, x in circuit.standings.items()
        },
    )


def _moving_by(device: Device, change: Change) -> Device:
    moves = tuple(replace(m, when=_changed(m.when, change)) for m in device.moves)
    return replace(device, moves=moves)


def _judged_by(asked: Property, change: Change) -> Property:
    sentence = asked.sentence
    read = {f.name: getattr(sentence, f.name) for f in fields(sentence)}
    changed: dict[str, Any] = {
        name: _changed(part, change) for name, part in read.items() if isinstance(part, Condition)
    }
    return replace(asked, sentence=replace(sentence, **changed))


def _reading(circuit: Circuit, read: Circuit, rng: Random) -> Circuit:
    """The circuit, one in three leaves of its devices, timers and rules about the other one."""
    places = [(name, place) for name, some in read.positions.items() for place in some]

    def change(leaf: Leaf) -> Leaf:
        return At(*rng.choice(places)) if rng.random() < 1 / 3 else leaf

    return replace(
        circuit,
        devices={n: _moving_by(x, change) for n, x in circuit.devices.items()},
        timers={n: replace(x, runs=_changed(x.runs, change)) for n, x in circuit.timers.items()},
        interlocks={
            n: replace(x, condition=_changed(x.condition, change))
            for n, x in circuit.interlocks.items()
        },
    )
