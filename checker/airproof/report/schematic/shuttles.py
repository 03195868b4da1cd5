"""Double check and quick-exhaust valves: a ball that air pushes from seat to seat."""

from __future__ import annotations

from dataclasses import dataclass

from airproof.report.schematic import metrics, symbols
from airproof.report.schematic.blocks import HEADING, STUB, Block, Flows, Port, moves, stub
from airproof.report.schematic.canvas import Canvas
from airproof.report.schematic.cells import STEP, WIDEST, widest
from airproof.report.schematic.look import Look

ROW = 15.0  # from the middle of the symbol to each of its two lower or upper lines
BODY = 30.0


@dataclass(frozen=True, slots=True)
class Shuttle(Block):
    """Two inlets and an outlet; or an inlet, an outlet and the open air (`quick`).

    `ways`: the flows of the upper inlet, of the lower one (or of the exhaust), and of the
    outlet, each with +1 if its air goes to the right there.
    """

    name: str
    quick: bool
    upper: Flows
    lower: Flows
    outlet: Flows
    notes: tuple[str, ...]

    @property
    def size(self) -> tuple[float, float]:
        heads = max(widest([self.name], metrics.NAME, bold=True), widest(self.notes))
        width = max(BODY + 6 * STUB + (symbols.VENT if self.quick else 0), heads + 6)
        return width, HEADING + 2 * ROW + 16 + STEP * len(self.notes)

    @property
    def row(self) -> float:
        return HEADING + ROW + 7

    @property
    def ports(self) -> tuple[Port, ...]:
        upper, lower = self.row - ROW, self.row + ROW
        if self.quick:
            return Port("left", upper), Port("right", upper)
        return Port("left", upper), Port("left", lower), Port("right", self.row)

    def draw(self, pen: Canvas, x: float, y: float, look: Look) -> None:
        width, row = self.size[0], y + self.row
        middle = x + width / 2
        pen.text((x + 3, y + metrics.NAME), self.name, kind="n", anchor="start", most=WIDEST)
        with pen.group("symbol", self.name, self.name):
            pen.box((middle - BODY / 2, row - ROW - 6), (BODY, 2 * ROW + 12))
            self._seats(pen, middle, row)
            pen.ball((middle, row + self._ball(look)), 5, kind="p")
            self._lines(pen, (x, middle, x + width), row, look)
        for number, words in enumerate(self.notes):
            base = row + ROW + 4 + (number + 1) * STEP
            pen.text((middle, base), words, most=WIDEST)

    def _ball(self, look: Look) -> float:
        """Away from the side that air comes from; in the middle where that is not known."""
        above = any(look.moving[name] > 0 for name, _ in self.upper)
        below = any(look.moving[name] > 0 for name, _ in self.lower)
        if above == below:
            return 0.0
        if self.quick:
            return 6.0 if above else -6.0
        return 6.0 if above else -6.0

    def _seats(self, pen: Canvas, middle: float, row: float) -> None:
        for side in (-1, 1):
            end = row + side * ROW
            pen.line((middle - 6, end - side * 5), (middle, end), (middle + 6, end - side * 5))

    def _lines(
        self, pen: Canvas, across: tuple[float, float, float], row: float, look: Look
    ) -> None:
        left, middle, right = across
        edge = middle + BODY / 2
        stub(pen, (left, middle), row - ROW, self.upper, look)
        if self.quick:
            pen.line((middle, row), (middle + 10, row), (middle + 10, row - ROW), (edge, row - ROW))
            stub(pen, (edge, right), row - ROW, self.outlet, look)
            pen.line((middle, row + ROW), (edge, row + ROW))
            symbols.exhaust(pen, (edge, row + ROW), 1, "w" if any(moves(self.lower, look)) else "s")
        else:
            stub(pen, (left, middle), row + ROW, self.lower, look)
            pen.line((middle + 5, row), (edge, row))
            stub(pen, (edge, right), row, self.outlet, look)
