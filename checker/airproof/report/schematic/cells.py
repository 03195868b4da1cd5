"""Symbols that stand in a row on one line of air, each with its words above and below."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass

from airproof.circuit.conditions import Condition
from airproof.report.schematic import metrics, symbols
from airproof.report.schematic.canvas import Canvas
from airproof.report.schematic.look import Look
from airproof.report.schematic.symbols import ENGINE, MODULE

GAP = 7.0  # between a symbol and its words, and either side of a cell
WIDEST = 215.0  # words beside a symbol [px]
STEP = metrics.height(metrics.SMALL)
BESIDE = metrics.ASCENT * metrics.SMALL - 4  # from what slides to the middle of a pilot's words
SLIDE = 1.5 * MODULE + ENGINE  # how far two squares reach from their line, with their engines


def widest(lines: Sequence[str], size: float = metrics.SMALL, *, bold: bool = False) -> float:
    """The width of the longest line [px], at most WIDEST."""
    return min(max((metrics.width(line, size, bold=bold) for line in lines), default=0), WIDEST)


class Cell(ABC):
    """One symbol on a line; `up` and `down` are its room above and below the line [px]."""

    __slots__ = ()

    @property
    @abstractmethod
    def width(self) -> float: ...

    @property
    @abstractmethod
    def up(self) -> float: ...

    @property
    @abstractmethod
    def down(self) -> float: ...

    @abstractmethod
    def draw(self, pen: Canvas, x: float, y: float, look: Look, *, line: str = "s") -> None:
        """Draws it from x to x + width on the line y; `line` is the kind of its strokes."""


@dataclass(frozen=True, slots=True)
class Pilot:
    """What works a valve at one end: a kind of engine, and what it reads, in lines."""

    engine: str
    reads: tuple[str, ...] = ()

    @property
    def height(self) -> float:
        """The room of its words beyond the end of the slide [px]."""
        return 6 + STEP * len(self.reads) if self.reads else 0

    def draw(self, pen: Canvas, middle: float, start: float, end: float) -> None:
        """Dashed from the engine at `start` to `end`, the words beside and beyond that."""
        if not self.reads:
            return
        if self.engine == "pilot":
            pen.line((middle, start), (middle, end), (middle + 6, end), kind="pilot")
        base = end + 3.5 - (STEP * (len(self.reads) - 1) if end < start else 0)
        pen.texts((middle + 9, base), self.reads, anchor="start", most=WIDEST)


@dataclass(frozen=True, slots=True)
class GateCell(Cell):
    """Two squares: one lets air pass, one does not; that of the present position is in line.

    `device` is None for a condition that no single device stands for.
    `first`: the open square is the upper one.
    """

    name: str
    below: tuple[str, ...]
    device: str | None
    passes: tuple[str, ...]
    positions: tuple[str, ...]
    condition: Condition | None
    first: bool
    top: Pilot
    bottom: Pilot
    way: int  # +1 left to right, -1 back, 0 both
    title: str = ""

    @property
    def width(self) -> float:
        left = self._middle()
        reads = max(widest(self.top.reads), widest(self.bottom.reads))
        return left + max(left, 10 + reads + GAP if reads else 0)

    def _stands(self) -> list[str]:
        return [f"is {position}" for position in (*self.positions, "moving") if self.device]

    @property
    def up(self) -> float:
        return SLIDE + max(2, self.top.height)

    @property
    def down(self) -> float:
        lines = 1 + len(self.below) + (self.device is not None)
        return SLIDE + self.bottom.height + lines * STEP + 4

    def _middle(self) -> float:
        words = widest([*self.below, *self._stands()]) / 2
        return max(words, widest([self.name], bold=True) / 2, MODULE / 2) + GAP

    def shift(self, look: Look) -> float:
        """How far the squares have slid: 0 with the open one in line, 1 with the shut one."""
        if self.device is not None:
            stands = look.stands(self.device)
            if stands is None:
                return 0.5
            return 0.0 if stands in self.passes else 1.0
        may, must = look.so(self.condition) if self.condition else (True, True)
        return 0.0 if must else 0.5 if may else 1.0

    def draw(self, pen: Canvas, x: float, y: float, look: Look, *, line: str = "s") -> None:
        middle = x + self._middle()
        left, right = middle - MODULE / 2, middle + MODULE / 2
        slid = self.shift(look) if self.first else 1 - self.shift(look)
        top = y - MODULE / 2 - slid * MODULE
        end = top + 2 * MODULE
        with pen.group("symbol", self.name, self.title):
            pen.line((x, y), (left, y), kind=line)
            pen.line((right, y), (x + self.width, y), kind=line)
            self._squares(pen, left, top)
            symbols.engine(pen, self.top.engine, middle, top, True)
            symbols.engine(pen, self.bottom.engine, middle, end, False)
        self.top.draw(pen, middle, top - ENGINE + 1, y - SLIDE - BESIDE)
        self.bottom.draw(pen, middle, end + ENGINE - 1, y + SLIDE + BESIDE)
        self._words(pen, middle, y + SLIDE + self.bottom.height + STEP - 1, look)

    def _words(self, pen: Canvas, middle: float, base: float, look: Look) -> None:
        pen.text((middle, base), self.name, kind="u", most=WIDEST)
        pen.texts((middle, base + STEP), self.below, most=WIDEST)
        if self.device is not None:
            stands = look.stands(self.device) or "moving"
            base += STEP * (1 + len(self.below))
            pen.text((middle, base), f"is {stands}", most=WIDEST)

    def _squares(self, pen: Canvas, left: float, top: float) -> None:
        right = left + MODULE
        rows = (top + MODULE / 2, top + 1.5 * MODULE)
        passing, shut = rows if self.first else rows[::-1]
        symbols.squares(pen, left, top, MODULE, 2)
        pen.line((left, passing), (right, passing))
        if self.way >= 0:
            symbols.arrow(pen, (right, passing), 1)
        if self.way <= 0:
            symbols.arrow(pen, (left, passing), -1)
        symbols.blocked(pen, (left, shut), 1)
        symbols.blocked(pen, (right, shut), -1)


@dataclass(frozen=True, slots=True)
class CockCell(Cell):
    """A cock worked by hand: two triangles, with a bar across the line while it is shut."""

    name: str
    passes: tuple[str, ...]
    positions: tuple[str, ...]

    @property
    def width(self) -> float:
        words = [f"is {position}" for position in self.positions]
        return max(widest(words), 30) + 2 * GAP

    @property
    def up(self) -> float:
        return 17

    @property
    def down(self) -> float:
        return 14 + STEP

    def draw(self, pen: Canvas, x: float, y: float, look: Look, *, line: str = "s") -> None:
        middle, end = x + self.width / 2, x + self.width
        stands = look.stands(self.name) or "moving"
        with pen.group("symbol", self.name):
            pen.line((x, y), (middle - 12, y), kind=line)
            pen.line((middle + 12, y), (end, y), kind=line)
            pen.shape((middle - 12, y - 8), (middle - 12, y + 8), (middle, y))
            pen.shape((middle + 12, y - 8), (middle + 12, y + 8), (middle, y))
            pen.line((middle, y), (middle, y - 14))
            pen.line((middle - 6, y - 14), (middle + 6, y - 14))
            if stands not in self.passes:
                pen.line((middle, y - 10), (middle, y + 10), kind="w")
        pen.text((middle, y + 11 + metrics.SMALL), f"is {stands}", most=WIDEST)


@dataclass(frozen=True, slots=True)
class CheckCell(Cell):
    """A check valve; `way` is where it lets air go."""

    way: int
    opening: str

    @property
    def width(self) -> float:
        return max(widest([self.opening]), symbols.CHECK) + 6

    @property
    def up(self) -> float:
        return 11

    @property
    def down(self) -> float:
        return 11 + (STEP if self.opening else 0)

    def draw(self, pen: Canvas, x: float, y: float, look: Look, *, line: str = "s") -> None:
        left = x + (self.width - symbols.CHECK) / 2
        with pen.group("symbol", "check valve"):
            pen.line((x, y), (left, y), kind=line)
            symbols.check(pen, (left, y), self.way, spring=bool(self.opening), line=line)
            pen.line((left + symbols.CHECK, y), (x + self.width, y), kind=line)
        pen.text((x + self.width / 2, y + 9 + metrics.SMALL), self.opening, most=WIDEST)


@dataclass(frozen=True, slots=True)
class ChokeCell(Cell):
    """A restriction with its size."""

    size: tuple[str, ...]

    @property
    def width(self) -> float:
        return max(widest(self.size), symbols.CHOKE) + 8

    @property
    def up(self) -> float:
        return 11

    @property
    def down(self) -> float:
        return 11 + STEP * len(self.size)

    def draw(self, pen: Canvas, x: float, y: float, look: Look, *, line: str = "s") -> None:
        left = x + (self.width - symbols.CHOKE) / 2
        with pen.group("symbol", "restriction"):
            pen.line((x, y), (left, y), kind=line)
            symbols.choke(pen, left, y, line)
            pen.line((left + symbols.CHOKE, y), (x + self.width, y), kind=line)
        pen.texts((x + self.width / 2, y + 9 + metrics.SMALL), self.size, most=WIDEST)


@dataclass(frozen=True, slots=True)
class SpringValveCell(Cell):
    """A relief or reducing valve: one square, a spring, and a pilot from one of its ends.

    `reducing`: it reads its outlet and shuts as that rises; else its inlet, and opens.
    """

    below: tuple[str, ...]
    reducing: bool
    way: int
    condition: Condition

    @property
    def width(self) -> float:
        return max(widest(self.below), 52) + 2 * GAP

    @property
    def up(self) -> float:
        return 26

    @property
    def down(self) -> float:
        return 22 + STEP * len(self.below)

    def draw(self, pen: Canvas, x: float, y: float, look: Look, *, line: str = "s") -> None:
        middle, half = x + self.width / 2, MODULE / 2
        may, must = look.so(self.condition)
        level = y if must else y - 3 if may else y - 6
        read = self.way if self.reducing else -self.way
        corner = middle + read * (half + 7)
        with pen.group("symbol", "pressure valve"):
            pen.line((x, y), (middle - half, y), kind=line)
            pen.line((middle + half, y), (x + self.width, y), kind=line)
            pen.box((middle - half, y - half), (MODULE, MODULE))
            pen.line((middle - half, level), (middle + half, level))
            symbols.arrow(pen, (middle + self.way * half, level), self.way)
            symbols.engine(pen, "spring", middle, y - half, True)
            pen.line(
                (corner, y),
                (corner, y + half + 5),
                (middle, y + half + 5),
                (middle, y + half),
                kind="pilot",
            )
        pen.texts((middle, y + 19 + metrics.SMALL), self.below, most=WIDEST)


@dataclass(frozen=True, slots=True)
class VentCell(Cell):
    """The open air at the end of a line."""

    way: int

    @property
    def width(self) -> float:
        return symbols.VENT + 2

    @property
    def up(self) -> float:
        return 8

    @property
    def down(self) -> float:
        return 8

    def draw(self, pen: Canvas, x: float, y: float, look: Look, *, line: str = "s") -> None:
        with pen.group("symbol", "atmosphere", "atmosphere"):
            symbols.exhaust(pen, (x if self.way > 0 else x + self.width, y), self.way, line)


@dataclass(frozen=True, slots=True)
class Named(Cell):
    """Cells in a row with one name over them."""

    name: str
    cells: tuple[Cell, ...]

    @property
    def width(self) -> float:
        wide = widest([self.name], metrics.NAME, bold=True) + 4
        return max(sum(cell.width for cell in self.cells), wide)

    @property
    def up(self) -> float:
        return max(cell.up for cell in self.cells) + metrics.height(metrics.NAME)

    @property
    def down(self) -> float:
        return max(cell.down for cell in self.cells)

    def draw(self, pen: Canvas, x: float, y: float, look: Look, *, line: str = "s") -> None:
        top = y - max(cell.up for cell in self.cells) - 3
        pen.text((x + self.width / 2, top), self.name, kind="n", most=WIDEST)
        spare = (self.width - sum(cell.width for cell in self.cells)) / 2
        with pen.group("symbol", self.name):
            pen.line((x, y), (x + spare, y), kind=line)
            pen.line((x + self.width - spare, y), (x + self.width, y), kind=line)
        at = x + spare
        for cell in self.cells:
            cell.draw(pen, at, y, look, line=line)
            at += cell.width
