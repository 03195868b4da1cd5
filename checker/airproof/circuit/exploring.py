"""Random runs on a board: many, deep, and the same ones whenever the seed is the same."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import reduce
from operator import or_
from random import Random
from typing import Literal

from airproof.circuit.board import ROUND, Spot, board_of
from airproof.circuit.drafts import Carried, amount_of
from airproof.circuit.formulas import Test, all_of, any_of, compiled, has
from airproof.circuit.glances import Glance
from airproof.circuit.kinds import Circuit, Control, Device
from airproof.circuit.landmarks import landmarks
from airproof.circuit.offers import Offer, offers_of
from airproof.circuit.passing import Mood, passing_of
from airproof.circuit.state import State, Step
from airproof.circuit.tables import tables_of
from airproof.circuit.watches import Memory, watch_of

TRIES = 100
AGAIN = 12
DURATIONS = (1, 30, 60, 240, 900)  # sixtieths of a second


@dataclass(slots=True)
class Node:
    """A state in a run, and the step that led to it from `parent` (None: a start).

    inside:   the bits of an elapse step's inside
    memories: what each watched property remembers
    """

    spot: Spot
    memories: tuple[Memory, ...]
    parent: Node | None = None
    kind: Literal["switch", "elapse"] = "switch"
    amounts: dict[str, Carried] = field(default_factory=dict)
    time: int = 0
    depth: int = 0
    inside: int = 0


@dataclass(frozen=True, slots=True)
class _Call:
    """A device that may not start where it is called away from, and where it may be put."""

    test: Test
    bits: int
    places: tuple[int, ...]


class Explorer:
    """Draws runs of one circuit from one start (None: its own) for the properties of that start."""

    def __init__(self, circuit: Circuit, standing: str | None, seed: int) -> None:
        tables = tables_of(circuit)
        self.marks = frozenset(
            mark
            for sentence in (None, *(p.sentence for p in circuit.properties.values()))
            for mark in landmarks(circuit, sentence)
        )
        self.circuit, self.standing = circuit, standing
        self.board = board_of(circuit, self.marks)
        self.offers = offers_of(self.board, tables)
        self.passing = passing_of(self.board, tables, self.offers.due)
        glances = Glance(self.board, instant=True), Glance(self.board, instant=False)
        self.watches = tuple(
            watch_of(glances, p) for p in circuit.properties.values() if p.start == standing
        )
        self.rng = Random(seed)
        self._calls = tuple(_calls(glances[0], circuit))

    def start(self) -> Node | None:
        """A start; None if none was found."""
        for _ in range(TRIES):
            spot = self._start()
            if self.standing is None:
                self._put_elsewhere(spot)
            calls = self.standing is None and any(call.test(spot.facts) for call in self._calls)
            if not calls and self.passing.keeps_rules(spot):
                return Node(spot, (Memory(),) * len(self.watches))
        return None

    def _put_elsewhere(self, spot: Spot) -> None:
        """Devices called away from where they would start are put elsewhere, a few times over."""
        for _ in range(AGAIN):
            called = [call for call in self._calls if call.test(spot.facts)]
            if not called:
                return
            for call in called:
                spot.facts = spot.facts & ~call.bits | self.rng.choice(call.places)

    def _start(self) -> Spot:
        board, circuit, rng = self.board, self.circuit, self.rng
        pins = circuit.standings[self.standing] if self.standing is not None else None
        facts = board.rested
        placed: list[Control | Device] = [*circuit.controls.values(), *circuit.devices.values()]
        for thing in placed:
            sealed = thing.sealed if isinstance(thing, Control) else None
            position = sealed or rng.choice(thing.starts)
            position = pins.positions.get(thing.name, position) if pins else position
            facts |= board.standing(thing.name, position)
        values = []
        for name, band in circuit.value_starts.items():
            low, high = (int(end * board.base) for end in (band.low, band.high))
            if pins and name in pins.values:
                low = high = int(pins.values[name] * board.base)
            values.append(self._between(low, high))
        return Spot(facts | board.cells(values, board.base), values, board.base)

    def _between(self, low: int, high: int) -> int:
        """An end, or one of eleven values between."""
        if low == high or self.rng.random() < 0.3:
            return self.rng.choice((low, high))
        return low + (high - low) * self.rng.randrange(13) // 12

    # ---- steps

    def switched(self, node: Node, chosen: Sequence[Offer]) -> Node | None:
        """The node after these moves at once; None if they may not be made."""
        spot = node.spot
        facts = self.offers.after(spot.facts, chosen)
        if facts is None:
            return None
        return self._after_switch(node, Spot(facts, spot.values, spot.scale))

    def _after_switch(self, node: Node, after: Spot) -> Node:
        rested = bool(node.spot.facts & self.board.rested)
        memories = tuple(
            watch.after_switch(memory, rested, after.facts)
            for watch, memory in zip(self.watches, node.memories, strict=True)
        )
        return Node(after, memories, node, depth=node.depth + 1)

    def passed(self, node: Node, mood: Mood) -> Node | None:
        """The node after some time; None if none can pass."""
        step = self.passing.draw(node.spot, mood, self.rng)
        if step is None:
            return None
        time = self.rng.choice(DURATIONS)
        memories = tuple(
            watch.inside(memory, step.inside, time)
            for watch, memory in zip(self.watches, node.memories, strict=True)
        )
        return Node(
            step.after, memories, node, "elapse", step.amounts, time, node.depth + 1, step.inside
        )

    def turned(self, node: Node, name: str) -> Node | None:
        """The node after a range control was set anew; None if it has just been."""
        board, spot = self.board, node.spot
        hand, at = board.fresh[name], board.names.index(name)
        if spot.facts & hand and not spot.facts & board.rested:
            return None
        band = self.circuit.range_controls[name].range
        low, high = (int(end * board.base) for end in (band.low, band.high))
        value = self._between(low, high) * (spot.scale // board.base)
        if value == spot.values[at]:
            return None
        values = [*spot.values[:at], value, *spot.values[at + 1 :]]
        facts = self.offers.after(spot.facts, ())
        assert facts is not None
        facts = facts & ~board.all_marks | board.cells(values, spot.scale) | hand
        return self._after_switch(node, Spot(facts, values, spot.scale))

    def step(self, node: Node) -> Step:
        """The step that leads to this node from its parent."""
        amounts = {flow: amount_of(carried) for flow, carried in node.amounts.items()}
        after = self.board.state_of(node.spot)
        return Step(node.kind, after, amounts, Fraction(node.time, ROUND))

    def states(self, node: Node) -> tuple[State, tuple[Step, ...]]:
        """The whole run that ends here: its start and its steps."""
        steps: list[Step] = []
        while node.parent is not None:
            steps.append(self.step(node))
            node = node.parent
        return self.board.state_of(node.spot), tuple(reversed(steps))


def _calls(now: Glance, circuit: Circuit) -> Iterator[_Call]:
    board = now.board
    for device in circuit.devices.values():
        if device.starts_called:
            called = any_of(
                all_of((has(board.rests[device.name, here]), now.plain(move.when, "must")))
                for here in device.positions
                for move in device.moves
                if move.to != here
            )
            standing = [board.standing(device.name, here) for here in device.starts]
            everywhere = [board.standing(device.name, here) for here in device.positions]
            yield _Call(compiled(called), reduce(or_, everywhere), tuple(standing))
