"""A sheet that is too long for the paper, in two rows: the second goes on below the first.

The sheet is cut from top to bottom where it has no box and no upright line.  Each
line that is cut goes down at the end of the first row, back between the rows and
down to where the second begins; the lines lie within one another and cross nowhere.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from airproof.report.schematic import paper
from airproof.report.schematic.canvas import Point
from airproof.report.schematic.compact import NEAR, Course, compacted
from airproof.report.schematic.layout import Placed, from_zero
from airproof.report.schematic.sheet import Sheet

LANE = 8.0  # between lines that lead from row to row [px]
ROW = 14.0  # from a row to such a line [px]
NARROW = 2.0  # where less is free, nothing is cut [px]
TRIES = 3  # cuts that are drawn together and compared
BETTER = 1.08  # what the letters must gain by it


def folded(sheet: Sheet, laid: Placed) -> Placed:
    """The same sheet, in two rows where its letters print too small and that makes them larger."""
    plain = paper.printed(laid.size)
    if plain >= paper.ENOUGH:
        return laid
    rows = [_Fold(sheet, laid, cut).result() for cut in _cuts(sheet, laid)]
    rows.sort(key=lambda each: -paper.printed(each.size))
    drawn = [
        from_zero(sheet, *compacted(sheet, each.corners, each.courses)) for each in rows[:TRIES]
    ]
    best = max([laid, *drawn], key=lambda each: paper.printed(each.size))
    return best if paper.printed(best.size) >= BETTER * plain else laid


def _cuts(sheet: Sheet, laid: Placed) -> Iterator[float]:
    """Where the sheet may be cut: each line is cut once at most."""
    filled = sorted(_filled(sheet, laid))
    reach = filled[0][1]
    for left, right in filled[1:]:
        cut = (reach + left) / 2
        if left - reach >= NARROW and all(_times(c, cut) < 2 for _, c in laid.courses):
            yield cut
        reach = max(reach, right)


def _filled(sheet: Sheet, laid: Placed) -> Iterator[tuple[float, float]]:
    """From where to where boxes and upright lines reach across the sheet."""
    for name, (x, _) in laid.corners.items():
        yield x, x + sheet.frames[name].size[0]
    for _, course in laid.courses:
        for a, b in itertools.pairwise(course):
            if abs(a[1] - b[1]) > NEAR:
                yield min(a[0], b[0]), max(a[0], b[0])


def _times(course: Course, cut: float) -> int:
    return sum((a[0] < cut) != (b[0] < cut) for a, b in itertools.pairwise(course))


@dataclass(frozen=True, slots=True)
class _Fold:
    """One way to fold a sheet: what lies left of the cut is the first row."""

    sheet: Sheet
    laid: Placed
    cut: float

    def result(self) -> Placed:
        """The two rows, one right under the other."""
        lanes = self._lanes()
        (_, floor), (top, _) = self._extent(first=True), self._extent(first=False)
        shift = (
            LANE * (len(lanes) + 1) - self.cut,
            floor + 2 * ROW + LANE * max(0, len(lanes) - 1) - top,
        )
        corners = {
            name: at if at[0] < self.cut else _moved(at, shift)
            for name, at in self.laid.corners.items()
        }
        courses = tuple(
            (link, self._bent(course, lanes, floor, shift)) for link, course in self.laid.courses
        )
        return from_zero(self.sheet, corners, courses)

    def _lanes(self) -> list[float]:
        """The levels at which lines are cut, from the top."""
        found: list[float] = []
        for _, course in self.laid.courses:
            for a, b in itertools.pairwise(course):
                if (a[0] < self.cut) != (b[0] < self.cut):
                    found.append(a[1])
        found.sort()
        return [y for n, y in enumerate(found) if n == 0 or y - found[n - 1] > NEAR]

    def _extent(self, *, first: bool) -> Point:
        """The top and the bottom of what will be a row."""
        levels: list[float] = []
        for name, (x, y) in self.laid.corners.items():
            if (x < self.cut) == first:
                levels += (y, y + self.sheet.frames[name].size[1])
        for _, course in self.laid.courses:
            levels += (y for x, y in course if (x < self.cut) == first)
        return min(levels), max(levels)

    def _bent(self, course: Course, lanes: Sequence[float], floor: float, shift: Point) -> Course:
        """A line in its new place; the uppermost that is cut runs outermost, and lowest back."""
        bent: list[Point] = []
        for number, at in enumerate(course):
            left = at[0] < self.cut
            if number and left != (course[number - 1][0] < self.cut):
                way = self._way(at[1], lanes, floor, shift)
                bent += reversed(way) if left else way
            bent.append(at if left else _moved(at, shift))
        return tuple(bent)

    def _way(self, level: float, lanes: Sequence[float], floor: float, shift: Point) -> list[Point]:
        place = min(range(len(lanes)), key=lambda number: abs(lanes[number] - level))
        out = LANE * (len(lanes) - place)
        back = floor + ROW + out - LANE
        right = self.cut + out
        return [(right, level), (right, back), (out, back), (out, level + shift[1])]


def _moved(at: Point, shift: Point) -> Point:
    return at[0] + shift[0], at[1] + shift[1]
