"""What things do by themselves in no time, as terms over one state.

An instant's other moves may still be chosen otherwise; here everything that
is due moves, one thing after another.  Where that comes to rest, some order
of moves does.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import z3

from airproof.circuit.conditions import Not
from airproof.circuit.kinds import Circuit, Control, Device
from airproof.circuit.state import State
from airproof.transition.decode import valuation_of
from airproof.transition.layout import Layout, Moment
from airproof.transition.readings import Inner
from airproof.transition.starts import exactly_one, supply_rules
from airproof.transition.switching import Rule, Switching, rules_on, towards
from airproof.transition.system import Conjunct
from airproof.transition.terms import all_of, any_of, implies, negation


@dataclass(frozen=True, slots=True)
class Settling:
    """Dueness in one state with every value still, and what follows from it."""

    at: Moment

    @property
    def circuit(self) -> Circuit:
        return self.at.layout.circuit

    def due(self, name: str) -> z3.BoolRef:
        """It must move before time passes, if no value changes meanwhile."""
        if name in self.circuit.timers:
            return self._expired_in_vain(name)
        if name in self.circuit.devices:
            device = self.circuit.devices[name]
            calls = [
                all_of(negation(self.at.bound(name, place)), self.called(device, place))
                for place in device.positions
            ]
            return all_of(negation(self.at.way(name)), self._any(calls))
        calls = [
            all_of(negation(self.at.bound(name, rule.position)), self._must(rule))
            for rule in self._forced(name)
        ]
        return self._any(calls)

    def called(self, device: Device, place: str) -> z3.BoolRef:
        """Some move there must count as called for."""
        reading = Inner(self.at, self.at)
        return self._any(reading.must(move.when) for move in device.moves if move.to == place)

    def settled(self, names: Iterable[str]) -> z3.BoolRef:
        """None of them is due."""
        return all_of([self.at.constant(True), *(negation(self.due(name)) for name in names)])

    def swept(self, names: Iterable[str]) -> Moment:
        """The state after each in turn has moved if it was due by then, and could."""
        moment = self.at
        for name in names:
            moment = Settling(moment)._moved(name)
        return moment

    def follows(self, states: Sequence[State]) -> tuple[z3.BoolRef, Moment]:
        """Whether the same moves as from state to state are allowed one after the other.

        And the moment that they lead to.
        """
        moment, allowed = self.at, [self.at.constant(True)]
        for before, after in itertools.pairwise(states):
            then = Settling(moment)._put(before, after)
            parts = Switching(moment, then).conjuncts()
            allowed += [part.term for part in parts if not _of_values(part)]
            moment = then
        return all_of(allowed), moment

    def _put(self, before: State, after: State) -> Moment:
        """What has another place in the state after has it now, whatever it had."""
        was, now = valuation_of(self.circuit, before), valuation_of(self.circuit, after)
        moved = {name for name, place in after.positions.items() if before.positions[name] != place}
        words = {
            key: z3.BoolVal(bool(value), self.at.layout.context)
            for key, value in now.items()
            if value != was[key] and not key.startswith(("value ", "fresh ", "rested"))
        }
        hands = {f"fresh {name}": self.at.constant(True) for name in self.circuit.controls}
        put = {key: truth for key, truth in hands.items() if key.removeprefix("fresh ") in moved}
        return self._with({**words, **put}, self.at.constant(True))

    def _any(self, terms: Iterable[z3.BoolRef]) -> z3.BoolRef:
        return any_of([self.at.constant(False), *terms])

    def _must(self, rule: Rule) -> z3.BoolRef:
        return Inner(self.at, self.at).must(rule.condition)

    def _forced(self, name: str) -> list[Rule]:
        return [rule for rule in rules_on(self.circuit, name) if rule.rule == "forced"]

    def _expired_in_vain(self, name: str) -> z3.BoolRef:
        runs = Not(self.circuit.timers[name].runs)
        return all_of(self.at.flag("expired", name), Inner(self.at, self.at).must(runs))

    # ---- one thing moves, if it is due and may

    def _moved(self, name: str) -> Moment:
        if name in self.circuit.timers:
            goes, keys = self._expired_in_vain(name), (f"running {name}", f"expired {name}")
            return self._with({k: all_of(self.at.terms[k], negation(goes)) for k in keys}, goes)
        if name in self.circuit.devices:
            return self._device_moved(self.circuit.devices[name])
        return self._control_moved(self.circuit.controls[name])

    def _device_moved(self, device: Device) -> Moment:
        name, free = device.name, negation(self.at.way(device.name))
        wanted = {p: all_of(free, self.called(device, p)) for p in device.positions}
        targets = _first(
            {p: all_of(negation(self.at.bound(name, p)), w) for p, w in wanted.items()}
        )
        goes = self._any(targets.values())
        terms = dict(_placed(self.at, name, targets, goes))
        if device.moving is not None:
            terms[f"way {name}"] = any_of(self.at.way(name), goes)
            terms[f"aged {name}"] = all_of(self.at.flag("aged", name), negation(goes))
            for place in device.positions if len(device.positions) > 2 else ():
                key = f"left {name} {place}"
                terms[key] = z3.If(goes, self.at.bound(name, place), self.at.terms[key])
        return self._with(terms, goes)

    def _control_moved(self, control: Control) -> Moment:
        name = control.name
        ways = {now: self._any(self._ways(control, now)) for now in control.positions}
        targets = _first(ways)
        goes = self._any(targets.values())
        after = self._with(dict(_placed(self.at, name, targets, goes)), goes)
        key = f"fresh {name}"
        return Moment(after.layout, {**after.terms, key: any_of(goes, after.terms[key])})

    def _ways(self, control: Control, now: str) -> Iterator[z3.BoolRef]:
        """Each forced move to this place, alone and allowed."""
        alone = Switching(self.at, self._with({}, self.at.constant(True)))
        for was in control.positions if control.sealed is None else ():
            calls = [
                self._must(rule)
                for rule in self._forced(control.name)
                if was not in (now, rule.position) and towards(control, rule.position, was, now)
            ]
            if calls:
                here, may = self.at.bound(control.name, was), alone.allowed(control, was, now)
                yield all_of(here, self._any(calls), may)

    def _with(self, terms: dict[str, z3.ExprRef], goes: z3.BoolRef) -> Moment:
        """These terms afterwards; the first move in an instant ends what had just been moved."""
        stays = negation(all_of(goes, self.at.rested))
        fresh = {k: all_of(t, stays) for k, t in self.at.terms.items() if k.startswith("fresh ")}
        rested = {"rested": all_of(self.at.rested, negation(goes))}
        return Moment(self.at.layout, {**self.at.terms, **fresh, **rested, **terms})


def _first(wanted: dict[str, z3.BoolRef]) -> dict[str, z3.BoolRef]:
    """Of several that are wanted at once, the first."""
    found: dict[str, z3.BoolRef] = {}
    for place, term in wanted.items():
        found[place] = all_of(term, *(negation(wanted[earlier]) for earlier in found))
    return found


def _placed(
    at: Moment, name: str, targets: dict[str, z3.BoolRef], goes: z3.BoolRef
) -> Iterator[tuple[str, z3.BoolRef]]:
    """The position variables after a move to whichever target is so."""
    places = at.layout.positions[name]
    if len(places) == 2:
        stays = all_of(at.bound(name, places[1]), negation(targets[places[0]]))
        yield f"position {name}", any_of(stays, targets[places[1]])
    elif len(places) > 2:
        for place in places:
            stays = all_of(at.bound(name, place), negation(goes))
            yield f"position {name} {place}", any_of(stays, targets[place])


def _of_values(part: Conjunct) -> bool:
    """It speaks of the values before and after, and none changes here."""
    return any(key.startswith("value ") for key in part.defines)


def shape(layout: Layout) -> Iterator[z3.BoolRef]:
    """What is so in every state of every run by the way states are laid out."""
    now = layout.moment(after=False)
    for name, places in layout.positions.items():
        if len(places) > 2:
            yield exactly_one([now.bound(name, p) for p in places])
    for name in layout.moving:
        yield implies(now.flag("aged", name), now.way(name))
        if len(layout.positions[name]) > 2:
            lefts = [now.left(name, p) for p in layout.positions[name]]
            yield z3.If(now.way(name), exactly_one(lefts), negation(any_of(lefts)))
            yield from (
                negation(all_of(now.left(name, p), now.bound(name, p)))
                for p in layout.positions[name]
            )
    for name in layout.circuit.timers:
        yield negation(all_of(now.flag("running", name), now.flag("expired", name)))
    yield from (part.term for part in supply_rules(now))
