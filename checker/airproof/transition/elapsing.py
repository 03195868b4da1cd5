"""Elapse steps at any speed: time passes, nothing is due, no landmark is crossed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import z3

from airproof.circuit.conditions import Not
from airproof.circuit.kinds import (
    ATMOSPHERE,
    Circuit,
    Control,
    Device,
    Flow,
    Quantity,
    Timer,
    Volume,
)
from airproof.transition.landmarks import Landmark
from airproof.transition.layout import Moment, number
from airproof.transition.readings import Inner, Reading, cut, drop
from airproof.transition.starts import supply_rules, within
from airproof.transition.switching import rules_on
from airproof.transition.system import Conjunct


@dataclass(frozen=True, slots=True)
class Elapsing:
    """The elapse step between two moments of one layout."""

    now: Moment
    then: Moment

    @property
    def circuit(self) -> Circuit:
        return self.now.layout.circuit

    @property
    def inner(self) -> Inner:
        return Inner(self.now, self.then)

    @property
    def through(self) -> Inner:
        """How a flow's condition reads the step."""
        return Inner(self.now, self.then, flow_rule=True)

    def conjuncts(self, marks: tuple[Landmark, ...]) -> Iterator[Conjunct]:
        """Everything an elapse step must satisfy."""
        yield Conjunct(self.then.rested, ("rested",))
        yield from self.kept()
        for form, constant in marks:
            side = cut(self.now, self.then, form, constant)
            yield Conjunct(z3.Or(side.up, side.down))
        for name, term in self.due().items():
            yield Conjunct(z3.Not(term), self._whereabouts(name))
        for timer in self.circuit.timers.values():
            yield from self.timer(timer)
        yield from self.air()
        for quantity in self.circuit.quantities.values():
            yield from self.quantity(quantity)
        for name, supply in self.circuit.supplies.items():
            yield Conjunct(within(self.then, name, supply.range), (f"value {name}",))
        yield from supply_rules(self.then)

    def _whereabouts(self, name: str) -> tuple[str, ...]:
        """The keys of the variables that say where a control, device or timer is."""
        if name in self.circuit.timers:
            return (f"running {name}", f"expired {name}")
        return self.now.layout.position_keys(name)

    def kept(self) -> Iterator[Conjunct]:
        """What no elapse step changes; devices on the way have aged."""
        handles = {f"value {name}" for name in self.circuit.range_controls}
        for key, variable in self.now.layout.variables.items():
            word = key.split(" ", 1)[0]
            if word in ("position", "way", "left", "fresh", "expired") or key in handles:
                yield Conjunct(variable.then == variable.now, (key,))
            if word == "aged":
                way = self.now.way(key.split(" ", 1)[1])
                yield Conjunct(variable.then == way, (key,))

    def due(self) -> dict[str, z3.BoolRef]:
        """What would have to move first, by name."""
        terms = {n: self._device_due(d) for n, d in self.circuit.devices.items()}
        terms |= {n: self._control_due(c) for n, c in self.circuit.controls.items()}
        for name, timer in self.circuit.timers.items():
            expired = self.now.flag("expired", name)
            terms[name] = z3.And(expired, self.inner.must(Not(timer.runs)))
        return terms

    def _device_due(self, device: Device) -> z3.BoolRef:
        reading, now = self.inner, self.now
        calls = [
            z3.And(z3.Not(now.bound(device.name, move.to)), reading.must(move.when))
            for move in device.moves
        ]
        called = z3.Or([now.constant(False), *calls])
        return z3.And(z3.Not(now.way(device.name)), called) if device.moving else called

    def _control_due(self, control: Control) -> z3.BoolRef:
        reading = self.inner
        calls = [
            z3.And(
                z3.Not(self.now.bound(control.name, rule.position)), reading.must(rule.condition)
            )
            for rule in rules_on(self.circuit, control.name)
            if rule.rule == "forced"
        ]
        return z3.Or([self.now.constant(False), *calls])

    def timer(self, timer: Timer) -> Iterator[Conjunct]:
        """Its condition is read while time passes; an expired timer stays so."""
        expired, running_then = (
            self.now.flag("expired", timer.name),
            self.then.flag("running", timer.name),
        )
        counts = self.inner
        keys = (f"running {timer.name}",)
        runs = z3.Implies(counts.must(timer.runs), running_then)
        stops = z3.Implies(z3.Not(counts.can(timer.runs)), z3.Not(running_then))
        yield Conjunct(z3.If(expired, z3.Not(running_then), z3.And(runs, stops)), keys)

    def air(self) -> Iterator[Conjunct]:
        """Air moves downhill through what counts as open, and stated air is conserved."""
        for flow in self.circuit.flows.values():
            yield from self.flow(flow)
        for volume in self.circuit.volumes.values():
            yield from self.sized(volume) if volume.size else self.unsized(volume)

    def amount(self, flow: Flow) -> z3.ArithRef:
        return z3.Real(f"amount {flow.name}", self.now.layout.context)

    def flow(self, flow: Flow) -> Iterator[Conjunct]:
        amount, zero = self.amount(flow), number(self.now.layout.context, flow.opening * 0)
        counts = self.through.can(flow.condition)
        side = cut(self.now, self.then, drop(flow), flow.opening)
        keys = tuple(f"value {end}" for end in places(flow) if end in self.circuit.volumes)
        yield Conjunct(z3.Implies(amount > zero, z3.And(counts, side.up)), keys)
        back = z3.And(counts, side.down) if not flow.one_way else self.now.constant(False)
        yield Conjunct(z3.Implies(amount < zero, back), keys)

    def sized(self, volume: Volume) -> Iterator[Conjunct]:
        """V_lo |dp| <= |in - out| <= V_hi |dp|, same sign [bar litre]."""
        assert volume.size is not None
        into = [self.amount(f) for f in self.circuit.flows.values() if f.target == volume.name]
        out = [-self.amount(f) for f in self.circuit.flows.values() if f.source == volume.name]
        ctx = self.now.layout.context
        net = z3.Sum([*into, *out]) if into or out else number(ctx, volume.size.low * 0)
        change = self.then.value(volume.name) - self.now.value(volume.name)
        low, high = number(ctx, volume.size.low), number(ctx, volume.size.high)
        keys = (f"value {volume.name}",)
        if volume.size.low == volume.size.high:
            yield Conjunct(low * change == net, keys)
            return
        rises = z3.And(change >= 0, low * change <= net, net <= high * change)
        falls = z3.And(change <= 0, low * change >= net, net >= high * change)
        yield Conjunct(z3.Or(rises, falls), keys)

    def unsized(self, volume: Volume) -> Iterator[Conjunct]:
        """It rises only while something strictly above leads into it, and falls likewise."""
        was, now = self.now.value(volume.name), self.then.value(volume.name)
        ways = [f for f in self.circuit.flows.values() if volume.name in (f.source, f.target)]
        into = [self._leads(f, forward=f.target == volume.name) for f in ways]
        out = [self._leads(f, forward=f.source == volume.name) for f in ways]
        no = self.now.constant(False)
        keys = (f"value {volume.name}",)
        yield Conjunct(z3.Implies(now > was, z3.Or([no, *into])), keys)
        yield Conjunct(z3.Implies(now < was, z3.Or([no, *out])), keys)

    def _leads(self, flow: Flow, *, forward: bool) -> z3.BoolRef:
        """The flow counts as on, with its upstream never below and somewhere strictly above."""
        if not forward and flow.one_way:
            return self.now.constant(False)
        side = cut(self.now, self.then, drop(flow), flow.opening)
        high = z3.And(side.up, z3.Not(side.down))
        low = z3.And(side.down, z3.Not(side.up))
        return z3.And(self.through.can(flow.condition), high if forward else low)

    def quantity(self, quantity: Quantity) -> Iterator[Conjunct]:
        """It rises only while some change upwards counts as on, and falls likewise."""
        was, now = self.now.value(quantity.name), self.then.value(quantity.name)
        reading: Reading = self.through
        up = [reading.can(c.condition) for c in quantity.changes if c.speed.high > 0]
        down = [reading.can(c.condition) for c in quantity.changes if c.speed.low < 0]
        no = self.now.constant(False)
        keys = (f"value {quantity.name}",)
        yield Conjunct(z3.Implies(now > was, z3.Or([no, *up])), keys)
        yield Conjunct(z3.Implies(now < was, z3.Or([no, *down])), keys)


def places(flow: Flow) -> tuple[str, ...]:
    """The ends of a flow that are not atmosphere."""
    return tuple(end for end in (flow.source, flow.target) if end != ATMOSPHERE)
