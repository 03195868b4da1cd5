"""A circuit's states as two whole numbers' worth of bits and values: what random runs step on.

Every yes-or-no fact of a state is one bit of a whole number: where a component
is, whether it is on the way, on which side of each landmark a form lies.  Every
value is a whole number over a scale that all values of the state share.
`state_of` says which state that is.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import lcm

from airproof.circuit.conditions import Form
from airproof.circuit.kinds import Circuit
from airproof.circuit.landmarks import Mark
from airproof.circuit.state import State, TimerState

ROUND = 60  # steps on the finest grid per unit, so that drawn values are round
TIMERS: tuple[TimerState, ...] = ("running", "expired")

Place = tuple[str, str]  # a component and one of its positions
Levels = tuple[list[int], ...]  # each ruler's landmarks at one scale


@dataclass(slots=True)
class Spot:
    """One state.  Never changed once it is made (not frozen: that costs a third of a step)."""

    facts: int
    values: Sequence[int]
    scale: int


@dataclass(frozen=True, slots=True)
class Ruler:
    """A form with its landmarks in order, and the bits for where its value lies among them.

    terms:  (index of the value, whole weight); the weights are `unit` times the form's
    ranked: the landmarks, ascending; `at_base` at the board's own scale
    at_least, at_most: a bit for each landmark; at the landmark itself both are set
    cells:  the bits set below the first landmark, at it, above it, at the second ...
    exact:  made of supplies and range controls only
    """

    form: Form
    terms: tuple[tuple[int, int], ...]
    unit: int
    ranked: tuple[Fraction, ...]
    at_base: tuple[int, ...]
    at_least: tuple[int, ...]
    at_most: tuple[int, ...]
    cells: tuple[int, ...]
    mask: int
    exact: bool

    def value(self, values: Sequence[int]) -> int:
        """The form's value times `unit` and the scale."""
        total = 0
        for index, weight in self.terms:
            total += weight * values[index]
        return total


@dataclass(frozen=True, slots=True)
class Board:
    """Which bit says what; every mapping is by name.

    bound:   stands at the position, or is on the way to it
    rests:   stands there
    joins:   stands there, or is on the way from or to it
    left:    is on the way and left it
    ways:    devices on the way; `aged` bits lie `shift` places above these
    marks:   the bits for `form >= constant` and `form <= constant`
    size:    how many bits there are
    """

    circuit: Circuit
    rested: int
    bound: Mapping[Place, int]
    rests: Mapping[Place, int]
    joins: Mapping[Place, int]
    left: Mapping[Place, int]
    way: Mapping[str, int]
    timer: Mapping[tuple[str, TimerState], int]
    fresh: Mapping[str, int]
    all_fresh: int
    all_ways: int
    all_marks: int
    shift: int
    names: tuple[str, ...]
    exact: frozenset[str]
    rulers: tuple[Ruler, ...]
    marks: Mapping[Mark, tuple[int, int]]
    base: int
    size: int
    _levels: dict[int, Levels] = field(default_factory=dict, repr=False, compare=False)

    def levels(self, scale: int) -> Levels:
        """Each ruler's landmarks at this scale."""
        if scale not in self._levels:
            finer = scale // self.base
            self._levels[scale] = tuple([c * finer for c in r.at_base] for r in self.rulers)
        return self._levels[scale]

    def cells(self, values: Sequence[int], scale: int) -> int:
        """Every bit that tells where forms lie."""
        facts = 0
        for ruler, ranked in zip(self.rulers, self.levels(scale), strict=True):
            facts |= ruler.cells[cell(ranked, ruler.value(values))]
        return facts

    def standing(self, name: str, position: str, left: str | None = None) -> int:
        """The bits of a component that stands at a position, or is on the way there."""
        here = (name, position)
        if left is None:
            return self.bound[here] | self.rests[here] | self.joins[here]
        facts = self.bound[here] | self.left[name, left] | self.way[name]
        return facts | self.joins[here] | self.joins[name, left]

    # ---- to states and back

    def spot(self, state: State) -> Spot:
        """The state on the board."""
        given = [Fraction(state.values[name]) for name in self.names]
        scale = lcm(self.base, *(value.denominator for value in given))
        values = [int(value * scale) for value in given]
        facts = self.cells(values, scale) | (self.rested if state.rested else 0)
        for name, position in state.positions.items():
            facts |= self.standing(name, position, state.leaving.get(name))
        for name in state.aged:
            facts |= self.way[name] << self.shift
        for name, word in state.timers.items():
            facts |= self.timer.get((name, word), 0)
        for name in state.fresh:
            facts |= self.fresh[name]
        return Spot(facts, values, scale)

    def state_of(self, spot: Spot) -> State:
        """Which state of the circuit the spot is."""
        facts = spot.facts
        ways = [name for name, bit in self.way.items() if facts & bit]
        return State(
            positions={name: p for (name, p), bit in self.bound.items() if facts & bit},
            values={
                n: Fraction(v, spot.scale) for n, v in zip(self.names, spot.values, strict=True)
            },
            leaving={n: p for (n, p), bit in self.left.items() if facts & bit},
            aged=frozenset(name for name in ways if facts & (self.way[name] << self.shift)),
            timers={name: self._timer(name, facts) for name in self.circuit.timers},
            fresh=frozenset(name for name, bit in self.fresh.items() if facts & bit),
            rested=bool(facts & self.rested),
        )

    def _timer(self, name: str, facts: int) -> TimerState:
        for word in TIMERS:
            if facts & self.timer[name, word]:
                return word
        return "idle"


def cell(ranked: Sequence[int], value: int) -> int:
    """Twice the number of landmarks below the value, and one more if it is at one."""
    at = bisect_left(ranked, value)
    return 2 * at + (at < len(ranked) and ranked[at] == value)


# ---- laying it out


def board_of(circuit: Circuit, marks: Collection[Mark]) -> Board:
    """The board for runs that cross none of these landmarks."""
    bits = _Bits()
    places = [(name, p) for name, positions in circuit.positions.items() for p in positions]
    moving = [device for device in circuit.devices.values() if device.moving is not None]
    bound = {place: bits.take() for place in places}
    slow = {(d.name, p) for d in moving for p in d.positions}
    way = {device.name: bits.take() for device in moving}
    for _ in moving:
        bits.take()
    hands = [*circuit.controls, *circuit.range_controls]
    fresh = {name: bits.take() for name in hands}
    names = tuple(circuit.value_starts)
    base = _base(circuit, marks)
    rulers = tuple(_rulers(circuit, marks, base, bits))
    return Board(
        circuit=circuit,
        rested=bits.take(),
        bound=bound,
        rests={p: bits.take() if p in slow else bound[p] for p in places},
        joins={p: bits.take() if p in slow else bound[p] for p in places},
        left={(d.name, p): bits.take() for d in moving for p in d.positions},
        way=way,
        timer={(name, word): bits.take() for name in circuit.timers for word in TIMERS},
        fresh=fresh,
        all_fresh=sum(fresh.values()),
        all_ways=sum(way.values()),
        all_marks=sum(ruler.mask for ruler in rulers),
        shift=len(moving),
        names=names,
        exact=frozenset([*circuit.supplies, *circuit.range_controls]),
        rulers=rulers,
        marks={
            (ruler.form, constant): (low, high)
            for ruler in rulers
            for constant, low, high in zip(ruler.ranked, ruler.at_least, ruler.at_most, strict=True)
        },
        base=base,
        size=bits.taken,
    )


class _Bits:
    """Hands out one bit after the other."""

    def __init__(self) -> None:
        self.taken = 0

    def take(self) -> int:
        self.taken += 1
        return 1 << (self.taken - 1)


def _rulers(circuit: Circuit, marks: Collection[Mark], base: int, bits: _Bits) -> Iterator[Ruler]:
    ranked: dict[Form, list[Fraction]] = {}
    for form, constant in sorted(marks, key=lambda mark: (mark[0].terms, mark[1])):
        ranked.setdefault(form, []).append(constant)
    index = {name: at for at, name in enumerate(circuit.value_starts)}
    exact = {*circuit.supplies, *circuit.range_controls}
    for form, constants in ranked.items():
        low = tuple(bits.take() for _ in constants)
        high = tuple(bits.take() for _ in constants)
        unit = _unit(form)
        yield Ruler(
            form=form,
            terms=tuple((index[name], int(weight * unit)) for name, weight in form.terms),
            unit=unit,
            ranked=tuple(constants),
            at_base=tuple(int(constant * unit * base) for constant in constants),
            at_least=low,
            at_most=high,
            cells=tuple(_cells(low, high)),
            mask=sum(low) + sum(high),
            exact=exact.issuperset(form.names),
        )


def _cells(at_least: Sequence[int], at_most: Sequence[int]) -> Iterator[int]:
    for below in range(len(at_least) + 1):
        between = sum(at_least[:below]) + sum(at_most[below:])
        yield between
        if below < len(at_least):
            yield between | at_least[below]


def _unit(form: Form) -> int:
    return lcm(*(weight.denominator for _, weight in form.terms))


def _base(circuit: Circuit, marks: Collection[Mark]) -> int:
    """A scale at which every landmark and every end of a band is a whole number."""
    bands = [*circuit.value_starts.values(), *(s.range for s in circuit.supplies.values())]
    bands += [handle.range for handle in circuit.range_controls.values()]
    ends = [end for band in bands for end in (band.low, band.high)]
    ends += [value for s in circuit.standings.values() for value in s.values.values()]
    edges = [constant * _unit(form) for form, constant in marks]
    return ROUND * lcm(*(value.denominator for value in (*ends, *edges)))
