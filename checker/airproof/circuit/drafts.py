"""An elapse step in the making on a board: where values may go, and what is read inside."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import gcd
from random import Random

from airproof.circuit.board import Board, Spot, cell
from airproof.circuit.formulas import Test

FAR = 10  # bar or units: as far as a value goes in one step where no landmark stops it
FINEST = 1 << 160  # a scale at which values are no longer hit exactly, for numbers grow long
SIZES = 3  # which end of its band a volume's size lies at, or the middle

Touched = tuple[tuple[int, int, int], ...]  # ruler, weight of what falls, weight of what rises
Pace = tuple[int, int, Fraction]  # how fast the one falls and the other rises, for what amount


@dataclass(frozen=True, slots=True)
class Course:
    """One way for values to go: the air of a flow, a supply, a quantity.

    mask, value, ready: it may and there is somewhere to go, by the bits at the start, if those
             of `mask` are just those of `value`, and what `ready` asks besides is so
    level:   it may, though both ends are level at the start; None if that is nothing to it
    goes_on: it may, by the bits of the step's inside
    falls, rises: the values that go down and up; -1 for none
    paces:   by which size each of the two is taken to have
    floor:   (ruler, landmark, 1 or -1) that the step must not end below, or above
    flow, sign: the flow, and the sign of its amount; None for what is not air
    limits:  within which a supply stays, at the board's own scale
    """

    number: int
    mask: int
    value: int
    ready: Test
    level: Test | None
    goes_on: Test
    falls: int
    rises: int
    touched: Touched
    paces: Mapping[tuple[int, int], Pace]
    floor: tuple[int, int, int] | None = None
    flow: str | None = None
    sign: int = 1
    limits: tuple[int, int] | None = None


Carried = tuple[Course, Fraction, int, int]  # the amount in parts: fractions are slow


def amount_of(carried: Carried) -> Fraction:
    """The amount that a flow moved [bar litre], negative from target to source."""
    course, amount, far, scale = carried
    return course.sign * amount * Fraction(far, scale)


class Draft:
    """What has been drawn so far.

    bounds: for each ruler that may have moved its cell at the start, and the landmarks
            between which it may end (one before the first, or after the last: no bound)
    """

    __slots__ = ("amounts", "board", "bounds", "levels", "scale", "sizes", "spot", "values")

    def __init__(self, board: Board, spot: Spot) -> None:
        self.board, self.spot = board, spot
        self.values = list(spot.values)
        self.scale = spot.scale
        self.levels = board.levels(spot.scale)
        self.bounds: dict[int, tuple[int, int, int]] = {}
        self.sizes: dict[int, int] = {-1: 0}
        self.amounts: dict[str, Carried] = {}

    def follow(self, course: Course, greed: float, rng: Random) -> bool:
        """Goes along a course, at most until a landmark is met; whether anything changed."""
        if course.flow in self.amounts:
            return False
        sizes = self._size(course.falls, rng), self._size(course.rises, rng)
        falls, rises, amount = course.paces[sizes]
        if course.floor is not None:
            self._keep_to(*course.floor)
        room, speed = self._room(course, falls, rises)
        if room <= 0:
            return False
        if rng.random() >= greed:
            far = room * int(8 * rng.random()) // (8 * speed)
        else:
            far = self._exactly(room, speed)
        if far == 0:
            return False
        if course.falls >= 0:
            self.values[course.falls] -= falls * far
        if course.rises >= 0:
            self.values[course.rises] += rises * far
        if course.flow is not None:
            self.amounts[course.flow] = course, amount, far, self.scale
        return True

    def ended(self) -> tuple[int, int]:
        """The bits at the end of the step, and those of its inside, apart from timers."""
        board, levels = self.board, self.levels
        facts = inside = self.spot.facts
        for at, (start, _, _) in self.bounds.items():
            ruler = board.rulers[at]
            end = cell(levels[at], ruler.value(self.values))
            if end != start:
                facts = facts & ~ruler.mask | ruler.cells[end]
                if start % 2:  # it was at a landmark: the side that it moves to counts
                    side = start + 1 if end > start else start - 1
                    inside = inside & ~ruler.mask | ruler.cells[side]
        return facts, inside

    def _size(self, volume: int, rng: Random) -> int:
        if volume not in self.sizes:
            self.sizes[volume] = int(rng.random() * SIZES)
        return self.sizes[volume]

    def _bound(self, at: int) -> tuple[int, int, int]:
        if at not in self.bounds:
            ruler = self.board.rulers[at]
            here = cell(self.levels[at], ruler.value(self.values))
            self.bounds[at] = (here, here // 2 - 1, (here + 1) // 2)
        return self.bounds[at]

    def _keep_to(self, at: int, landmark: int, side: int) -> None:
        start, low, high = self._bound(at)
        if side > 0:
            self.bounds[at] = (start, max(low, landmark), high)
        else:
            self.bounds[at] = (start, low, min(high, landmark))

    def _room(self, course: Course, falls: int, rises: int) -> tuple[int, int]:
        """How far one can go before a landmark, as numerator and denominator."""
        room, most = FAR * self.scale, max(falls, rises)
        if course.limits is not None:
            low, high = course.limits
            finer = self.scale // self.board.base
            here = self.values[max(course.falls, course.rises)]
            room = min(room, high * finer - here if rises else here - low * finer)
        for at, down, up in course.touched:
            speed = up * rises - down * falls
            _, low, high = self.bounds.get(at) or self._bound(at)
            ranked, here = self.levels[at], self.board.rulers[at].value(self.values)
            if speed > 0 and high < len(ranked):
                ahead = ranked[high] - here
            elif speed < 0 and low >= 0:
                ahead, speed = here - ranked[low], -speed
            else:
                continue
            if ahead * most < room * speed:
                room, most = ahead, speed
        return room, most

    def _exactly(self, room: int, speed: int) -> int:
        """All the room there is, on a finer scale where that takes one."""
        finer = speed // gcd(room, speed)
        if finer == 1 or self.scale * finer > FINEST:
            return room // speed
        self.values = [value * finer for value in self.values]
        self.scale *= finer
        self.levels = self.board.levels(self.scale)
        return room * finer // speed
