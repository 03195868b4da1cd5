"""Valves with several ports: a square for each position, that of the present one in line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from airproof.report.schematic import metrics, symbols
from airproof.report.schematic.blocks import (
    HEADING,
    STUB,
    Block,
    Port,
    Side,
    amount_title,
    moves,
    stub,
)
from airproof.report.schematic.canvas import Canvas
from airproof.report.schematic.cells import BESIDE, STEP, WIDEST, Cell, Pilot, widest
from airproof.report.schematic.look import Look
from airproof.report.schematic.symbols import ENGINE

SIDES: tuple[Side, Side] = ("left", "right")
PITCH = 12.0  # between the ports of one square
LANE = 5.0  # between lines that fan out from a square


@dataclass(frozen=True, slots=True)
class Outlet:
    """A port of the squares and what stands between it and the edge of the box.

    `flows` are those that use it, each with +1 if its air then goes to the right.
    `vent`: it ends in the open air.  `name`: the flow whose cells stand here.
    """

    side: Side
    cells: tuple[Cell, ...]
    flows: tuple[tuple[str, int], ...]
    vent: bool
    name: str = ""

    @property
    def width(self) -> float:
        row = sum(cell.width for cell in self.cells) + STUB
        return max(row, widest([self.name]) + STUB if self.name else 0)

    @property
    def up(self) -> float:
        cells = max((cell.up for cell in self.cells), default=5)
        return cells + (STEP if self.name else 0)

    @property
    def down(self) -> float:
        return max((cell.down for cell in self.cells), default=5)


@dataclass(frozen=True, slots=True)
class Way:
    """How one flow passes the squares: between two outlets, in some positions."""

    flow: str
    start: int
    end: int
    passes: tuple[str, ...]
    one_way: bool


@dataclass(frozen=True, slots=True)
class Valve(Block):
    """A valve with its ports.

    `device` is None where pressures alone decide, as in a self-lapping valve:
    then the first way that is surely open tells the position, else `rest`.
    """

    name: str
    device: str | None
    positions: tuple[str, ...]
    rest: str
    outlets: tuple[Outlet, ...]
    ways: tuple[Way, ...]
    top: Pilot
    bottom: Pilot
    notes: tuple[str, ...] = ()

    # ---- measures

    def on(self, side: Side) -> list[Outlet]:
        return [outlet for outlet in self.outlets if outlet.side == side]

    @property
    def side(self) -> float:
        """The side of a square [px]."""
        most = max(len(self.on("left")), len(self.on("right")))
        return max(symbols.MODULE, PITCH * (most + 1))

    def _words(self) -> list[str]:
        stands = [f"is {position}" for position in (*self.positions, "moving")]
        return [" | ".join(self.positions), *stands, *self.notes]

    def _wing(self, side: Side) -> float:
        """From the squares to the edge of the box on that side."""
        outlets = self.on(side)
        tails = max((outlet.width for outlet in outlets), default=0) + LANE * (len(outlets) + 2)
        name = widest([self.name], metrics.NAME, bold=True)
        words = max(widest(self._words()), name) / 2
        reads = max(widest(self.top.reads), widest(self.bottom.reads)) + 14
        return max(tails, words - self.side / 2, reads - self.side / 2 if side == "right" else 0)

    def _rows(self, side: Side) -> list[float]:
        """Where each outlet leaves the box, from the middle of the squares' row."""
        outlets = self.on(side)
        rows: list[float] = []
        for number, outlet in enumerate(outlets):
            before = outlets[number - 1].down + outlet.up + 2 if number else 0
            rows.append((rows[-1] if rows else 0.0) + max(before, PITCH if number else 0))
        return [row - rows[-1] / 2 for row in rows]

    def _clear(self) -> tuple[float, float]:
        """How far the squares, wherever they slide, and the outlets reach up and down."""
        up = down = self._slide()
        for side in SIDES:
            for row, outlet in zip(self._rows(side), self.on(side), strict=True):
                up, down = max(up, outlet.up - row), max(down, row + outlet.down)
        return up, down

    def _reach(self) -> tuple[float, float]:
        """The room above and below the row of the squares."""
        up, down = self._clear()
        return up + self.top.height, down + self.bottom.height

    @property
    def size(self) -> tuple[float, float]:
        width = self._wing("left") + self.side + self._wing("right")
        up, down = self._reach()
        return width, up + down + HEADING + (2 + len(self.notes)) * STEP + 8

    @property
    def row(self) -> float:
        return 2 + self._reach()[0]

    @property
    def ports(self) -> tuple[Port, ...]:
        rows = {side: iter(self._rows(side)) for side in SIDES}
        return tuple(
            Port(outlet.side, self.row + next(rows[outlet.side])) for outlet in self.outlets
        )

    # ---- drawing

    def stands(self, look: Look) -> str | None:
        """The position that is in line; None on the way."""
        if self.device is not None:
            return look.stands(self.device)
        sure = (way.passes[0] for way in self.ways if look.open[way.flow][1])
        return next(sure, self.rest)

    def _top(self, look: Look) -> float:
        """The upper end of the squares, from the row."""
        if self.device is not None and self.device in look.leaving:
            both = (look.positions[self.device], look.leaving[self.device])
            place = sum(self.positions.index(one) for one in both) / 2
        else:
            place = self.positions.index(self.stands(look) or self.rest)
        return -(place + 0.5) * self.side

    def draw(self, pen: Canvas, x: float, y: float, look: Look) -> None:
        middle, row = x + self._wing("left") + self.side / 2, y + self.row
        top = row + self._top(look)
        with pen.group("symbol", self.name, self._title(look)):
            self._squares(pen, middle - self.side / 2, top)
            end = top + len(self.positions) * self.side
            symbols.engine(pen, self.top.engine, middle, top, True)
            symbols.engine(pen, self.bottom.engine, middle, end, False)
        self._pilots(pen, middle, (row, top))
        edges: tuple[tuple[Side, float], ...] = (("left", x), ("right", x + self.size[0]))
        for side, edge in edges:
            self._outlets(pen, side, (middle, row), edge, look)
        self._captions(pen, middle, y, look)

    def _title(self, look: Look) -> str:
        moved = [amount_title(way.flow, look) for way in self.ways if way.flow in look.amounts]
        return "; ".join([self.name, *moved])

    def _pilots(self, pen: Canvas, middle: float, levels: tuple[float, float]) -> None:
        row, top = levels
        end = top + len(self.positions) * self.side
        up, down = self._clear()
        self.top.draw(pen, middle, top - ENGINE + 1, row - up - BESIDE)
        self.bottom.draw(pen, middle, end + ENGINE - 1, row + down + BESIDE)

    def _slide(self) -> float:
        """How far the squares reach from their row, with what works them."""
        return (len(self.positions) - 0.5) * self.side + ENGINE

    def _captions(self, pen: Canvas, middle: float, y: float, look: Look) -> None:
        base = y + self.row + self._reach()[1] + metrics.NAME + 1
        pen.text((middle, base), self.name, kind="n", most=WIDEST)
        base += STEP
        lines = [" | ".join(self.positions), f"is {self.stands(look) or 'moving'}", *self.notes]
        for number, words in enumerate(lines):
            pen.text((middle, base + number * STEP), words, most=WIDEST)

    def _inner(self, side: Side) -> list[float]:
        """The ports of a square, from its middle."""
        count = len(self.on(side))
        return [(number - (count - 1) / 2) * PITCH for number in range(count)]

    def _outlets(
        self, pen: Canvas, side: Side, at: tuple[float, float], edge: float, look: Look
    ) -> None:
        outlets, sign = self.on(side), 1 if side == "right" else -1
        square = at[0] + sign * self.side / 2
        rows, inner = self._rows(side), self._inner(side)
        for number, outlet in enumerate(outlets):
            turn = min(number, len(outlets) - 1 - number)
            lane = square + sign * LANE * (1 + turn)
            start, end = at[1] + inner[number], at[1] + rows[number]
            tail = square + sign * LANE * (len(outlets) + 1)
            right, left = moves(outlet.flows, look)
            with pen.group("symbol", outlet.name or self.name):
                bends = ((square, start), (lane, start), (lane, end), (tail, end))
                pen.line(*bends, kind="w" if right or left else "s")
            self._tail(pen, outlet, (tail, end), edge, look)

    def _tail(
        self, pen: Canvas, outlet: Outlet, at: tuple[float, float], edge: float, look: Look
    ) -> None:
        """The cells of an outlet from `at` to the edge of the box, or to the open air."""
        x, y = at
        sign = 1 if outlet.side == "right" else -1
        kind = "w" if any(moves(outlet.flows, look)) else "s"
        if outlet.name:
            anchor = "start" if sign > 0 else "end"
            most = max((cell.up for cell in outlet.cells), default=5)
            pen.text((x + sign * 2, y - most - 4.5), outlet.name, anchor=anchor, most=WIDEST)
        for cell in outlet.cells if sign > 0 else reversed(outlet.cells):
            cell.draw(pen, x if sign > 0 else x - cell.width, y, look, line=kind)
            x += sign * cell.width
        if not outlet.vent:
            with pen.group("symbol", outlet.name or self.name):
                stub(pen, (min(x, edge), max(x, edge)), y, outlet.flows, look)

    def _squares(self, pen: Canvas, left: float, top: float) -> None:
        symbols.squares(pen, left, top, self.side, len(self.positions))
        for number, position in enumerate(self.positions):
            middle = top + (number + 0.5) * self.side
            self._square(pen, left, middle, position)

    def _square(self, pen: Canvas, left: float, middle: float, position: str) -> None:
        """Arrows of the ways that are open in this position, bars on the other ports."""
        used: set[int] = set()
        for way in self.ways:
            if position in way.passes:
                ends = [self._spot(left, middle, which) for which in (way.start, way.end)]
                used |= {way.start, way.end}
                inward = 9 if self.outlets[way.start].side == "left" else -9
                points = _bent(ends[0], ends[1], inward)
                _passage(pen, points, both=not way.one_way)
        for which, outlet in enumerate(self.outlets):
            if which not in used:
                into = 1 if outlet.side == "left" else -1
                symbols.blocked(pen, self._spot(left, middle, which), into)

    def _spot(self, left: float, middle: float, which: int) -> tuple[float, float]:
        outlet = self.outlets[which]
        mine = self.on(outlet.side)
        place = next(n for n, each in enumerate(mine) if each is outlet)
        x = left if outlet.side == "left" else left + self.side
        return x, middle + self._inner(outlet.side)[place]


def _passage(pen: Canvas, points: Sequence[tuple[float, float]], *, both: bool) -> None:
    """A way inside a square, with a head where the air comes out (`both`: at both ends)."""
    pen.line(*points)
    _head(pen, points[-2], points[-1])
    if both:
        _head(pen, points[1], points[0])


def _bent(
    start: tuple[float, float], end: tuple[float, float], inward: float
) -> list[tuple[float, float]]:
    """Straight across, or in, along and out again where both ends are on one side."""
    if start[0] != end[0]:
        return [start, end]
    inner = start[0] + inward
    return [start, (inner, start[1]), (inner, end[1]), end]


def _head(pen: Canvas, before: tuple[float, float], tip: tuple[float, float]) -> None:
    dx, dy = tip[0] - before[0], tip[1] - before[1]
    length = max((dx * dx + dy * dy) ** 0.5, 0.01)
    ux, uy = dx / length, dy / length
    back = (tip[0] - 7 * ux, tip[1] - 7 * uy)
    pen.shape(
        tip,
        (back[0] - 3.5 * uy, back[1] + 3.5 * ux),
        (back[0] + 3.5 * uy, back[1] - 3.5 * ux),
        kind="f",
    )
