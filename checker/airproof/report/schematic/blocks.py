"""Whole symbols with their words: what the layout moves about as boxes."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from airproof.report.figures import plain
from airproof.report.schematic import labels, metrics, symbols
from airproof.report.schematic.canvas import Canvas, Point
from airproof.report.schematic.cells import STEP, WIDEST, Cell, widest
from airproof.report.schematic.look import Look

Side = Literal["left", "right"]
Flows = tuple[tuple[str, int], ...]  # each with +1 if its air then goes to the right
STUB = 8.0  # from the edge of a box to the symbols in it
HEADING = metrics.height(metrics.NAME)
DRAGGING = "spring is dragging"  # the longest that is said of a spring
ABOVE = HEADING + 9  # from the top of a place to its symbol


@dataclass(frozen=True, slots=True)
class Port:
    """Where a line meets a box: a side, and how far down [px]."""

    side: Side
    row: float


class Block(ABC):
    """A box with a symbol and its words; `ports` are numbered from 0."""

    __slots__ = ()

    @property
    @abstractmethod
    def size(self) -> tuple[float, float]: ...

    @property
    @abstractmethod
    def ports(self) -> tuple[Port, ...]: ...

    @abstractmethod
    def draw(self, pen: Canvas, x: float, y: float, look: Look) -> None:
        """Draws it with its upper left corner at (x, y)."""


def moves(flows: Sequence[tuple[str, int]], look: Look) -> tuple[bool, bool]:
    """Whether air moves to the right and to the left; each flow with its way across the sheet."""
    ways = {look.moving[name] * way for name, way in flows}
    return 1 in ways, -1 in ways


def stub(
    pen: Canvas, ends: tuple[float, float], y: float, flows: Sequence[tuple[str, int]], look: Look
) -> None:
    """A short level line, stout and with heads where air moves."""
    right, left = moves(flows, look)
    pen.line((ends[0], y), (ends[1], y), kind="w" if right or left else "s")
    if right:
        symbols.arrow(pen, (ends[1], y), 1, size=5)
    if left:
        symbols.arrow(pen, (ends[0], y), -1, size=5)


def amount_title(name: str, look: Look) -> str:
    """What moved in the step shown, for whoever points at the symbol."""
    moved = look.amounts.get(name)
    return f"{name}: {plain(abs(moved))} bar.litre moved" if moved else name


LONGEST = 570.0  # a row of symbols [px] before it goes on below
TURN = 10.0  # between the rows of one flow


@dataclass(frozen=True, slots=True)
class Run(Block):
    """One flow: symbols in a row between two places, or from one to the open air.

    A long row goes on in rows below, each from left to right.
    """

    name: str
    heading: str
    cells: tuple[Cell, ...]
    way: int
    left: bool
    right: bool
    drawing: str = ""

    @property
    def rows(self) -> list[list[Cell]]:
        """The cells row by row, rows of about one length."""
        whole = sum(cell.width for cell in self.cells)
        count = int(whole // LONGEST) + 1
        rows: list[list[Cell]] = [[]]
        filled = 0.0
        for cell in self.cells:
            if rows[-1] and filled + cell.width / 2 > whole * len(rows) / count:
                rows.append([])
            rows[-1].append(cell)
            filled += cell.width
        return rows

    @property
    def size(self) -> tuple[float, float]:
        rows = self.rows
        row = max(_length(cells) for cells in rows) + (self.left + self.right) * STUB
        heads = max(widest([self.heading], metrics.NAME, bold=True), widest([self.drawing])) + 6
        turns = 2 * TURN if len(rows) > 1 else 0
        return max(row + turns + STUB, heads, 40), self._lines()[-1] + _room(rows[-1])[1] + 4

    def _lines(self) -> list[float]:
        """How far down the line of each row runs."""
        at = (HEADING if self.heading else 0) + (STEP if self.drawing else 0)
        lines: list[float] = []
        for cells in self.rows:
            up, down = _room(cells)
            at += up + 2
            lines.append(at)
            at += down + TURN
        return lines

    @property
    def ports(self) -> tuple[Port, ...]:
        lines = self._lines()
        left = (Port("left", lines[0]),) if self.left else ()
        return left + ((Port("right", lines[-1]),) if self.right else ())

    def draw(self, pen: Canvas, x: float, y: float, look: Look) -> None:
        pen.text((x + 3, y + metrics.NAME), self.heading, kind="n", anchor="start", most=WIDEST)
        base = y + (metrics.NAME if self.heading else 0) + STEP - 2
        pen.text((x + 3, base), self.drawing, anchor="start", most=WIDEST)
        rows, lines = self.rows, self._lines()
        for number, cells in enumerate(rows):
            begins, ends = number == 0, number == len(rows) - 1
            self._row(pen, (x, y + lines[number]), cells, (begins, ends), look)
            if not ends:
                turn = y + lines[number] + _room(cells)[1] + TURN / 2
                self._turn(pen, x, (y + lines[number], turn, y + lines[number + 1]), look)

    def _row(
        self, pen: Canvas, at: Point, cells: list[Cell], outer: tuple[bool, bool], look: Look
    ) -> None:
        """One row, its line drawn to the sides of the box or to the turns."""
        (x, line), width = at, self.size[0]
        left, right = self.left or not outer[0], self.right or not outer[1]
        edges = (x + (0 if outer[0] else TURN), x + width - (0 if outer[1] else TURN))
        spare = edges[1] - edges[0] - _length(cells)
        each = spare / (left + right) if left or right else 0
        flows = [(self.name, self.way)]
        begin = edges[0] + (each if left else 0)
        kind = "w" if any(moves(flows, look)) else "s"
        with pen.group("symbol", self.name, amount_title(self.name, look)):
            if left:
                stub(pen, (edges[0], begin), line, flows, look)
            if right:
                stub(pen, (edges[1] - each, edges[1]), line, flows, look)
        for cell in cells:
            cell.draw(pen, begin, line, look, line=kind)
            begin += cell.width

    def _turn(self, pen: Canvas, x: float, levels: tuple[float, float, float], look: Look) -> None:
        """From the end of one row back to the beginning of the next."""
        left, right = x + TURN, x + self.size[0] - TURN
        first, between, second = levels
        kind = "w" if any(moves([(self.name, self.way)], look)) else "s"
        bends = ((right, first), (right, between), (left, between), (left, second))
        with pen.group("symbol", self.name):
            pen.line(*bends, kind=kind)


def _length(cells: Sequence[Cell]) -> float:
    return sum(cell.width for cell in cells)


def _room(cells: Sequence[Cell]) -> tuple[float, float]:
    """What the cells need above and below their line."""
    up = max((cell.up for cell in cells), default=8)
    return up, max((cell.down for cell in cells), default=4)


@dataclass(frozen=True, slots=True)
class Place(Block):
    """A supply or a volume with its name, its size and its pressure."""

    name: str
    kind: str
    about: tuple[str, ...]
    room: float
    left: Flows
    right: Flows
    spring: str | None = None

    @property
    def size(self) -> tuple[float, float]:
        heads = max(widest([self.name], metrics.NAME, bold=True), self.room)
        words = max(widest([*self.about, *([DRAGGING] if self.spring else [])]), heads)
        below = STEP * (len(self.about) + 1 + (self.spring is not None))
        return max(words, 60) + 6, ABOVE + symbols.MODULE + 4 + below + 3

    @property
    def row(self) -> float:
        return ABOVE + symbols.MODULE / 2

    @property
    def ports(self) -> tuple[Port, ...]:
        return (Port("left", self.row), Port("right", self.row))

    def draw(self, pen: Canvas, x: float, y: float, look: Look) -> None:
        width = self.size[0]
        middle, line = x + width / 2, y + self.row
        pen.text((middle, y + metrics.NAME), self.name, kind="n", most=WIDEST)
        with pen.group("symbol", self.name, f"{self.kind} {self.name}"):
            reach = self._symbol(pen, middle, line)
            for flows, ends in (
                (self.left, (x, middle - reach[0])),
                (self.right, (middle + reach[1], x + width)),
            ):
                if flows:
                    kind = "w" if any(moves(flows, look)) else "s"
                    pen.line((ends[0], line), (ends[1], line), kind=kind)
        base = line + symbols.MODULE / 2 + 3 + metrics.SMALL
        for words, kind in self._words(look):
            pen.text((middle, base), words, kind=kind, most=width)
            base += STEP

    def _words(self, look: Look) -> Iterator[tuple[str, str]]:
        yield labels.reading(look.values[self.name]), "u"
        for words in self.about:
            yield words, "t"
        if self.spring is not None:
            yield f"spring is {look.stands(self.spring) or 'moving'}", "t"

    def _symbol(self, pen: Canvas, x: float, y: float) -> tuple[float, float]:
        """Draws it; how far it reaches to the left and to the right."""
        half = symbols.MODULE / 2
        match self.kind:
            case "supply":
                symbols.supply(pen, (x, y))
                return half, half
            case "pipe":
                symbols.pipe(pen, (x, y))
                return symbols.MODULE, symbols.MODULE
            case "chamber":
                symbols.chamber(pen, (x, y))
                return 16, 16
            case "cylinder":
                symbols.cylinder(pen, (x, y), spring=self.spring is not None)
                return 14, 14
        symbols.vessel(pen, (x, y))
        return symbols.MODULE, symbols.MODULE
