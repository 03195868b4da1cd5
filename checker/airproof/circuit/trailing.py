"""What can be left out of a circuit without changing what its runs show.

A thing is left out only where nothing else reads it, nobody watches it, and it
can rest whatever the others do: then the others do with it just what they do
without it.

    timer:          it need never expire
    slow device:    called away, it can set off, and on the way it is never due
    quick device:   of two positions by turns, what calls it not being where it is itself, or
                    that moves once for all: it is due only where it may move, and then rests
    control:        it may stay where it is, unless a rule forces it
    value:          a supply, range control or quantity may stay as it is, and so may a
                    volume that only supplies and the atmosphere lead to, with those flows

What may be left out moves in switch steps of its own, which end a stretch.  So
nothing is left out of a circuit in which a control `has gone to` a place.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import TypeVar

from airproof.circuit.conditions import Condition, GoneTo, Not, leaves
from airproof.circuit.cone import names_in
from airproof.circuit.kinds import Circuit, Device
from airproof.circuit.properties import KeptRule, SupplyRule

Thing = TypeVar("Thing")


def without_trailing(circuit: Circuit, loose: Iterable[str]) -> Circuit:
    """The circuit without those of the loose names that can be left out."""
    names = [*loose]
    if any(isinstance(leaf, GoneTo) for one in _conditions(circuit) for leaf in leaves(one)):
        return circuit
    while True:
        gone = next((one for name in names if (one := _without(circuit, name)) is not None), None)
        if gone is None:
            return circuit
        circuit = gone


def _conditions(circuit: Circuit) -> Iterator[Condition]:
    """Everything that is read, but by supply rules."""
    for name in (*circuit.devices, *circuit.timers, *circuit.quantities, *circuit.flows):
        yield from _read_by(circuit, name)
    yield from (rule.condition for rule in circuit.interlocks.values())
    rules = (assumption.rule for assumption in circuit.assumptions.values())
    yield from (rule.condition for rule in rules if isinstance(rule, KeptRule))


def _read_by(circuit: Circuit, name: str) -> Iterator[Condition]:
    if name in circuit.devices:
        yield from (move.when for move in circuit.devices[name].moves)
    if name in circuit.timers:
        yield circuit.timers[name].runs
    if name in circuit.quantities:
        yield from (change.condition for change in circuit.quantities[name].changes)
    if name in circuit.flows:
        yield circuit.flows[name].condition


def _without(circuit: Circuit, name: str) -> Circuit | None:
    """The circuit without the thing; None if it is not there, or cannot be left out."""
    if name in circuit.flows:
        flow = circuit.flows[name]
        led = flow.source in circuit.volumes or flow.target in circuit.volumes
        return None if led or name in _read(circuit, ()) else _cut(circuit, {name})
    if name in circuit.volumes:
        return _without_volume(circuit, name)
    known = {*circuit.positions, *circuit.timers, *circuit.value_starts}
    if name not in known or name in _read(circuit, (name,)) or name in _ends(circuit):
        return None
    return _cut(circuit, {name}) if _rests(circuit, name) else None


def _without_volume(circuit: Circuit, name: str) -> Circuit | None:
    ways = {n: f for n, f in circuit.flows.items() if name in (f.source, f.target)}
    others = {end for flow in ways.values() for end in (flow.source, flow.target)} - {name}
    read = _read(circuit, ways)
    if others & {*circuit.volumes} or read & {name, *ways}:
        return None
    return _cut(circuit, {name, *ways})


def _read(circuit: Circuit, apart: Iterable[str]) -> set[str]:
    """What is read by anything but these things themselves, rules on them included."""
    mine = {*apart}
    found: set[str] = set()
    for name in (*circuit.devices, *circuit.timers, *circuit.quantities, *circuit.flows):
        if name not in mine:
            found |= {*names_in(_read_by(circuit, name))}
    rules = [*circuit.interlocks.values(), *(a.rule for a in circuit.assumptions.values())]
    for rule in rules:
        if isinstance(rule, SupplyRule):
            found |= {*names_in(rule.comparisons)}
        elif rule.control not in mine:
            found |= {*names_in((rule.condition,))}
    return found


def _ends(circuit: Circuit) -> set[str]:
    return {end for flow in circuit.flows.values() for end in (flow.source, flow.target)}


def _rests(circuit: Circuit, name: str) -> bool:
    if name in circuit.controls:
        rules = circuit.interlocks.values()
        return not any(rule.control == name and rule.rule == "forced" for rule in rules)
    return name not in circuit.devices or _comes_to_rest(circuit.devices[name])


def _comes_to_rest(device: Device) -> bool:
    """Wherever the others stand, it can start, and can be brought to where it is not due."""
    if device.starts_called and {*device.starts} != {*device.positions}:
        return False
    if device.moving is not None:
        return not device.starts_called or _by_turns(device)
    return _by_turns(device) or (len(device.moves) == 1 and not device.starts_called)


def _by_turns(device: Device) -> bool:
    """Two positions, the one while a condition, the other otherwise, wherever it is."""
    if len(device.positions) != 2 or len(device.moves) != 2:
        return False
    if device.name in {*names_in(move.when for move in device.moves)}:
        return False
    one, other = device.moves
    opposite = one.when == Not(other.when) or other.when == Not(one.when)
    return opposite and one.to != other.to


def _cut(circuit: Circuit, gone: set[str]) -> Circuit:
    def kept(things: Mapping[str, Thing]) -> dict[str, Thing]:
        return {name: thing for name, thing in things.items() if name not in gone}

    return replace(
        circuit,
        supplies=kept(circuit.supplies),
        volumes=kept(circuit.volumes),
        controls=kept(circuit.controls),
        range_controls=kept(circuit.range_controls),
        devices=kept(circuit.devices),
        timers=kept(circuit.timers),
        flows=kept(circuit.flows),
        quantities=kept(circuit.quantities),
        interlocks={n: x for n, x in circuit.interlocks.items() if x.control not in gone},
        assumptions={
            n: x
            for n, x in circuit.assumptions.items()
            if not (isinstance(x.rule, KeptRule) and x.rule.control in gone)
        },
        properties={},
        signals={},
        standings={},
    )
