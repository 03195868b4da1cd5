"""A laid out sheet drawn together: first upwards, then to the left, nothing passing anything.

Boxes and stretches of line keep their order wherever they lie side by side, so
that no line comes to run through a box and no crossing is added.  What is tied
together (a box and the level lines at its ports) moves as one.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from airproof.report.schematic.canvas import Point
from airproof.report.schematic.sheet import Link, Sheet

ROUNDS = 400  # of pushing before the sheet is left as it is
DRAWS = 30  # rounds of drawing groups down to their neighbours
JOG = 6.0  # from a port to where a line turns that comes in beside it [px]
FAR = 1e9  # nothing in the way [px]
NEAR = 0.01  # below this, coordinates are the same [px]

Course = tuple[Point, ...]
Courses = tuple[tuple[Link, Course], ...]
Corners = Mapping[str, Point]
Rules = Mapping[tuple[int, int], float]  # of a pair of groups


@dataclass(frozen=True, slots=True)
class Gaps:
    """The least distance along the squeezed axis [px]: box to box, box to line, line to line."""

    boxes: float
    beside: float
    lines: float


GAPS = (Gaps(14.0, 7.0, 6.0), Gaps(9.0, 6.0, 7.0))  # across (x), down (y)


@dataclass(frozen=True, slots=True)
class _Item:
    """A box or a stretch of line: its extent on both axes, and what it is tied to.

    `net`: the ports it hangs on; stretches of one net may lie on each other.
    """

    low: Point
    high: Point
    group: int
    net: frozenset[object]


def compacted(sheet: Sheet, corners: Corners, courses: Courses) -> tuple[Corners, Courses]:
    """The same sheet with less empty space; as it was where that cannot be done."""
    courses = tuple((link, tidied(sheet, corners, link, course)) for link, course in courses)
    for axis in (1, 0, 1):
        corners, courses = _Squeeze(sheet, corners, courses, axis).result()
    return corners, courses


def tidied(sheet: Sheet, corners: Corners, link: Link, course: Sequence[Point]) -> Course:
    """A course that begins and ends in its ports exactly, level and upright by turns."""
    start, end = spot(sheet, corners, link, False), spot(sheet, corners, link, True)
    turns, levels = _upright(course)
    for at, port, place in ((0, start, start[0] + JOG), (len(levels), end, end[0] - JOG)):
        level = levels[0 if at == 0 else -1]
        if abs(level - port[1]) > NEAR:  # the library did not quite meet the port
            turns.insert(at if at == 0 else len(turns), place)
            levels.insert(at if at == 0 else len(levels), port[1])
    points = [start]
    for number, x in enumerate(turns):
        points += [(x, levels[number]), (x, levels[number + 1])]
    return (*points, end)


def _upright(course: Sequence[Point]) -> tuple[list[float], list[float]]:
    """Where the upright stretches of a course stand, and the levels before and after each."""
    turns: list[float] = []
    levels = [course[0][1]]
    for a, b in itertools.pairwise(course):
        if abs(a[1] - b[1]) > NEAR:
            turns.append((a[0] + b[0]) / 2)
            levels.append(b[1])
    return turns, levels


def spot(sheet: Sheet, corners: Corners, link: Link, last: bool) -> Point:
    """Where a line meets the box at its end."""
    end = link.end if last else link.start
    block, corner = sheet.frames[end.block], corners[end.block]
    port = block.ports[end.port]
    return corner[0] + (block.size[0] if port.side == "right" else 0), corner[1] + port.row


class _Squeeze:
    """One push of everything towards 0 on one axis (0 across, 1 down)."""

    def __init__(self, sheet: Sheet, corners: Corners, courses: Courses, axis: int) -> None:
        self.sheet, self.corners, self.courses, self.axis = sheet, corners, courses, axis
        self.names = list(sheet.blocks)
        self.parent = list(range(len(self.names)))
        self.items: list[_Item] = []
        self.stretches: list[list[int]] = []  # the group of each moving stretch of each course

    def result(self) -> tuple[Corners, Courses]:
        """The corners and courses after the push."""
        self._gather()
        shifts = self._shifts()
        if shifts is None:
            return self.corners, self.courses
        moved = {
            name: self._along(self.corners[name], shifts[self._root(number)])
            for number, name in enumerate(self.names)
        }
        courses = tuple(
            (link, self._moved(link, course, groups, shifts, moved))
            for (link, course), groups in zip(self.courses, self.stretches, strict=True)
        )
        return moved, courses

    # ---- what there is

    def _gather(self) -> None:
        stretches = list(self._stretches())
        for number, name in enumerate(self.names):
            low, size = self.corners[name], self.sheet.frames[name].size
            high = (low[0] + size[0], low[1] + size[1])
            self.items.append(_Item(low, high, number, frozenset()))
        self.items += stretches

    def _stretches(self) -> Iterator[_Item]:
        """The stretches that the axis moves: level ones when it is down, else upright ones."""
        for link, course in self.courses:
            groups: list[int] = []
            pairs = list(itertools.pairwise(course))
            for number, (a, b) in enumerate(pairs):
                if (number % 2 == 0) != (self.axis == 1):
                    continue
                group = len(self.parent)
                self.parent.append(group)
                if self.axis == 1:
                    self._tie(group, link, number == 0, number == len(pairs) - 1)
                groups.append(group)
                low = (min(a[0], b[0]), min(a[1], b[1]))
                high = (max(a[0], b[0]), max(a[1], b[1]))
                yield _Item(low, high, group, frozenset([link.start, link.end]))
            self.stretches.append(groups)

    def _tie(self, group: int, link: Link, first: bool, last: bool) -> None:
        """A level stretch at a port moves with the box of the port."""
        for wanted, end in ((first, link.start), (last, link.end)):
            if wanted:
                self.parent[self._root(group)] = self._root(self.names.index(end.block))

    def _root(self, group: int) -> int:
        while self.parent[group] != group:
            self.parent[group] = self.parent[self.parent[group]]
            group = self.parent[group]
        return group

    # ---- the push

    def _shifts(self) -> dict[int, float] | None:
        """How far each group moves; None if that finds no rest."""
        rules = self._rules()
        lows, highs = self._extents()
        shifts = {root: -low for root, low in lows.items()}
        for _ in range(ROUNDS):
            changed = False
            for (before, after), least in rules.items():
                if shifts[after] < shifts[before] + least - NEAR / 10:
                    shifts[after] = shifts[before] + least
                    changed = True
            if not changed:
                return self._drawn(shifts, rules, highs) if self.axis == 1 else shifts
        return None

    def _extents(self) -> tuple[dict[int, float], dict[int, float]]:
        """Where each group begins and ends along the axis."""
        lows: dict[int, float] = {}
        highs: dict[int, float] = {}
        for item in self.items:
            root = self._root(item.group)
            low, high = item.low[self.axis], item.high[self.axis]
            lows[root] = min(low, lows.get(root, low))
            highs[root] = max(high, highs.get(root, high))
        return lows, highs

    def _drawn(
        self, shifts: dict[int, float], rules: Rules, highs: Mapping[int, float]
    ) -> dict[int, float]:
        """Groups with room to spare drawn down to what their lines lead to."""
        pulls, floor = self._pulls(), max(high + shifts[root] for root, high in highs.items())
        above: dict[int, list[tuple[int, float]]] = {root: [] for root in shifts}
        below: dict[int, list[tuple[int, float]]] = {root: [] for root in shifts}
        for (first, second), far in rules.items():
            above[second].append((first, far))
            below[first].append((second, far))
        for _ in range(DRAWS):
            before = dict(shifts)
            for root in sorted(pulls):
                wanted = sorted(shifts[other] + way for other, way in pulls[root])
                low = max((shifts[other] + far for other, far in above[root]), default=-FAR)
                high = min((shifts[other] - far for other, far in below[root]), default=FAR)
                high = min(high, floor - highs[root])
                if low <= high:
                    shifts[root] = max(low, min(wanted[len(wanted) // 2], high))
            if shifts == before:
                break
        return shifts

    def _pulls(self) -> dict[int, list[tuple[int, float]]]:
        """For each group, the groups it is joined to upright, and the shift that would level it."""
        found: dict[int, list[tuple[int, float]]] = {}
        for (_, course), groups in zip(self.courses, self.stretches, strict=True):
            for number, pair in enumerate(itertools.pairwise(groups)):
                one, other = self._root(pair[0]), self._root(pair[1])
                rise = course[2 * number + 2][1] - course[2 * number + 1][1]
                if one != other:
                    found.setdefault(one, []).append((other, rise))
                    found.setdefault(other, []).append((one, -rise))
        return found

    def _rules(self) -> Rules:
        """By how much more the second of two groups has to move than the first."""
        axis, found = self.axis, dict[tuple[int, int], float]()
        roots = [self._root(item.group) for item in self.items]
        order = sorted(
            range(len(roots)),
            key=lambda n: (self.items[n].low[axis] + self.items[n].high[axis], self.items[n].low),
        )
        for place, one in enumerate(order):
            for other in order[place + 1 :]:
                pair = roots[one], roots[other]
                if pair[0] == pair[1] or not self._beside(self.items[one], self.items[other]):
                    continue
                gap = self._gap(self.items[one], self.items[other])
                least = gap + self.items[one].high[axis] - self.items[other].low[axis]
                found[pair] = max(least, found.get(pair, least))
        return found

    def _beside(self, one: _Item, other: _Item) -> bool:
        """Whether they would meet if they moved along the axis."""
        across = 1 - self.axis
        room = GAPS[across].beside if bool(one.net) != bool(other.net) else GAPS[across].lines
        if one.net & other.net or self._touch(one, other):
            room = NEAR
        if not one.net and not other.net:
            room = GAPS[across].boxes
        return (
            one.low[across] < other.high[across] + room - NEAR / 2
            and other.low[across] < one.high[across] + room - NEAR / 2
        )

    def _touch(self, one: _Item, other: _Item) -> bool:
        """A box and a line of its own."""
        for box, line in ((one, other), (other, one)):
            if not box.net and line.net:
                name = self.names[box.group]
                return any(getattr(end, "block", None) == name for end in line.net)
        return False

    def _gap(self, one: _Item, other: _Item) -> float:
        gaps = GAPS[self.axis]
        if not one.net and not other.net:
            return gaps.boxes
        if one.net and other.net:
            return 0.0 if one.net & other.net else gaps.lines
        return gaps.beside

    # ---- the outcome

    def _along(self, point: Point, shift: float) -> Point:
        return (point[0] + shift, point[1]) if self.axis == 0 else (point[0], point[1] + shift)

    def _moved(
        self,
        link: Link,
        course: Course,
        groups: Sequence[int],
        shifts: Mapping[int, float],
        corners: Corners,
    ) -> Course:
        points = list(course)
        begin = 0 if self.axis == 1 else 1
        for place, group in enumerate(groups):
            shift = shifts[self._root(group)]
            for at in (begin + 2 * place, begin + 2 * place + 1):
                points[at] = self._along(points[at], shift)
        if self.axis == 0:
            points[0] = spot(self.sheet, corners, link, False)
            points[-1] = spot(self.sheet, corners, link, True)
        return tuple(points)


def junctions(courses: Courses) -> list[Point]:
    """Where lines of one net part: three ways or more meet in a point."""
    nets: dict[object, list[Course]] = {}
    for link, course in courses:
        for end in (link.start, link.end):
            nets.setdefault(end, []).append(course)
    found = {point for lines in nets.values() if len(lines) > 1 for point in _meetings(lines)}
    return sorted(found)


def _meetings(lines: Sequence[Course]) -> Iterator[Point]:
    stretches = [(a, b) for line in lines for a, b in itertools.pairwise(line)]
    for x, y in {point for line in lines for point in line[1:-1]}:
        ways: set[tuple[int, int]] = set()
        for a, b in stretches:
            ways |= _ways((x, y), a, b)
        if len(ways) > 2:
            yield x, y


def _ways(point: Point, a: Point, b: Point) -> set[tuple[int, int]]:
    """The directions in which a stretch leaves a point that lies on it."""
    inside = all(min(a[k], b[k]) - NEAR <= point[k] <= max(a[k], b[k]) + NEAR for k in (0, 1))
    if not inside:
        return set()
    return {
        (
            (end[0] > point[0] + NEAR) - (end[0] < point[0] - NEAR),
            (end[1] > point[1] + NEAR) - (end[1] < point[1] - NEAR),
        )
        for end in (a, b)
        if max(abs(end[0] - point[0]), abs(end[1] - point[1])) > NEAR
    }
