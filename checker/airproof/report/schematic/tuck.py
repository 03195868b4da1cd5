"""What hangs lowest on a sheet by one line is put where there is room higher up."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from airproof.report.schematic import paper
from airproof.report.schematic.canvas import Point
from airproof.report.schematic.compact import GAPS, JOG, Course
from airproof.report.schematic.fold import ROW, folded
from airproof.report.schematic.layout import Placed, from_zero
from airproof.report.schematic.sheet import Link, Sheet

TIMES = 4


def fitted(sheet: Sheet, laid: Placed) -> Placed:
    """The sheet made to suit the paper, where its letters would be printed too small."""
    if not laid.corners:
        return laid
    laid = folded(sheet, laid)
    for _ in range(TIMES):
        found = _Tuck(sheet, laid).result()
        if found is None or paper.printed(found.size) <= paper.printed(laid.size):
            break
        laid = found
    return laid


@dataclass(frozen=True, slots=True)
class _Tuck:
    """One block moved, if letters are small."""

    sheet: Sheet
    laid: Placed

    def result(self) -> Placed | None:
        """The lowest block in the lower right corner of what is left; None where it cannot be."""
        if paper.printed(self.laid.size) >= paper.ENOUGH:
            return None
        name = max(self.laid.corners, key=self._bottom)
        hung = [link for link, _ in self.laid.courses if name in (link.start.block, link.end.block)]
        if len(hung) != 1 or hung[0].end.block != name:
            return None
        course = next(course for link, course in self.laid.courses if link == hung[0])
        floor = max((y for _, y in self._others(name, hung[0])), default=0.0)
        if len(course) < 4 or not course[-3][1] < floor + ROW < course[-2][1]:
            return None
        return self._moved(name, hung[0], course, floor)

    def _moved(self, name: str, link: Link, course: Course, floor: float) -> Placed | None:
        width, height = self.sheet.frames[name].size
        top = floor - height
        reach = [x for x, y in self._others(name, link) if y > top - GAPS[1].boxes]
        turn = max(reach) + GAPS[0].boxes
        left = turn + GAPS[0].boxes + JOG
        if left + width > self.laid.size[0]:
            return None
        level = top + self.sheet.frames[name].ports[link.end.port].row
        trunk, low = course[-3][0], floor + ROW
        way = ((trunk, low), (turn, low), (turn, level), (left, level))
        courses = tuple(
            (one, (*course[:-2], *way) if one == link else known)
            for one, known in self.laid.courses
        )
        return from_zero(self.sheet, {**self.laid.corners, name: (left, top)}, courses)

    def _bottom(self, name: str) -> float:
        return self.laid.corners[name][1] + self.sheet.frames[name].size[1]

    def _others(self, name: str, link: Link) -> list[Point]:
        """Lower right corners of all other boxes, and of the stretches of all other lines."""
        boxes = [
            (at[0] + self.sheet.frames[each].size[0], self._bottom(each))
            for each, at in self.laid.corners.items()
            if each != name
        ]
        lines = [
            (max(a[0], b[0]), max(a[1], b[1]))
            for one, course in self.laid.courses
            if one != link
            for a, b in itertools.pairwise(course)
        ]
        return boxes + lines
