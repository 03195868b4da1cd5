"""Invariants of finite circuits judged by going through every state, without a solver.

What a step is comes from the account in `cross.explicit`, what a property
remembers from `cross.watching`; both share no line with the encoding.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import combinations, product

from airproof.circuit.kinds import Circuit, Control, Device
from airproof.circuit.properties import AfterNever, OnlyAfter, Property
from airproof.evidence.certificate import Invariant
from airproof.transition.literals import Bit
from cross.explicit import Machine, Node
from cross.watching import Memory, Watcher

FLAGS: dict[type, tuple[str, ...]] = {
    OnlyAfter: ("cleared_here", "granted"),
    AfterNever: ("opened_here", "struck_here", "armed"),
}


class Judge:
    """Every state of a finite circuit, with what follows and what a property remembers."""

    def __init__(self, circuit: Circuit, asked: Property) -> None:
        self.circuit, self.machine = circuit, Machine(circuit)
        self.watcher = Watcher(self.machine, asked)
        self.begin = [(node, Memory()) for node in self.machine.starts(asked.start)]
        bits = FLAGS.get(type(asked.sentence), ())
        memories = [Memory(frozenset(b), over=o) for b in _subsets(bits) for o in (False, True)]
        self.onward = {
            (node, memory): list(self._onward(node, memory))
            for node in self._nodes()
            for memory in memories
        }

    def refutes(self, invariant: Invariant) -> bool:
        """Some state shows that the invariant proves nothing."""
        inside = {point for point in self.onward if self._inside(point, invariant)}
        return (
            not inside.issuperset(self.begin)
            or any(memory.over for _, memory in inside)
            or not all(inside.issuperset(self.onward[point]) for point in inside)
        )

    def _onward(self, node: Node, memory: Memory) -> Iterator[tuple[Node, Memory]]:
        for after in self.machine.switched(node):
            yield after, self.watcher.switched(memory, node, after)
        if (passed := self.machine.elapsed(node)) is not None:
            yield from ((passed, later) for later in self.watcher.passed(memory, node))

    def _nodes(self) -> Iterator[Node]:
        things: list[Control | Device] = [*self.machine.controls, *self.machine.devices]
        for places in product(*map(_whereabouts, things)):
            at, left = tuple(p for p, _ in places), tuple(q for _, q in places)
            ways = [n for n, q in zip(self.machine.names, left, strict=True) if q is not None]
            for aged, timers, fresh, rested in product(
                _subsets(ways),
                product(("idle", "running", "expired"), repeat=len(self.circuit.timers)),
                _subsets([control.name for control in self.machine.controls]),
                (False, True),
            ):
                yield Node(at, left, frozenset(aged), timers, frozenset(fresh), rested)

    def _inside(self, point: tuple[Node, Memory], invariant: Invariant) -> bool:
        return all(
            any(self._truth(point, x.rung.key) == x.so for x in clause if isinstance(x.rung, Bit))
            for clause in invariant.clauses
        )

    def _truth(self, point: tuple[Node, Memory], key: str) -> bool:
        node, memory = point
        match key.split(" "):
            case ["rested"]:
                return node.rested
            case ["monitor", flag]:
                return memory.over if flag == "breached" else flag in memory.bits
            case ["position", name]:
                return node.at[self.machine.where[name]] == self.circuit.positions[name][1]
            case ["position", name, place]:
                return node.at[self.machine.where[name]] == place
            case ["left", name, place]:
                return node.left[self.machine.where[name]] == place
            case ["way", name]:
                return node.left[self.machine.where[name]] is not None
            case ["aged", name]:
                return name in node.aged
            case ["fresh", name]:
                return name in node.fresh
            case [word, name]:
                return node.timers[self.machine.clock_of[name]] == word
        raise KeyError(key)


def _whereabouts(thing: Control | Device) -> list[tuple[str, str | None]]:
    """Where it may be or be bound for, and what it may have left (None: it is at rest)."""
    found: list[tuple[str, str | None]] = [(place, None) for place in thing.positions]
    if isinstance(thing, Device) and thing.moving is not None:
        found += [(to, left) for to in thing.positions for left in thing.positions if to != left]
    return found


def _subsets(names: Iterable[str]) -> list[tuple[str, ...]]:
    listed = list(names)
    return [some for n in range(len(listed) + 1) for some in combinations(listed, n)]
