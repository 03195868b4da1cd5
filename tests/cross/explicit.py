"""A third account of the meaning, for circuits without any number: every state, one by one.

It shares no line with the other two.  What a property remembers is in `watching`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import product
from typing import NamedTuple

from airproof.circuit.conditions import (
    AllOf,
    AnyOf,
    At,
    Condition,
    Expired,
    GoneTo,
    Not,
    OnTheWay,
    Truth,
)
from airproof.circuit.kinds import Circuit, Control, Device, Interlock
from airproof.circuit.properties import KeptRule


class Node(NamedTuple):
    """One state: places and what was left (None = at rest) by index, the rest by name."""

    at: tuple[str, ...]
    left: tuple[str | None, ...]
    aged: frozenset[str]
    timers: tuple[str, ...]
    fresh: frozenset[str]
    rested: bool


Test = Callable[[Node], bool]
Rule = tuple[Interlock | KeptRule, Test]


@dataclass(frozen=True, slots=True)
class Change:
    """One thing's move: its place, what it left, its timer; a blank place changes nothing."""

    index: int
    place: str
    left: str | None = None


class Machine:
    """A finite circuit laid out for counting."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.controls: list[Control] = list(circuit.controls.values())
        self.devices: list[Device] = list(circuit.devices.values())
        things: list[Control | Device] = [*self.controls, *self.devices]
        self.names = [thing.name for thing in things]
        self.where = {name: index for index, name in enumerate(self.names)}
        self.clock_of = {name: index for index, name in enumerate(circuit.timers)}
        self.runs = [self.test(timer.runs) for timer in circuit.timers.values()]
        self.calls = [
            [(move.to, self.test(move.when)) for move in device.moves] for device in self.devices
        ]
        kept = [a.rule for a in circuit.assumptions.values() if isinstance(a.rule, KeptRule)]
        rules: list[Interlock | KeptRule] = [*circuit.interlocks.values(), *kept]
        self.rules: list[list[Rule]] = [
            [(rule, self.test(rule.condition)) for rule in rules if rule.control == control.name]
            for control in self.controls
        ]

    def test(self, condition: Condition) -> Test:
        """The condition as a question to one state; can and must are one without numbers."""
        match condition:
            case Not(part):
                inner = self.test(part)
                return lambda n: not inner(n)
            case AllOf(parts):
                every = [self.test(part) for part in parts]
                return lambda n: all(question(n) for question in every)
            case AnyOf(parts):
                some = [self.test(part) for part in parts]
                return lambda n: any(question(n) for question in some)
            case At(name, place):
                i = self.where[name]
                return lambda n: n.at[i] == place and n.left[i] is None
            case OnTheWay(name):
                i = self.where[name]
                return lambda n: n.left[i] is not None
            case Expired(timer):
                i = self.clock_of[timer]
                return lambda n: n.timers[i] == "expired"
            case GoneTo(name, place):
                i = self.where[name]
                return lambda n: name in n.fresh and n.at[i] == place
            case Truth(value):
                return lambda n: value
        raise TypeError(condition)

    # ---- starts

    def starts(self, standing: str | None) -> Iterator[Node]:
        pins = self.circuit.standings[standing].positions if standing else {}
        choices: list[tuple[str, ...]] = []
        things: list[Control | Device] = [*self.controls, *self.devices]
        for thing in things:
            allowed = thing.starts
            if isinstance(thing, Control) and thing.sealed:
                allowed = (thing.sealed,)
            choices.append((pins[thing.name],) if thing.name in pins else allowed)
        still = (None,) * len(choices)
        idle = ("idle",) * len(self.clock_of)
        for places in product(*choices):
            node = Node(places, still, frozenset(), idle, frozenset(), True)
            if standing or not self._called_at_start(node):
                yield node

    def _called_at_start(self, node: Node) -> bool:
        return any(
            device.starts_called and any(to != node.at[i] and called(node) for to, called in calls)
            for i, device, calls in self._device_calls()
        )

    def _device_calls(self) -> Iterator[tuple[int, Device, list[tuple[str, Test]]]]:
        first = len(self.controls)
        for number, device in enumerate(self.devices):
            yield first + number, device, self.calls[number]

    # ---- time passes

    def elapsed(self, node: Node) -> Node | None:
        """The state after time has passed; None while anything is due."""
        if self._due(node):
            return None
        timers = tuple(
            was if was == "expired" else ("running" if runs(node) else "idle")
            for was, runs in zip(node.timers, self.runs, strict=True)
        )
        aged = frozenset(n for n, left in zip(self.names, node.left, strict=True) if left)
        return node._replace(timers=timers, aged=aged, rested=True)

    def _due(self, node: Node) -> bool:
        for i, _, calls in self._device_calls():
            if node.left[i] is None and any(to != node.at[i] and call(node) for to, call in calls):
                return True
        for i, rules in enumerate(self.rules):
            for rule, when in rules:
                if rule.rule == "forced" and node.at[i] != rule.position and when(node):
                    return True
        return any(
            was == "expired" and not runs(node)
            for was, runs in zip(node.timers, self.runs, strict=True)
        )

    # ---- something moves

    def switched(self, node: Node) -> Iterator[Node]:
        """Every state that one switch step leads to."""
        choices: list[list[Change | None]] = [
            [None, *changes] for changes in (*self.hands(node), *self.things(node))
        ]
        timers = list(product(*(self._timer(node, i) for i in range(len(self.runs)))))
        for changes in product(*choices):
            after = self.changed(node, changes)
            moved = [c.index for c in changes if c and c.index < len(self.controls)]
            for times in timers:
                done = after._replace(timers=times)
                anything = any(changes) or times != node.timers
                if anything and all(self.permitted(node, done, i) for i in moved):
                    yield done

    def hands(self, node: Node) -> Iterator[list[Change]]:
        for i, control in enumerate(self.controls):
            here = control.positions.index(node.at[i])
            yield [
                Change(i, place)
                for there, place in enumerate(control.positions)
                if there != here and not control.sealed
                if not control.ordered or abs(there - here) == 1
                if node.rested or control.name not in node.fresh or self.forces(node, i, place)
            ]

    def forces(self, node: Node, i: int, place: str) -> bool:
        return any(
            rule.rule == "forced" and when(node) and self._homeward(rule, i, node.at[i], place)
            for rule, when in self.rules[i]
        )

    def _homeward(self, rule: Interlock | KeptRule, i: int, was: str, now: str) -> bool:
        control, goal = self.controls[i], rule.position
        if now == goal or not control.ordered:
            return now == goal
        a, b, c = (control.positions.index(place) for place in (was, now, goal))
        return a != c and b == (a + 1 if c > a else a - 1)

    def permitted(self, node: Node, after: Node, i: int) -> bool:
        """The rules on control i allow its move, before and with everything else moved."""
        if not self.rules[i]:
            return True
        name, was, now = self.names[i], node.at[i], after.at[i]
        others = after._replace(
            at=(*after.at[:i], was, *after.at[i + 1 :]),
            fresh=after.fresh | {name} if name in node.fresh else after.fresh - {name},
        )
        for rule, when in self.rules[i]:
            for seen in (node, others):
                asked = when(seen)
                if rule.rule == "only" and now == rule.position and not asked:
                    return False
                if rule.rule == "locked" and was == rule.position and asked:
                    return False
                if rule.rule == "forced" and asked and not self._homeward(rule, i, was, now):
                    return False
        return True

    def things(self, node: Node) -> Iterator[list[Change]]:
        for i, device, calls in self._device_calls():
            here, left = node.at[i], node.left[i]
            wanted = {to for to, called in calls if to != here and called(node)}
            if device.moving is None:
                yield [Change(i, to) for to in sorted(wanted)]
            elif left is None:
                yield [Change(i, to, here) for to in sorted(wanted)]
            else:
                turns = [Change(i, to, here if to == left else left) for to in sorted(wanted)]
                yield [*turns, *([Change(i, here)] if device.name in node.aged else [])]

    def _timer(self, node: Node, i: int) -> Iterator[str]:
        was = node.timers[i]
        yield was
        if was == "running":
            yield "expired"
        if was != "idle" and not self.runs[i](node):
            yield "idle"

    def changed(self, node: Node, changes: tuple[Change | None, ...]) -> Node:
        at, left = list(node.at), list(node.left)
        aged, hands = set(node.aged), set()
        for change in filter(None, changes):
            at[change.index], left[change.index] = change.place, change.left
            aged.discard(self.names[change.index])
            if change.index < len(self.controls):
                hands.add(self.names[change.index])
        fresh = frozenset(hands) | (frozenset() if node.rested else node.fresh)
        return Node(tuple(at), tuple(left), frozenset(aged), node.timers, fresh, False)

    def reachable(self, standing: str | None = None) -> set[Node]:
        """Every state of every run."""
        found = set(self.starts(standing))
        waiting = list(found)
        while waiting:
            node = waiting.pop()
            passed = self.elapsed(node)
            onward = {*self.switched(node), *([passed] if passed else [])}
            waiting.extend(onward - found)
            found |= onward
        return found
