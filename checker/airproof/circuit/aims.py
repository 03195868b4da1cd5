"""What random runs are drawn towards: conditions that few of their states have met so far."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from airproof.circuit.board import Board
from airproof.circuit.exploring import Node
from airproof.circuit.formulas import All, Any, Every, Formula, Test, all_of, compiled
from airproof.circuit.glances import Glance
from airproof.circuit.kinds import Circuit
from airproof.circuit.landmarks import conditions_of
from airproof.circuit.properties import AfterNever, Never, OnlyAfter, Possible
from airproof.circuit.watches import ARMED, GRANTED, Memory, Watch

SHORT = 1e-6  # by which a sum of shares may fall short of a whole


@dataclass(frozen=True, slots=True)
class Ladder:
    """A comparison as the bits that change one by one on the way to it.

    They are those of `mask`, all set in a state that meets it once those of `flip` are turned.
    """

    mask: int
    flip: int
    share: float  # of each bit


@dataclass(frozen=True, slots=True)
class Recall:
    """What the watch of this number must remember for its property to be breached."""

    watch: int
    flag: int
    wanted: bool


@dataclass(slots=True)
class Aim:
    """A condition, and the states that came closest to it.

    mask, flip: bits that must be just so, each of them one part
    ladders:    comparisons, met in part by how many landmarks have been passed
    tests:      all other parts
    most:       the closeness of a state that meets it
    met:   how many states have met it
    picks: how often a run was begun from one of `nearest` since one came closer
    """

    mask: int
    flip: int
    ladders: tuple[Ladder, ...]
    tests: tuple[Test, ...]
    recall: Recall | None
    most: float
    best: float = -1.0
    met: int = 0
    picks: int = 0
    nearest: list[Node] = field(default_factory=list)

    def closeness(self, facts: int, memories: Sequence[Memory]) -> float:
        """How many of its parts are met, and how nearly the others are."""
        close: float = ((facts ^ self.flip) & self.mask).bit_count()
        for ladder in self.ladders:
            close += ((facts ^ ladder.flip) & ladder.mask).bit_count() * ladder.share
        for test in self.tests:
            close += test(facts)
        recall = self.recall
        if recall is not None:
            close += bool(memories[recall.watch].flags & recall.flag) == recall.wanted
        return close


def aims_of(board: Board, watches: Sequence[Watch]) -> list[Aim]:
    """The conditions of flows, devices and controls, and what would breach each property."""
    now = Glance(board, instant=True)
    found: dict[tuple[Formula, Recall | None], Aim] = {}
    for formula, recall in (*_moves(now, board.circuit), *_breaches(now, watches)):
        for one in formula.parts if isinstance(formula, Any) else (formula,):
            if (one, recall) not in found:
                found[one, recall] = _aim(board, one, recall)
    return [aim for aim in found.values() if aim.most > 1 or aim.ladders]


def _moves(now: Glance, circuit: Circuit) -> Iterator[tuple[Formula, None]]:
    for flow in circuit.flows.values():
        for backwards in (False,) if flow.one_way else (False, True):
            head = now.downhill(flow, ">", backwards=backwards)
            yield all_of((now.passing(flow.condition, "can"), head)), None
    for device in circuit.devices.values():
        for move in device.moves:
            yield now.plain(move.when, "can"), None
    for timer in circuit.timers.values():
        yield now.plain(timer.runs, "can"), None
    for rule in circuit.interlocks.values():
        yield now.plain(rule.condition, "can"), None


def _breaches(now: Glance, watches: Sequence[Watch]) -> Iterator[tuple[Formula, Recall | None]]:
    for at, watch in enumerate(watches):
        sentence = watch.property.sentence
        match sentence:
            case Never(bad):
                yield now.judged(bad, "can"), None
            case Possible(goal):
                yield now.judged(goal, "must"), None
            case OnlyAfter(act, _, _):
                yield now.judged(act, "can"), Recall(at, GRANTED, False)
            case AfterNever(_, bad, _):
                yield now.judged(bad, "can"), Recall(at, ARMED, True)
            case _:
                yield from ((now.judged(c, "can"), None) for c in conditions_of(sentence))


def _aim(board: Board, formula: Formula, recall: Recall | None) -> Aim:
    mask = flip = 0
    ladders: list[Ladder] = []
    tests: list[Test] = []
    for part in formula.parts if isinstance(formula, All) else (formula,):
        if not isinstance(part, Every):
            tests.append(compiled(part))
            continue
        mask |= part.mask & ~board.all_marks
        flip |= part.mask & ~board.all_marks & ~part.value
        ladders.extend(_ladders(board, part))
    most = mask.bit_count() + len(ladders) + len(tests) + (recall is not None)
    return Aim(mask, flip, tuple(ladders), tuple(tests), recall, most - SHORT)


def _ladders(board: Board, part: Every) -> Iterator[Ladder]:
    for ruler in board.rulers:
        for sides, others in (
            (ruler.at_least, ruler.at_most[::-1]),
            (ruler.at_most[::-1], ruler.at_least),
        ):
            for at, bit in enumerate(sides):
                if part.value & bit:
                    mask = sum(sides[: at + 1])
                    yield Ladder(mask, 0, 1 / mask.bit_count())
                elif part.mask & bit:  # strictly beyond the landmark, on the other side of it
                    mask = sum(others[: len(sides) - at]) | bit
                    yield Ladder(mask, bit, 1 / mask.bit_count())
