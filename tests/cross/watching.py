"""A property beside a finite circuit, and the lengths of its breaches by plain counting."""

from __future__ import annotations

from typing import NamedTuple

import networkx as nx

from airproof.circuit.conditions import Condition
from airproof.circuit.properties import (
    AfterNever,
    Lasts,
    Never,
    OnceLasted,
    OnlyAfter,
    Possible,
    Property,
    Shows,
    Within,
)
from cross.explicit import Machine, Node

HERE = frozenset({"cleared_here", "opened_here", "struck_here"})
BEGIN = "begin"


class Memory(NamedTuple):
    """A property's bits, and its clock as none, a little, or beyond the limit."""

    bits: frozenset[str] = frozenset()
    clock: int = 0
    over: bool = False


Point = tuple[Node, Memory, str]  # and the kind of step that led here


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
            case Shows():
                raise TypeError("lists of views are counted in `telling`")

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
