"""Elapse steps on a board: what may happen while time passes, drawn at random and checked."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import count, product
from random import Random

from airproof.circuit.board import Board, Spot
from airproof.circuit.conditions import Compare, compare, form_of
from airproof.circuit.drafts import SIZES, Carried, Course, Draft, Pace, Touched
from airproof.circuit.formulas import ALWAYS, Formula, Test, all_of, any_of, compiled, has, split
from airproof.circuit.glances import Glance
from airproof.circuit.kinds import ATMOSPHERE, Band, Quantity, Supply
from airproof.circuit.readings import NOTHING
from airproof.circuit.tables import Tables, Way, downstream, upstream

TRIES = 3
LEVEL = 0.2  # how often air is tried between places that are level at the start
ONE = Fraction(1)
BOTH = (False, True)  # down and up, or there and back


@dataclass(slots=True)
class Passed:
    """An elapse step: the state that it ends in, the bits of its inside, and what flowed."""

    after: Spot
    inside: int
    amounts: dict[str, Carried]


@dataclass(frozen=True, slots=True)
class Mood:
    """What one run is like; all but `idle` and `still` are shares.

    greed: how often a course is followed as far as it goes
    stir:  how often a course is followed at all
    idle:  courses that are never followed
    still: controls that nobody touches
    hands: how often a control is moved, or what need not move yet, instead of time passing
    """

    greed: float
    stir: float
    idle: frozenset[int] = frozenset()
    still: frozenset[str] = frozenset()
    hands: float = 0.5


@dataclass(frozen=True, slots=True)
class Ticking:
    """A timer: its bits, and whether it may and must run inside a step."""

    running: int
    expired: int
    can: Test
    must: Test


@dataclass(frozen=True, slots=True)
class Unsized:
    """A volume of no stated size, and what must be so inside a step for it to rise and fall."""

    index: int
    rises: Test
    falls: Test


@dataclass(frozen=True, slots=True)
class Passing:
    """The elapse steps of a circuit.

    due:     whether something forbids time to pass, by the bits of a step's inside
    on_edge: whether what is due may depend on where a supply goes
    supplies: the course down and the course up of each
    """

    board: Board
    due: Test
    on_edge: Test
    supplies: tuple[tuple[Course, Course], ...]
    flows: tuple[Course, ...]
    quantities: tuple[Course, ...]
    timers: tuple[Ticking, ...]
    unsized: tuple[Unsized, ...]
    supply_rules: tuple[Compare, ...]

    @property
    def count(self) -> int:
        """How many courses there are; each has its number."""
        return 2 * len(self.supplies) + len(self.flows) + len(self.quantities)

    def draw(self, spot: Spot, mood: Mood, rng: Random) -> Passed | None:
        """A step from this state; None where something is due, or nothing was found."""
        if self.due(spot.facts) and not self.on_edge(spot.facts):
            return None
        for attempt in range(TRIES):
            draft = Draft(self.board, spot)
            followed = self._fill(draft, mood, rng) if attempt < TRIES - 1 else []
            passed = self._checked(draft, followed, rng)
            if passed is not None:
                return passed
        return None

    def _fill(self, draft: Draft, mood: Mood, rng: Random) -> list[Course]:
        facts, level = draft.spot.facts, rng.random() < LEVEL
        flows = [
            course
            for course in self.flows
            if (facts & course.mask == course.value and course.ready(facts))
            or (level and course.level and course.level(facts))
        ]
        rng.shuffle(flows)
        others = [course for course in self.quantities if course.ready(facts)]
        return [
            course
            for course in (*map(rng.choice, self.supplies), *flows, *others)
            if course.number not in mood.idle
            and rng.random() < mood.stir
            and draft.follow(course, mood.greed, rng)
        ]

    def _checked(self, draft: Draft, followed: Sequence[Course], rng: Random) -> Passed | None:
        """The step as drafted, if nothing is due in it and all that moved may move."""
        facts, inside = draft.ended()
        if self.due(inside) or not all(course.goes_on(inside) for course in followed):
            return None
        board = self.board
        facts = self._timed(facts, inside, rng) | board.rested
        facts |= (facts & board.all_ways) << board.shift
        after = Spot(facts, draft.values, draft.scale)
        if not (self._driven(draft, inside) and self.keeps_rules(after)):
            return None
        return Passed(after, inside, draft.amounts)

    def _driven(self, draft: Draft, inside: int) -> bool:
        """Every volume of no stated size has somewhere to fill from, or to drain to."""
        finer = draft.scale // draft.spot.scale
        for volume in self.unsized:
            rise = draft.values[volume.index] - draft.spot.values[volume.index] * finer
            if (rise > 0 and not volume.rises(inside)) or (rise < 0 and not volume.falls(inside)):
                return False
        return True

    def keeps_rules(self, spot: Spot) -> bool:
        """Whether every assumption on supplies is so in this state."""
        return all(self._written(leaf, spot) for leaf in self.supply_rules)

    def _written(self, leaf: Compare, spot: Spot) -> bool:
        names = self.board.names
        total = sum(weight * spot.values[names.index(name)] for name, weight in leaf.form.terms)
        edge = leaf.constant * spot.scale
        match leaf.order:
            case ">=":
                return total >= edge
            case ">":
                return total > edge
            case "<=":
                return total <= edge
            case "<":
                return total < edge

    def _timed(self, facts: int, inside: int, rng: Random) -> int:
        for timer in self.timers:
            if facts & timer.expired:
                continue
            if timer.must(inside) or (timer.can(inside) and rng.random() < 0.5):
                facts |= timer.running
            else:
                facts &= ~timer.running
        return facts


# ---- laying it out


def passing_of(board: Board, tables: Tables, due: Test) -> Passing:
    """The elapse steps of the circuit on this board."""
    maker = _Maker(board, Glance(board, instant=False))
    circuit = board.circuit
    edges = [
        all_of((has(low), has(high)))
        for ruler in board.rulers
        if ruler.exact
        for low, high in zip(ruler.at_least, ruler.at_most, strict=True)
    ]
    ways = [Way(f, back) for f in circuit.flows.values() for back in BOTH[: 2 - f.one_way]]
    return Passing(
        board=board,
        due=due,
        on_edge=compiled(any_of(edges)),
        supplies=tuple(maker.of_supply(supply) for supply in circuit.supplies.values()),
        flows=tuple(course for way in ways if (course := maker.of_way(way)) is not None),
        quantities=tuple(
            maker.of_quantity(q, up) for q in circuit.quantities.values() for up in (False, True)
        ),
        timers=tuple(
            Ticking(
                board.timer[timer.name, "running"],
                board.timer[timer.name, "expired"],
                compiled(maker.inside.plain(timer.runs, "can")),
                compiled(maker.inside.plain(timer.runs, "must")),
            )
            for timer in circuit.timers.values()
        ),
        unsized=tuple(
            Unsized(
                board.names.index(name),
                compiled(any_of(maker.drives(way) for way in tables.ways_in[name])),
                compiled(any_of(maker.drives(way) for way in tables.ways_out[name])),
            )
            for name, volume in circuit.volumes.items()
            if volume.size is None
        ),
        supply_rules=tuple(c for rule in tables.supply_rules.values() for c in rule.comparisons),
    )


class _Maker:
    def __init__(self, board: Board, inside: Glance) -> None:
        self.board, self.inside = board, inside
        self.index = {name: at for at, name in enumerate(board.names)}
        self.numbers = count()

    def drives(self, way: Way) -> Formula:
        """It counts as on, and leads downhill, strictly at one end of the step at least."""
        condition = self.inside.passing(way.flow.condition, "can")
        return all_of((condition, self.inside.downhill(way.flow, ">", backwards=way.backwards)))

    def of_way(self, way: Way) -> Course | None:
        """The air of a flow, one way; None if no volume notices."""
        volumes = self.board.circuit.volumes
        up, down = upstream(way), downstream(way)
        falls = self.index[up] if up in volumes else -1
        rises = self.index[down] if down in volumes else -1
        if falls == rises:
            return None
        condition = self.inside.passing(way.flow.condition, "can")
        ahead, level = (
            self.inside.downhill(way.flow, order, backwards=way.backwards) for order in (">", ">=")
        )
        mask, value, ready = split(all_of((condition, ahead)))
        return Course(
            number=next(self.numbers),
            mask=mask,
            value=value,
            ready=ready,
            level=compiled(all_of((condition, level))),
            goes_on=compiled(condition),
            falls=falls,
            rises=rises,
            touched=self._touched(falls, rises),
            paces=dict(self._paces(up, down)),
            floor=self._floor(way),
            flow=way.flow.name,
            sign=-1 if way.backwards else 1,
        )

    def of_supply(self, supply: Supply) -> tuple[Course, Course]:
        """A supply falls, and rises."""
        base, limits = self.board.base, supply.range
        ends, always = (int(limits.low * base), int(limits.high * base)), compiled(ALWAYS)
        return (
            self._alone(supply.name, False, always, ends),
            self._alone(supply.name, True, always, ends),
        )

    def of_quantity(self, quantity: Quantity, up: bool) -> Course:
        """What is not air rises or falls."""
        may = compiled(
            any_of(
                self.inside.passing(change.condition, "can")
                for change in quantity.changes
                if (change.speed.high > 0 if up else change.speed.low < 0)
            )
        )
        return self._alone(quantity.name, up, may, None)

    def _alone(self, name: str, up: bool, may: Test, limits: tuple[int, int] | None) -> Course:
        falls, rises = (-1, self.index[name]) if up else (self.index[name], -1)
        pace: Pace = (0, 1, NOTHING) if up else (1, 0, NOTHING)
        sizes = range(SIZES)
        paces = {(one, other): pace for one in sizes for other in sizes}
        number = next(self.numbers)
        return Course(
            number,
            0,
            0,
            may,
            None,
            may,
            falls,
            rises,
            self._touched(falls, rises),
            paces,
            limits=limits,
        )

    def _touched(self, falls: int, rises: int) -> Touched:
        found = []
        for at, ruler in enumerate(self.board.rulers):
            weights = dict(ruler.terms)
            down, up = weights.get(falls, 0), weights.get(rises, 0)
            if down or up:
                found.append((at, down, up))
        return tuple(found)

    def _paces(self, up: str, down: str) -> Iterator[tuple[tuple[int, int], Pace]]:
        """In whole numbers: the pressure falls by amount / size here and rises so there."""
        volumes = self.board.circuit.volumes
        for one, other in product(range(SIZES), repeat=2):
            if up not in volumes:
                yield (one, other), (0, 1, self._size(down, other))
            elif down not in volumes:
                yield (one, other), (1, 0, self._size(up, one))
            else:
                ratio = self._size(down, other) / self._size(up, one)
                falls, rises = ratio.numerator, ratio.denominator
                yield (one, other), (falls, rises, falls * self._size(up, one))

    def _size(self, volume: str, choice: int) -> Fraction:
        """An end of the band or its middle; any size at all where none is stated."""
        size = self.board.circuit.volumes[volume].size or Band(ONE, 10 * ONE)
        return (size.low, size.high, (size.low + size.high) / 2)[choice]

    def _floor(self, way: Way) -> tuple[int, int, int] | None:
        """Upstream must not end below downstream and the opening."""
        weights = {upstream(way): ONE}
        weights[downstream(way)] = -ONE
        weights.pop(ATMOSPHERE, None)
        head = compare(form_of(weights), ">=", way.flow.opening if way.flow.one_way else NOTHING)
        for at, ruler in enumerate(self.board.rulers):
            if ruler.form == head.form:
                return at, ruler.ranked.index(head.constant), 1 if head.order == ">=" else -1
        return None
