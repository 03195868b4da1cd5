"""A circuit in which one thing of a sequence is ruled out, and all else is as it was.

Each `Thing` is in force only while a condition; the same change serves for one
thing taken away and for all of them to choose from.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from airproof.circuit.conditions import (
    NO,
    YES,
    AllOf,
    AnyOf,
    Compare,
    Condition,
    Expired,
    Not,
    leaves,
)
from airproof.circuit.kinds import Circuit, Device, Flow, Interlock, Move, Quantity, Timer
from airproof.circuit.properties import Assumption, KeptRule

Way = Literal[
    "device",  # without: it does not move to `place`, and is not due to
    "control",  # without: nobody moves it to `place`, and nothing forces it anywhere
    "timer",  # without: no statement of the circuit notices that it has expired
    "value",  # without: a supply or range control keeps the value that it starts with
    "met",  # without: the setting counts as not met, wherever the statement reads it
    "not met",  # without: the setting counts as met there, and calls a device from all else
]
Statement = Literal["device", "timer", "flow", "quantity", "interlock", "assumption"]


@dataclass(frozen=True, slots=True)
class Thing:
    """What may be ruled out.

    name:    the device, control, timer, supply or range control; for a setting the
             statement that reads it
    place:   where a device or control goes
    reader:  for a setting, the kind of its statement
    setting: for a setting, the comparison
    """

    way: Way
    name: str
    place: str = ""
    reader: Statement | None = None
    setting: Compare | None = None


Guards = Mapping[Thing, Condition]


def without(circuit: Circuit, thing: Thing) -> Circuit:
    """The circuit with that thing ruled out; `value` is not a matter of conditions.

    Where it starts is not to be read from it: a device may start only where the
    circuit as it stands lets it.
    """
    return guarded(circuit, {thing: NO})


def without_for_every_start(circuit: Circuit, thing: Thing) -> Circuit:
    """The circuit with that thing ruled out, which starts wherever the circuit as it stands does.

    A device that starts where nothing calls it away may be called away from there
    by a setting that is never met, or always; here it then starts anywhere.  Moves
    and expiries that are ruled out call nothing away from where a run starts.
    after: what this circuit never does, it does from no start of `circuit` either
    """
    changed = without(circuit, thing)
    if thing.setting is None:
        return changed
    devices = {
        name: replace(one, starts_called=one.starts_called and one == circuit.devices[name])
        for name, one in changed.devices.items()
    }
    return replace(changed, devices=devices)


def guarded(circuit: Circuit, guards: Guards) -> Circuit:
    """The circuit in which each thing is in force only while its condition."""
    change = _Guarding(guards)
    assumptions = {name: change.assumption(one) for name, one in circuit.assumptions.items()}
    return replace(
        circuit,
        devices={name: change.device(one) for name, one in circuit.devices.items()},
        timers={name: change.timer(one) for name, one in circuit.timers.items()},
        flows={name: change.flow(one) for name, one in circuit.flows.items()},
        quantities={name: change.quantity(one) for name, one in circuit.quantities.items()},
        interlocks={
            **{name: change.interlock(one) for name, one in circuit.interlocks.items()},
            **dict(change.bars()),
        },
        assumptions=assumptions,
    )


def settings(circuit: Circuit) -> Iterator[Thing]:
    """Each setting that a statement of the circuit reads, as met and as not met."""
    for reader, name, conditions in _statements(circuit):
        found = (leaf for one in conditions for leaf in leaves(one) if isinstance(leaf, Compare))
        for leaf in dict.fromkeys(found):
            yield Thing("met", name, reader=reader, setting=leaf)
            yield Thing("not met", name, reader=reader, setting=leaf)


def _statements(circuit: Circuit) -> Iterator[tuple[Statement, str, list[Condition]]]:
    for device in circuit.devices.values():
        yield "device", device.name, [move.when for move in device.moves]
    for timer in circuit.timers.values():
        yield "timer", timer.name, [timer.runs]
    for flow in circuit.flows.values():
        yield "flow", flow.name, [flow.condition]
    for quantity in circuit.quantities.values():
        yield "quantity", quantity.name, [change.condition for change in quantity.changes]
    for lock in circuit.interlocks.values():
        yield "interlock", lock.name, [lock.condition]
    for name, assumption in circuit.assumptions.items():
        if isinstance(assumption.rule, KeptRule):
            yield "assumption", name, [assumption.rule.condition]


@dataclass(frozen=True, slots=True)
class _Guarding:
    guards: Guards

    def read(self, tree: Condition, reader: Statement, name: str) -> Condition:
        """What the statement of that name reads now."""
        match tree:
            case Not(part):
                return Not(self.read(part, reader, name))
            case AllOf(parts):
                return AllOf(tuple(self.read(part, reader, name) for part in parts))
            case AnyOf(parts):
                return AnyOf(tuple(self.read(part, reader, name) for part in parts))
            case Compare():
                return self._setting(tree, reader, name)
            case Expired(timer):
                return self._while(tree, Thing("timer", timer))
        return tree

    def _while(self, tree: Condition, thing: Thing) -> Condition:
        guard = self.guards.get(thing, YES)
        return tree if guard == YES else AllOf((tree, guard))

    def _setting(self, leaf: Compare, reader: Statement, name: str) -> Condition:
        tree = self._while(leaf, Thing("met", name, reader=reader, setting=leaf))
        guard = self.guards.get(Thing("not met", name, reader=reader, setting=leaf), YES)
        return tree if guard == YES else AnyOf((tree, Not(guard)))

    def device(self, device: Device) -> Device:
        moves = tuple(replace(move, when=self._call(device, move)) for move in device.moves)
        return replace(device, moves=moves)

    def _call(self, device: Device, move: Move) -> Condition:
        """When it is called to this place: also not while a setting met throughout calls it away.

        Else the device would be called to two places at once, never come to
        rest, and time would stop: nothing could happen, for no good reason.
        """
        called = self._while(
            self.read(move.when, "device", device.name), Thing("device", device.name, move.to)
        )
        for thing, guard in self.guards.items():
            if thing.way == "not met" and thing.name == device.name and thing.reader == "device":
                away = _called_away(device, move, thing.setting)
                if away:
                    called = AllOf((called, AnyOf((guard, Not(AnyOf(away))))))
        return called

    def timer(self, timer: Timer) -> Timer:
        return replace(timer, runs=self.read(timer.runs, "timer", timer.name))

    def flow(self, flow: Flow) -> Flow:
        return replace(flow, condition=self.read(flow.condition, "flow", flow.name))

    def quantity(self, quantity: Quantity) -> Quantity:
        changes = tuple(
            replace(one, condition=self.read(one.condition, "quantity", quantity.name))
            for one in quantity.changes
        )
        return replace(quantity, changes=changes)

    def interlock(self, lock: Interlock) -> Interlock:
        condition = self.read(lock.condition, "interlock", lock.name)
        if lock.rule == "forced":
            for thing in self._barred(lock.control):
                condition = self._while(condition, thing)
        return replace(lock, condition=condition)

    def assumption(self, assumption: Assumption) -> Assumption:
        rule = assumption.rule
        if not isinstance(rule, KeptRule):
            return assumption
        condition = self.read(rule.condition, "assumption", assumption.name)
        return replace(assumption, rule=replace(rule, condition=condition))

    def _barred(self, control: str) -> Iterator[Thing]:
        return (one for one in self.guards if one.way == "control" and one.name == control)

    def bars(self) -> Iterator[tuple[str, Interlock]]:
        """An interlock for each move of a control that may be ruled out."""
        for thing, guard in self.guards.items():
            if thing.way == "control":
                name = f"(without {thing.name} to {thing.place})"
                yield name, Interlock(name, "", thing.name, "only", thing.place, guard)


def _called_away(device: Device, move: Move, setting: Compare | None) -> tuple[Condition, ...]:
    """When the device's moves to other places are called for, were the setting met throughout."""
    if setting in tuple(leaves(move.when)):
        return ()
    others = (
        one for one in device.moves if one.to != move.to and setting in tuple(leaves(one.when))
    )
    return tuple(_met(one.when, setting) for one in others)


def _met(tree: Condition, setting: Compare | None) -> Condition:
    match tree:
        case Not(part):
            return Not(_met(part, setting))
        case AllOf(parts):
            return AllOf(tuple(_met(part, setting) for part in parts))
        case AnyOf(parts):
            return AnyOf(tuple(_met(part, setting) for part in parts))
    return YES if tree == setting else tree
