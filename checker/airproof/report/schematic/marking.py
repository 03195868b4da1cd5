"""A drawing on which some parts are marked: an outline about each and a word, never a colour."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from airproof.circuit.kinds import Circuit
from airproof.report.schematic import metrics
from airproof.report.schematic.blocks import Block, Place, Port
from airproof.report.schematic.canvas import Canvas
from airproof.report.schematic.cells import widest
from airproof.report.schematic.drawing import LEAST, Plan
from airproof.report.schematic.gather import sheet_of
from airproof.report.schematic.layout import WAYS, placed
from airproof.report.schematic.look import Look, look_at_start
from airproof.report.schematic.panel import panel_of
from airproof.report.schematic.sheet import Sheet
from airproof.report.schematic.tuck import fitted
from airproof.report.schematic.untwist import cost, untwisted

Word = Literal["changed", "new", "gone"]
PAD = 4.0  # from the outline to what stands in it
OVER = metrics.height(metrics.SMALL) + 3  # the room of the words above a symbol


@dataclass(frozen=True, slots=True)
class Mark:
    """What is said of a part: its number in a list of them, and how it differs."""

    number: int
    word: Word


def plan_marked(circuit: Circuit, marks: Mapping[str, Mark]) -> Plan:
    """The layout of the circuit's drawing with the parts of these names marked."""
    sheet, where = untwisted(sheet_of(circuit))
    if marks:
        sheet = _marked(sheet, circuit, marks)
        where = min((placed(sheet, way) for way in range(len(WAYS))), key=cost)
    where = fitted(sheet, where)
    return Plan(circuit, sheet, where, panel_of(circuit, sheet, max(where.size[0], LEAST)))


def drawn(sheet: Sheet, circuit: Circuit) -> Mapping[str, frozenset[str]]:
    """By block, the names of the circuit's parts that it stands for."""
    look = look_at_start(circuit, None)
    return {name: frozenset(_names(sheet, name, look)) for name in sheet.blocks}


def _names(sheet: Sheet, name: str, look: Look) -> Iterator[str]:
    block, pen = sheet.blocks[name], Canvas()
    block.draw(pen, 0.0, 0.0, look)
    for group in pen.element.iter("g"):
        yield group.get("data-name") or ""
    if isinstance(block, Place):
        yield block.spring or ""
    else:
        for link in sheet.links:
            if name in (link.start.block, link.end.block):
                yield from (flow for flow, _ in link.flows)


def _marked(sheet: Sheet, circuit: Circuit, marks: Mapping[str, Mark]) -> Sheet:
    blocks = dict(sheet.blocks)
    for name, parts in drawn(sheet, circuit).items():
        here = sorted({marks[part] for part in parts if part in marks}, key=lambda m: m.number)
        if here:
            blocks[name] = Marked(blocks[name], tuple(here))
    return replace(sheet, blocks=blocks)


@dataclass(frozen=True, slots=True)
class Marked(Block):
    """A block in an outline: broken for what was changed, stout for new, dotted for gone."""

    inner: Block
    marks: tuple[Mark, ...]

    @property
    def words(self) -> str:
        """`1, 3 changed; 4 new`."""
        kinds = dict.fromkeys(mark.word for mark in self.marks)
        told = (
            (", ".join(str(m.number) for m in self.marks if m.word == kind), kind) for kind in kinds
        )
        return "; ".join(f"{numbers} {kind}" for numbers, kind in told)

    @property
    def size(self) -> tuple[float, float]:
        width, height = self.inner.size
        return max(width, widest([self.words], bold=True) + 2 * PAD), height + OVER + PAD

    @property
    def ports(self) -> tuple[Port, ...]:
        return tuple(replace(port, row=port.row + OVER) for port in self.inner.ports)

    def draw(self, pen: Canvas, x: float, y: float, look: Look) -> None:
        width, height = self.size
        inner = self.inner.size[0]
        with pen.group("mark", title=self.words):
            pen.box((x, y), (width, height), kind=f"mark-{self.marks[0].word}")
            pen.text((x + PAD, y + metrics.SMALL + 1), self.words, kind="u", anchor="start")
            for port in self.ports:  # the block stands at the left of a wider outline
                if port.side == "right" and width > inner:
                    pen.line((x + inner, y + port.row), (x + width, y + port.row))
        self.inner.draw(pen, x, y + OVER, look)
