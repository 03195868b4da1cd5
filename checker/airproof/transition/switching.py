"""Switch steps: what may move in no time, and under which rules."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import z3

from airproof.circuit.conditions import Condition, Not
from airproof.circuit.kinds import Circuit, Control, Device, Interlock, RangeControl, Timer
from airproof.circuit.properties import KeptRule
from airproof.transition.layout import Moment
from airproof.transition.origins import Origin
from airproof.transition.readings import Instant
from airproof.transition.starts import exactly_one, within
from airproof.transition.system import Conjunct
from airproof.transition.terms import all_of, any_of, implies, negation

Rule = Interlock | KeptRule


@dataclass(frozen=True, slots=True)
class Switching:
    """The switch step between two moments of one layout."""

    now: Moment
    then: Moment

    @property
    def circuit(self) -> Circuit:
        return self.now.layout.circuit

    def conjuncts(self) -> Iterator[Conjunct]:
        """Everything a switch step must satisfy."""
        yield Conjunct(negation(self.then.rested), ("rested",))
        yield Conjunct(any_of([self.now.constant(False), *self.moves()]))
        for key, variable in self.now.layout.variables.items():
            if key.startswith("value ") and key[6:] not in self.circuit.range_controls:
                yield Conjunct(variable.then == variable.now, (key,))
        for control in self.circuit.controls.values():
            yield from self.control(control)
        for handle in self.circuit.range_controls.values():
            yield from self.range_control(handle)
        for device in self.circuit.devices.values():
            yield from _one_place(self.then, device.name)
            yield from self.slow(device) if device.moving else self.quick(device)
        for timer in self.circuit.timers.values():
            yield from self.timer(timer)

    def moves(self) -> list[z3.BoolRef]:
        """One term per component: it moves in this step."""
        return [*self.control_moves(), *self.device_moves()]

    def control_moves(self) -> list[z3.BoolRef]:
        """One term per control: it moves."""
        handles = (self.range_moves(name) for name in self.circuit.range_controls)
        return [*(self.differs(name) for name in self.circuit.controls), *handles]

    def device_moves(self) -> list[z3.BoolRef]:
        """One term per device and timer: it moves."""
        devices = [
            any_of(self.differs(n), self.flips(f"way {n}")) if d.moving else self.differs(n)
            for n, d in self.circuit.devices.items()
        ]
        timers = [
            any_of(self.flips(f"running {n}"), self.flips(f"expired {n}"))
            for n in self.circuit.timers
        ]
        return [*devices, *timers]

    def differs(self, name: str) -> z3.BoolRef:
        """Another position (for a device on the way: another one it is bound for)."""
        places = self.now.layout.positions[name]
        if len(places) == 1:
            return self.now.constant(False)
        if len(places) == 2:
            return self.now.bound(name, places[1]) != self.then.bound(name, places[1])
        return any_of([self.goes(name, p) for p in places])

    def goes(self, name: str, position: str) -> z3.BoolRef:
        """It is bound for the position afterwards and was not before."""
        return all_of(negation(self.now.bound(name, position)), self.then.bound(name, position))

    def flips(self, key: str) -> z3.BoolRef:
        return self.now.terms[key] != self.then.terms[key]

    def range_moves(self, name: str) -> z3.BoolRef:
        return self.now.value(name) != self.then.value(name)

    def freshened(self, name: str, moves: z3.BoolRef) -> Conjunct:
        """`fresh` marks what moved in this instant, or began the present stretch with its move."""
        kept = all_of(self.now.flag("fresh", name), negation(self.now.rested))
        return Conjunct(self.then.flag("fresh", name) == any_of(moves, kept), (f"fresh {name}",))

    def free(self, name: str) -> z3.BoolRef:
        """A person has not moved it yet in this instant."""
        unmoved = any_of(self.now.rested, negation(self.now.flag("fresh", name)))
        return self.demand(unmoved, Origin("control", name, "once"))

    def demand(self, term: z3.BoolRef, *origins: Origin) -> z3.BoolRef:
        return self.now.layout.demand(term, *origins)

    def range_control(self, handle: RangeControl) -> Iterator[Conjunct]:
        moves = self.range_moves(handle.name)
        inside = within(self.then, handle.name, handle.range)
        inside = self.demand(inside, Origin("control", handle.name, "range"))
        allowed = all_of(self.free(handle.name), inside)
        yield Conjunct(implies(moves, allowed), (f"value {handle.name}",))
        yield self.freshened(handle.name, moves)

    def control(self, control: Control) -> Iterator[Conjunct]:
        moves = self.differs(control.name)
        yield self.freshened(control.name, moves)
        yield from _one_place(self.then, control.name)
        if control.sealed:
            yield Conjunct(self.demand(negation(moves), Origin("control", control.name, "sealed")))
            return
        for was in control.positions:
            for now in control.positions:
                if was != now:
                    passes = self._passes(control, was, now)
                    allowed = self.allowed(control, was, now)
                    keys = self.now.layout.position_keys(control.name)
                    yield Conjunct(implies(passes, allowed), keys)

    def _passes(self, control: Control, was: str, now: str) -> z3.BoolRef:
        return all_of(self.now.bound(control.name, was), self.then.bound(control.name, now))

    def allowed(self, control: Control, was: str, now: str) -> z3.BoolRef:
        """The rules on one move: order of places, once in no time, interlocks before and after."""
        skips = control.ordered and abs(_place(control, was) - _place(control, now)) != 1
        barred = self.demand(self.now.constant(False), Origin("control", control.name, "order"))
        if skips and self.now.layout.ties is None:
            return barred
        before = Instant(self.now)
        rules = owned_rules(self.circuit, control.name)
        forced = [
            before.can(rule.condition, of.to("forces"))
            for of, rule in rules
            if rule.rule == "forced" and towards(control, rule.position, was, now)
        ]
        needed = [(of, need) for of, rule in rules for need in _needs(control, rule, was, now)]
        around = Instant(self._others_moved(control.name))
        return all_of(
            any_of(self.free(control.name), *forced),
            *(all_of(before.can(need, of), around.can(need, of)) for of, need in needed),
            *([barred] if skips else []),
        )

    def _others_moved(self, name: str) -> Moment:
        """The state afterwards, with this control alone put back."""
        keys = {f"fresh {name}", *self.now.layout.position_keys(name)}
        return Moment(
            self.now.layout,
            {k: self.now.terms[k] if k in keys else t for k, t in self.then.terms.items()},
        )

    def quick(self, device: Device) -> Iterator[Conjunct]:
        """A device that moves at once: each position is entered only when called for."""
        for place in device.positions:
            if len(device.positions) > 1:
                goes = self.goes(device.name, place)
                yield Conjunct(
                    implies(goes, self.called(device, place)),
                    self.now.layout.position_keys(device.name),
                )

    def called(self, device: Device, place: str) -> z3.BoolRef:
        """Some move to this place may count as called for, before the step."""
        reading = Instant(self.now)
        calls = [
            reading.can(move.when, Origin("device", device.name, "enters", place, index))
            for index, move in enumerate(device.moves)
            if move.to == place
        ]
        no = self.now.constant(False)
        if not calls:
            no = self.demand(no, Origin("device", device.name, "never enters", place))
        return any_of([no, *calls])

    def slow(self, device: Device) -> Iterator[Conjunct]:
        """A device with a moving time: it sets off, turns round or arrives."""
        n, now, then = device.name, self.now, self.then
        way, way_then = now.way(n), then.way(n)
        aged, aged_then = now.flag("aged", n), then.flag("aged", n)
        turns = self.differs(n)
        arrives = all_of(way, negation(way_then))
        yield from self.quick(device)
        rules = [
            Conjunct(implies(turns, way_then), (f"way {n}",)),
            Conjunct(implies(all_of(way_then, negation(way)), turns), (f"way {n}",)),
            Conjunct(implies(arrives, all_of(aged, negation(turns))), (f"way {n}",)),
            Conjunct(aged_then == all_of(aged, way_then, negation(turns)), (f"aged {n}",)),
            *(self._left(device) if len(device.positions) > 2 else ()),
        ]
        for rule in rules:
            yield Conjunct(self.demand(rule.term, Origin("device", n, "travel")), rule.defines)

    def _left(self, device: Device) -> Iterator[Conjunct]:
        """What a device with three or more positions left: where it stood, or was bound for."""
        n, now, then = device.name, self.now, self.then
        turns = self.differs(n)
        for place in device.positions:
            was_left, was_bound = now.left(n, place), now.bound(n, place)
            back = any_of([all_of(now.left(n, p), then.bound(n, p)) for p in device.positions])
            source = z3.If(now.way(n), z3.If(back, was_bound, was_left), was_bound)
            kept = all_of(was_left, then.way(n))
            key = f"left {n} {place}"
            yield Conjunct(then.terms[key] == z3.If(turns, source, kept), (key,))

    def timer(self, timer: Timer) -> Iterator[Conjunct]:
        """It expires, is reset, or stays."""
        n = timer.name
        running, expired = self.now.flag("running", n), self.now.flag("expired", n)
        running_then, expired_then = self.then.flag("running", n), self.then.flag("expired", n)
        stays = all_of(running == running_then, expired == expired_then)
        ran = self.demand(running, Origin("timer", n, "expires"))
        expires = all_of(ran, expired_then, negation(running_then))
        reset = all_of(
            any_of(running, expired),
            negation(running_then),
            negation(expired_then),
            Instant(self.now).can(Not(timer.runs), Origin("timer", n, "reset")),
        )
        yield Conjunct(any_of(stays, expires, reset), (f"running {n}", f"expired {n}"))


def rules_on(circuit: Circuit, control: str) -> list[Rule]:
    """Interlocks and kept rules on one control."""
    return [rule for _, rule in owned_rules(circuit, control)]


def owned_rules(circuit: Circuit, control: str) -> list[tuple[Origin, Rule]]:
    """Interlocks and kept rules on one control, with what states them."""
    rules: list[tuple[Origin, Rule]] = [
        (Origin("interlock", name, "needs"), rule) for name, rule in circuit.interlocks.items()
    ]
    for name, assumption in circuit.assumptions.items():
        if isinstance(assumption.rule, KeptRule):
            rules.append((Origin("assumption", name, "needs"), assumption.rule))
    return [(of, rule) for of, rule in rules if rule.control == control]


def towards(control: Control, goal: str, was: str, now: str) -> bool:
    """The move is the forced one: to the goal, or one place nearer to it if places are ordered."""
    if not control.ordered:
        return now == goal
    return abs(_place(control, now) - _place(control, goal)) < abs(
        _place(control, was) - _place(control, goal)
    )


def _needs(control: Control, rule: Rule, was: str, now: str) -> Sequence[Condition]:
    """What the rule asks of this move, before and with everything else already moved."""
    if rule.rule == "only":
        return (rule.condition,) if now == rule.position else ()
    if rule.rule == "locked":
        return (Not(rule.condition),) if was == rule.position else ()
    return () if towards(control, rule.position, was, now) else (Not(rule.condition),)


def _place(control: Control, position: str) -> int:
    return control.positions.index(position)


def _one_place(then: Moment, name: str) -> Iterator[Conjunct]:
    places = then.layout.positions[name]
    if len(places) > 2:
        terms = [then.bound(name, p) for p in places]
        yield Conjunct(exactly_one(terms), then.layout.position_keys(name))
