"""Elapse steps at any speed: time passes, nothing is due, no landmark is crossed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

import z3

from airproof.circuit.conditions import Not
from airproof.circuit.kinds import (
    ATMOSPHERE,
    Circuit,
    Control,
    Device,
    Flow,
    Quantity,
    Supply,
    Timer,
    Volume,
)
from airproof.transition.landmarks import Landmark
from airproof.transition.layout import Moment, number
from airproof.transition.origins import Origin
from airproof.transition.owners import owners
from airproof.transition.readings import Cut, Inner, Reading, cut, drop
from airproof.transition.starts import supply_rules, within
from airproof.transition.switching import owned_rules
from airproof.transition.system import Conjunct
from airproof.transition.terms import all_of, any_of, implies, negation


@dataclass(frozen=True, slots=True)
class Elapsing:
    """The elapse step between two moments of one layout.

    ways: each flow as far as it was looked at: whether it counts as open, where it lies
    """

    now: Moment
    then: Moment
    ways: dict[str, tuple[z3.BoolRef, Cut]] = field(default_factory=dict, compare=False, repr=False)

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

    def conjuncts(
        self,
        marks: tuple[Landmark, ...],
        due: Mapping[str, z3.BoolRef],
        air: Iterable[Conjunct],
    ) -> Iterator[Conjunct]:
        """Everything an elapse step must satisfy, with the terms of `due` and of `air`."""
        yield Conjunct(self.then.rested, ("rested",))
        yield from self.kept()
        owned = owners(self.circuit) if self.now.layout.ties else {}
        for form, constant in marks:
            side = cut(self.now, self.then, form, constant)
            uncut = any_of(side.up, side.down)
            yield Conjunct(self.demand(uncut, *owned.get((form, constant), ())))
        for name, term in due.items():
            yield Conjunct(negation(term), self._whereabouts(name))
        for timer in self.circuit.timers.values():
            yield from self.timer(timer)
        yield from air
        for quantity in self.circuit.quantities.values():
            yield from self.quantity(quantity)
        for name, supply in self.circuit.supplies.items():
            yield Conjunct(self.supply(supply), (f"value {name}",))
        yield from supply_rules(self.then)

    def demand(self, term: z3.BoolRef, *origins: Origin) -> z3.BoolRef:
        return self.now.layout.demand(term, *origins)

    def supply(self, supply: Supply) -> z3.BoolRef:
        """It stays within its range."""
        if self.now.layout.ties is None:
            return within(self.then, supply.name, supply.range)
        value, ctx = self.then.value(supply.name), self.now.layout.context
        low, high = number(ctx, supply.range.low), number(ctx, supply.range.high)
        return all_of(
            self.demand(value >= low, Origin("supply", supply.name, "low")),
            self.demand(value <= high, Origin("supply", supply.name, "high")),
        )

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
            ended = self.inner.must(Not(timer.runs), Origin("timer", name, "due"))
            terms[name] = all_of(expired, ended)
        return terms

    def _device_due(self, device: Device) -> z3.BoolRef:
        reading, now, n = self.inner, self.now, device.name
        calls = [
            all_of(
                negation(now.bound(n, move.to)),
                reading.must(move.when, Origin("device", n, "due", move.to, index)),
            )
            for index, move in enumerate(device.moves)
        ]
        called = any_of([now.constant(False), *calls])
        return all_of(negation(now.way(n)), called) if device.moving else called

    def _control_due(self, control: Control) -> z3.BoolRef:
        reading = self.inner
        calls = [
            all_of(
                negation(self.now.bound(control.name, rule.position)),
                reading.must(rule.condition, of.to("due")),
            )
            for of, rule in owned_rules(self.circuit, control.name)
            if rule.rule == "forced"
        ]
        return any_of([self.now.constant(False), *calls])

    def timer(self, timer: Timer) -> Iterator[Conjunct]:
        """Its condition is read while time passes; an expired timer stays so."""
        expired, running_then = (
            self.now.flag("expired", timer.name),
            self.then.flag("running", timer.name),
        )
        counts = self.inner
        keys = (f"running {timer.name}",)
        must = counts.must(timer.runs, Origin("timer", timer.name, "must run"))
        may = counts.can(timer.runs, Origin("timer", timer.name, "runs"))
        runs = implies(must, running_then)
        stops = implies(negation(may), negation(running_then))
        yield Conjunct(z3.If(expired, negation(running_then), all_of(runs, stops)), keys)

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
        counts, side = self.way(flow)
        keys = tuple(f"value {end}" for end in places(flow) if end in self.circuit.volumes)
        yield Conjunct(implies(amount > zero, all_of(counts, side.up)), keys)
        back = all_of(counts, side.down) if not flow.one_way else self.checked(flow, counts, side)
        yield Conjunct(implies(amount < zero, back), keys)

    def way(self, flow: Flow) -> tuple[z3.BoolRef, Cut]:
        """The flow may count as open; upstream is never below downstream, or never above."""
        if flow.name not in self.ways:
            self.ways[flow.name] = (self._counts(flow), self._beside(flow))
        return self.ways[flow.name]

    def _counts(self, flow: Flow) -> z3.BoolRef:
        return self.through.can(flow.condition, Origin("flow", flow.name, "condition"))

    def _beside(self, flow: Flow) -> Cut:
        side = cut(self.now, self.then, drop(flow), flow.opening)
        if self.now.layout.ties is None:
            return side
        level, name = cut(self.now, self.then, drop(flow), flow.opening * 0), flow.name
        opened = self.demand(side.up, Origin("flow", name, "opening"))
        up = all_of(level.up, opened) if flow.opening else level.up
        downhill = Origin("flow", name, "downhill")
        return Cut(self.demand(up, downhill), self.demand(level.down, downhill))

    def checked(self, flow: Flow, counts: z3.BoolRef, side: Cut) -> z3.BoolRef:
        """What air may do against a check valve: nothing, unless that is let go."""
        no = self.now.constant(False)
        if self.now.layout.ties is None:
            return no
        return all_of(self.demand(no, Origin("flow", flow.name, "one way")), counts, side.down)

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
            yield Conjunct(self.stored(volume, low * change == net), keys)
            return
        rises = all_of(change >= 0, low * change <= net, net <= high * change)
        falls = all_of(change <= 0, low * change >= net, net >= high * change)
        yield Conjunct(self.stored(volume, any_of(rises, falls)), keys)

    def stored(self, volume: Volume, term: z3.BoolRef) -> z3.BoolRef:
        """The stated size, and what is left of the rule for a volume of no stated size."""
        if self.now.layout.ties is None:
            return term
        was, now = self.now.value(volume.name), self.then.value(volume.name)
        no = self.now.constant(False)
        into: list[z3.BoolRef] = []
        out: list[z3.BoolRef] = []
        for flow in self.circuit.flows.values():
            if volume.name in (flow.source, flow.target):
                for forward in (True, False):
                    way = into if forward == (flow.target == volume.name) else out
                    way.append(self.leads(flow, forward=forward))
        reached = all_of(
            implies(now > was, any_of([no, *into])), implies(now < was, any_of([no, *out]))
        )
        tight, size = (Origin("volume", volume.name, rule) for rule in ("tight", "size"))
        return self.demand(all_of(reached, self.demand(term, size)), tight)

    def unsized(self, volume: Volume) -> Iterator[Conjunct]:
        """It rises only while something strictly above leads into it, and falls likewise."""
        was, now = self.now.value(volume.name), self.then.value(volume.name)
        ways = [f for f in self.circuit.flows.values() if volume.name in (f.source, f.target)]
        into = [self._leads(f, forward=f.target == volume.name) for f in ways]
        out = [self._leads(f, forward=f.source == volume.name) for f in ways]
        no = self.now.constant(False)
        keys, tight = (f"value {volume.name}",), Origin("volume", volume.name, "tight")
        for moves, ways_there in ((now > was, into), (now < was, out)):
            reached = implies(moves, any_of([no, *ways_there]))
            yield Conjunct(self.demand(reached, tight), keys)

    def _leads(self, flow: Flow, *, forward: bool) -> z3.BoolRef:
        """The flow counts as on, with its upstream never below and somewhere strictly above."""
        if self.now.layout.ties is not None:
            return self._may_lead(flow, forward=forward)
        if not forward and flow.one_way:
            return self.now.constant(False)
        side = cut(self.now, self.then, drop(flow), flow.opening)
        high = all_of(side.up, negation(side.down))
        low = all_of(side.down, negation(side.up))
        return all_of(self._counts(flow), high if forward else low)

    def _may_lead(self, flow: Flow, *, forward: bool) -> z3.BoolRef:
        """The same, as far as it is asked for."""
        level = cut(self.now, self.then, drop(flow), flow.opening * 0)
        strictly = negation(level.down if forward else level.up)
        if forward and flow.opening:
            opened = cut(self.now, self.then, drop(flow), flow.opening)
            sprung = self.demand(negation(opened.down), Origin("flow", flow.name, "opening"))
            strictly = all_of(strictly, sprung)
        downhill = self.demand(strictly, Origin("flow", flow.name, "downhill"))
        return all_of(self.leads(flow, forward=forward), downhill)

    def leads(self, flow: Flow, *, forward: bool) -> z3.BoolRef:
        """The flow counts as on and its upstream is never below, as far as that is asked for."""
        counts, side = self.way(flow)
        if forward or not flow.one_way:
            return all_of(counts, side.up if forward else side.down)
        return self.checked(flow, counts, side)

    def quantity(self, quantity: Quantity) -> Iterator[Conjunct]:
        """It rises only while some change upwards counts as on, and falls likewise."""
        was, now = self.now.value(quantity.name), self.then.value(quantity.name)
        reading: Reading = self.through
        rises, falls = (Origin("quantity", quantity.name, rule) for rule in ("rises", "falls"))
        changes = list(enumerate(quantity.changes))
        up = [reading.can(c.condition, rises.at(i)) for i, c in changes if c.speed.high > 0]
        down = [reading.can(c.condition, falls.at(i)) for i, c in changes if c.speed.low < 0]
        no, keys = self.now.constant(False), (f"value {quantity.name}",)
        still = no if up else self.demand(no, rises.to("never rises"))
        yield Conjunct(implies(now > was, any_of([still, *up])), keys)
        still = no if down else self.demand(no, falls.to("never falls"))
        yield Conjunct(implies(now < was, any_of([still, *down])), keys)


def places(flow: Flow) -> tuple[str, ...]:
    """The ends of a flow that are not atmosphere."""
    return tuple(end for end in (flow.source, flow.target) if end != ATMOSPHERE)
