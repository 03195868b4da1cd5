"""Invariants as masks over the bits of random runs: is a clause false in this state?"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import lcm

from airproof.circuit.board import ROUND, Board
from airproof.circuit.conditions import Form, compare
from airproof.circuit.cone import ELSEWHERE
from airproof.circuit.exploring import Node
from airproof.circuit.watches import FLAGS, Memory
from airproof.evidence.certificate import Clause, Invariant
from airproof.transition.layout import CLOCK
from airproof.transition.literals import Bit, Edge, Literal

BREACHED = "monitor breached"


@dataclass(frozen=True, slots=True)
class Denial:
    """A clause, false where the bits of `mask` are just those of `value`.

    names: the properties whose invariant has the clause
    breach: it only says that the property is not breached
    """

    mask: int
    value: int
    names: tuple[str, ...]
    breach: bool = False


@dataclass(frozen=True, slots=True)
class Gauge:
    """A comparison that is no landmark: its bit, and how it is told.

    terms:  (index of the value, whole weight), -1 for the clock of the watch `watch`
    upper, lower: numerator and denominator of its constant, times the weights' common unit
    """

    bit: int
    terms: tuple[tuple[int, int], ...]
    upper: int
    lower: int
    at_least: bool
    watch: int


class Clauses:
    """All clauses of some invariants, laid out beside the bits of a board.

    `watched` gives the number of each property's watch.
    """

    def __init__(
        self, board: Board, claims: Mapping[str, Invariant], watched: Mapping[str, int]
    ) -> None:
        self._board, self._watched = board, watched
        self._keys = dict(_keys(board))
        self._taken = board.size
        self._by_watch: dict[int, dict[str, int]] = {}
        self._gauges: dict[tuple[int, Edge], Gauge] = {}
        self.denials = tuple(self._denials(claims))
        self._gauged = sum(gauge.bit for gauge in self._gauges.values())
        self._falling: dict[int, list[Denial]] = {}
        self._rising: dict[int, list[Denial]] = {}
        for denial in self.denials:
            self._index(denial)

    def bits(self, node: Node, before: int | None = None) -> int:
        """Every bit that the clauses read; `before` are those of the node's parent, if known."""
        spot, parent = node.spot, node.parent
        bits = spot.facts
        for at, remembered in self._by_watch.items():
            memory = node.memories[at]
            if memory.flags or memory.breached:
                bits |= _remembering(memory, remembered)
        if before is not None and parent is not None and parent.spot.values is spot.values:
            return bits | before & self._gauged  # a switch step
        for gauge in self._gauges.values():
            if _so(gauge, node):
                bits |= gauge.bit
        return bits

    def denied(self, before: int, after: int) -> Iterator[Denial]:
        """The clauses false after a step, all of which were true before it."""
        changed = before ^ after
        while changed:
            bit = changed & -changed
            changed ^= bit
            for denial in (self._rising if after & bit else self._falling).get(bit, ()):
                if after & denial.mask == denial.value:
                    yield denial

    def denied_at_start(self, bits: int) -> Iterator[Denial]:
        """The clauses false in a start."""
        return (denial for denial in self.denials if bits & denial.mask == denial.value)

    # ---- laying it out

    def _denials(self, claims: Mapping[str, Invariant]) -> Iterator[Denial]:
        found: dict[tuple[int, int], list[str]] = {}
        for name, invariant in claims.items():
            breached = self._remembered(self._watched[name], BREACHED)
            yield Denial(breached, breached, (name,), breach=True)
            for clause in invariant.clauses:
                sides = self._sides(clause, self._watched[name])
                if sides is not None:
                    found.setdefault(sides, []).append(name)
        for (mask, value), names in found.items():
            yield Denial(mask, value, tuple(dict.fromkeys(names)))

    def _sides(self, clause: Clause, watch: int) -> tuple[int, int] | None:
        """All its bits, and those set where it is false; None if no run can tell that it is."""
        if not told(clause):
            return None
        mask = value = 0
        for literal in clause:
            bit, wanted = self._bit(literal, watch)
            if mask & bit and bool(value & bit) == wanted:
                return None
            mask |= bit
            value |= 0 if wanted else bit
        return mask, value

    def _bit(self, literal: Literal, watch: int) -> tuple[int, bool]:
        rung = literal.rung
        if isinstance(rung, Edge):
            return self._edge(rung, watch), literal.so
        if rung.key in self._keys:
            return self._keys[rung.key], literal.so
        return self._remembered(watch, rung.key), literal.so

    def _remembered(self, watch: int, key: str) -> int:
        """The bit of something that a property remembers; raises KeyError if it does not."""
        word = key.removeprefix("monitor ")
        if key != BREACHED and (word == key or word not in FLAGS):
            raise KeyError(key)
        remembered = self._by_watch.setdefault(watch, {})
        if word not in remembered:
            remembered[word] = self._take()
        return remembered[word]

    def _edge(self, edge: Edge, watch: int) -> int:
        leaf = compare(Form(edge.terms), edge.order, edge.constant)
        mark = (leaf.form, leaf.constant)
        if mark in self._board.marks:
            low, high = self._board.marks[mark]
            return low if leaf.order == ">=" else high
        clocked = watch if CLOCK in leaf.form.names else -1
        key = (clocked, edge)
        if key not in self._gauges:
            self._gauges[key] = self._gauge(edge, clocked)
        return self._gauges[key].bit

    def _gauge(self, edge: Edge, watch: int) -> Gauge:
        unit = lcm(*(weight.denominator for _, weight in edge.terms))
        places = {name: at for at, name in enumerate(self._board.names)} | {CLOCK: -1}
        constant = edge.constant * unit
        return Gauge(
            bit=self._take(),
            terms=tuple((places[name], int(weight * unit)) for name, weight in edge.terms),
            upper=constant.numerator,
            lower=constant.denominator,
            at_least=edge.order == ">=",
            watch=watch,
        )

    def _take(self) -> int:
        self._taken += 1
        return 1 << (self._taken - 1)

    def _index(self, denial: Denial) -> None:
        """Under each bit, by the way in which it must change for the clause to become false."""
        mask = denial.mask
        while mask:
            bit = mask & -mask
            mask ^= bit
            side = self._rising if denial.value & bit else self._falling
            side.setdefault(bit, []).append(denial)


def told(clause: Clause) -> bool:
    """Whether states of the whole circuit say if it is so; of a cone's surroundings they do not."""
    return not any(isinstance(x.rung, Bit) and x.rung.key.endswith(ELSEWHERE) for x in clause)


def _remembering(memory: Memory, remembered: Mapping[str, int]) -> int:
    bits = 0
    for word, bit in remembered.items():
        if memory.breached if word == "breached" else memory.flags & (1 << FLAGS.index(word)):
            bits |= bit
    return bits


def _so(gauge: Gauge, node: Node) -> bool:
    """Whether the comparison is so in this state."""
    spot, total = node.spot, 0
    scale = spot.scale
    for at, weight in gauge.terms:
        if at >= 0:
            total += weight * spot.values[at]
        else:
            total += weight * node.memories[gauge.watch].clock * (scale // ROUND)
    left, right = total * gauge.lower, gauge.upper * scale
    return left >= right if gauge.at_least else left <= right


def _keys(board: Board) -> Iterator[tuple[str, int]]:
    """The bit of each boolean variable of the encoding."""
    yield "rested", board.rested
    for name, places in board.circuit.positions.items():
        if len(places) == 2:
            yield f"position {name}", board.bound[name, places[1]]
        elif len(places) > 2:
            yield from ((f"position {name} {p}", board.bound[name, p]) for p in places)
    for name, way in board.way.items():
        yield f"way {name}", way
        yield f"aged {name}", way << board.shift
    for (name, position), bit in board.left.items():
        yield f"left {name} {position}", bit
    for (name, word), bit in board.timer.items():
        yield f"{word} {name}", bit
    for name, bit in board.fresh.items():
        yield f"fresh {name}", bit
