"""A third account of the meaning, for circuits without any number: every state, one by one.

It shares no line with the other two; a length found here is found by plain counting.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import product
from typing import NamedTuple

import networkx as nx

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
from airproof.circuit.properties import (
    AfterNever,
    KeptRule,
    Lasts,
    Never,
    OnceLasted,
    OnlyAfter,
    Possible,
    Property,
    Within,
)


class Node(NamedTuple):
    """One state: places and what was left (None = at rest) by index, the rest by name."""

    at: tuple[str, ...]
    left: tuple[str | None, ...]
    aged: frozenset[str]
    timers: tuple[str, ...]
    fresh: frozenset[str]
    rested: bool


class Memory(NamedTuple):
    """A property's bits, and its clock as none, a little, or beyond the limit."""

    bits: frozenset[str] = frozenset()
    clock: int = 0
    over: bool = False


Point = tuple[Node, Memory, str]  # and the kind of step that led here
Test = Callable[[Node], bool]
Rule = tuple[Interlock | KeptRule, Test]
HERE = frozenset({"cleared_here", "opened_here", "struck_here"})
BEGIN = "begin"


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
            [None, *changes] for changes in (*self._hands(node), *self._things(node))
        ]
        timers = list(product(*(self._timer(node, i) for i in range(len(self.runs)))))
        for changes in product(*choices):
            after = self._changed(node, changes)
            moved = [c.index for c in changes if c and c.index < len(self.controls)]
            for times in timers:
                done = after._replace(timers=times)
                anything = any(changes) or times != node.timers
                if anything and all(self._permitted(node, done, i) for i in moved):
                    yield done

    def _hands(self, node: Node) -> Iterator[list[Change]]:
        for i, control in enumerate(self.controls):
            here = control.positions.index(node.at[i])
            yield [
                Change(i, place)
                for there, place in enumerate(control.positions)
                if there != here and not control.sealed
                if not control.ordered or abs(there - here) == 1
                if node.rested or control.name not in node.fresh or self._forces(node, i, place)
            ]

    def _forces(self, node: Node, i: int, place: str) -> bool:
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

    def _permitted(self, node: Node, after: Node, i: int) -> bool:
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

    def _things(self, node: Node) -> Iterator[list[Change]]:
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

    def _changed(self, node: Node, changes: tuple[Change | None, ...]) -> Node:
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


class Watcher:
    """A property beside a machine; durations are as short or as long as suits a breach."""

    def __init__(self, machine: Machine, asked: Property) -> None:
        self.asked, self.sentence = asked, asked.sentence
        self._tests = {
            name: machine.test(getattr(self.sentence, name))
            for name in self.sentence.__dataclass_fields__
            if isinstance(getattr(self.sentence, name), Condition)
        }

    def _is(self, name: str, node: Node) -> bool:
        return name in self._tests and self._tests[name](node)

    def passed(self, memory: Memory, node: Node) -> set[Memory]:
        """What may be remembered after time has passed in this state."""
        return {self._told(memory, node, long) for long in (1, 2)}

    def switched(self, memory: Memory, before: Node, after: Node) -> Memory:
        if before.rested:
            memory = memory._replace(bits=memory.bits - HERE)
        return self._told(memory, after, 0) if self.asked.even_for_an_instant else memory

    def _told(self, memory: Memory, node: Node, long: int) -> Memory:
        """`long`: 0 no time, 1 a little (so little that it never adds up), 2 beyond any limit."""
        bits = memory.bits
        match self.sentence:
            case Never() | Possible():
                bad = self._is("bad", node) or self._is("goal", node)
                return Memory(over=memory.over or bad)
            case OnlyAfter():
                cleared = "cleared_here" in bits or self._is("reset", node)
                granted = not cleared and ("granted" in bits or self._is("leave", node))
                bad = self._is("act", node) and not granted
                found = _bits(cleared_here=cleared, granted=granted)
                return Memory(found, over=memory.over or bad)
            case AfterNever():
                return self._after_never(memory, node)
            case Within():
                if self._is("answer", node):
                    return Memory(over=memory.over)
                if "pending" not in bits and not self._is("cause", node):
                    return Memory(over=memory.over)
                clock = self._run(memory.clock if "pending" in bits else 0, long)
                return Memory(_bits(pending=True), clock, memory.over or clock == 2)
            case OnceLasted():
                clock = self._run(memory.clock, long) if self._is("cause", node) else 0
                bad = clock == 2 and not self._is("answer", node)
                return Memory(clock=clock, over=memory.over or bad)
            case Lasts(_, "most", _):
                clock = self._run(memory.clock, long) if self._is("state", node) else 0
                return Memory(clock=clock, over=memory.over or clock == 2)
            case Lasts():
                return self._at_least(memory, node, long)

    def _run(self, clock: int, long: int) -> int:
        """The clock after so much more; with a limit of 0 a little is beyond it."""
        limit = getattr(self.sentence, "limit", 1)
        return max(clock, 2 if long and not limit else long)

    def _after_never(self, memory: Memory, node: Node) -> Memory:
        cause, bad = self._is("cause", node), self._is("bad", node)
        opened = cause or "opened_here" in memory.bits
        struck = bad or "struck_here" in memory.bits
        kept = "armed" in memory.bits and not self._is("release", node)
        armed = opened or kept
        over = memory.over or (armed and bad) or (cause and struck)
        return Memory(_bits(opened_here=opened, struck_here=struck, armed=armed), over=over)

    def _at_least(self, memory: Memory, node: Node, long: int) -> Memory:
        held = "holding" in memory.bits
        if self._is("state", node):
            clock = self._run(memory.clock if held else 0, long)
            return Memory(_bits(holding=True), clock, memory.over)
        short = held and memory.clock < 2 and getattr(self.sentence, "limit", 1) > 0
        return Memory(over=memory.over or short)


def _bits(**bits: bool) -> frozenset[str]:
    return frozenset(name for name, value in bits.items() if value)


def graph(machine: Machine, asked: Property) -> nx.DiGraph[Point | str]:
    """Every state with what the property remembers; a weight is what a step adds to the length.

    Nothing leads on from a breach.
    """
    watcher = Watcher(machine, asked)
    found: nx.DiGraph[Point | str] = nx.DiGraph()
    found.add_node(BEGIN)
    waiting: list[Point] = [(node, Memory(), BEGIN) for node in machine.starts(asked.start)]
    found.add_weighted_edges_from((BEGIN, point, 0) for point in waiting)
    seen = set(waiting)
    onward: dict[Node, tuple[Node | None, list[Node]]] = {}
    while waiting:
        point = waiting.pop()
        node, memory, kind = point
        if memory.over:
            continue
        if node not in onward:
            onward[node] = machine.elapsed(node), list(machine.switched(node))
        passed, switched = onward[node]
        ahead: list[tuple[Point, int]] = [
            ((after, watcher.switched(memory, node, after), "switch"), 1) for after in switched
        ]
        if passed:
            later = watcher.passed(memory, node)
            ahead += [((passed, m, "elapse"), int(kind != "elapse")) for m in later]
        for target, weight in ahead:
            found.add_edge(point, target, weight=weight)
            if target not in seen:
                seen.add(target)
                waiting.append(target)
    return found


def lengths(machine: Machine, asked: Property) -> tuple[int | None, int]:
    """The least length of a breach (None: there is none), and the greatest least length."""
    found = graph(machine, asked)
    far = nx.single_source_dijkstra_path_length(found, BEGIN)
    breaches = [n for point, n in far.items() if not isinstance(point, str) and point[1].over]
    return (int(min(breaches)) if breaches else None), int(max(far.values()))
