"""A circuit's drawing: laid out once, drawn as it stands as often as one likes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import partial

from airproof.circuit.kinds import Circuit
from airproof.circuit.state import State
from airproof.report.schematic import metrics
from airproof.report.schematic.blocks import Block
from airproof.report.schematic.canvas import Canvas, Point
from airproof.report.schematic.compact import junctions
from airproof.report.schematic.gather import sheet_of
from airproof.report.schematic.layout import Placed
from airproof.report.schematic.look import Look, look_at, look_at_start
from airproof.report.schematic.panel import Panel, panel_of
from airproof.report.schematic.sheet import Link, Sheet
from airproof.report.schematic.svg import document
from airproof.report.schematic.tuck import fitted
from airproof.report.schematic.untwist import untwisted

MARGIN = 24.0
HEAD = 52.0  # room for the title
LEAST = 780.0  # width of the narrowest sheet
BETWEEN = 26.0  # from the drawing to the panel

Piece = Callable[[Canvas, Look], None]


@dataclass(frozen=True, slots=True)
class Plan:
    """A circuit with the layout of its drawing, which no state changes."""

    circuit: Circuit
    sheet: Sheet
    placed: Placed
    panel: Panel

    def size(self, *, panel: bool = True) -> Point:
        """The width and height of the picture [px]."""
        width = max(self.placed.size[0], self.panel.size[0] if panel else 0.0, LEAST)
        height = HEAD + self.placed.size[1] + MARGIN
        return width + 2 * MARGIN, height + (BETWEEN + self.panel.size[1] if panel else 0.0)


def plan(circuit: Circuit) -> Plan:
    """The layout of the circuit's drawing."""
    sheet, where = untwisted(sheet_of(circuit))
    where = fitted(sheet, where)
    return Plan(circuit, sheet, where, panel_of(circuit, sheet, max(where.size[0], LEAST)))


def draw(
    plan: Plan,
    state: State | None = None,
    amounts: Mapping[str, Fraction] | None = None,
    *,
    standing: str | None = None,
    panel: bool = True,
) -> str:
    """The drawing as SVG text.

    With a `state`, as the circuit stands in it; with the `amounts` [bar litre] of
    a step that ends there, air is shown where it moved in that step.  Without a
    state, as the circuit starts, or as its standing state of that name.  Without
    the `panel`, the air alone; the layout is the same.
    """
    circuit = plan.circuit
    look = look_at(circuit, state, amounts) if state else look_at_start(circuit, standing)
    pen, size = Canvas(), plan.size(panel=panel)
    _heading(pen, plan, size[0], standing)
    for piece in pieces(plan):
        piece(pen, look)
    if panel:
        below = HEAD + plan.placed.size[1] + BETWEEN
        plan.panel.draw(pen, (MARGIN, below), look)
    return document(pen, size, _title(plan), _described(plan, standing))


def pieces(plan: Plan) -> Iterator[Piece]:
    """Lines, joints and symbols, each by itself: what draws it in a given look."""
    top = HEAD + MARGIN / 2
    for link, course in plan.placed.courses:
        points = [(x + MARGIN, y + top) for x, y in course]
        yield partial(_line, link=link, course=points)
    yield partial(
        _joints, points=[(x + MARGIN, y + top) for x, y in junctions(plan.placed.courses)]
    )
    for name, block in plan.sheet.blocks.items():
        x, y = plan.placed.corners[name]
        yield partial(_block, block=block, at=(x + MARGIN, y + top))


def _joints(pen: Canvas, look: Look, *, points: list[Point]) -> None:
    with pen.group("joints"):
        for point in points:
            pen.ball(point, 2.6, kind="k")


def _block(pen: Canvas, look: Look, *, block: Block, at: Point) -> None:
    block.draw(pen, *at, look)


def _title(plan: Plan) -> str:
    return f"{plan.circuit.name}: {plan.circuit.title}" if plan.circuit.title else plan.circuit.name


def _described(plan: Plan, standing: str | None) -> str:
    count = f"{len(plan.circuit.flows)} flows, {len(plan.circuit.devices)} devices"
    return f"Circuit drawing: {count}" + (f", standing as {standing}" if standing else "")


def _heading(pen: Canvas, plan: Plan, width: float, standing: str | None) -> None:
    most, head = width - 2 * MARGIN, _title(plan)
    said = [f"as in the standing state {standing}"] if standing else []
    if metrics.width(head, metrics.TITLE, bold=True) > most:
        head, said = plan.circuit.name, [*said, plan.circuit.title]
    pen.text((MARGIN, 26), head, kind="h", anchor="start", most=most)
    pen.text((MARGIN, 46), "; ".join(filter(None, said)), anchor="start", most=most)


def _line(pen: Canvas, look: Look, *, link: Link, course: list[Point]) -> None:
    """A line of air, stout where air moves."""
    ways = {look.moving[name] * way for name, way in link.flows}
    with pen.group("line", title=", ".join(name for name, _ in link.flows)):
        pen.line(*course, kind="w" if ways - {0} else "s")
