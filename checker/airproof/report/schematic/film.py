"""A drawing at many moments: what is alike in two pictures is written once.

Each line, symbol and joint of a picture is a piece; a piece is a definition
with a name of its own, and a picture is a list of names.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any
from xml.etree import ElementTree as Xml

from airproof.circuit.kinds import Circuit
from airproof.circuit.state import State
from airproof.report.schematic import paper
from airproof.report.schematic.canvas import Canvas, number
from airproof.report.schematic.drawing import HEAD, Piece, Plan, pieces
from airproof.report.schematic.look import Look, look_at, look_at_start
from airproof.report.schematic.marking import drawn as drawn_names
from airproof.report.schematic.watching import Note, Notes, alike, watched

SCREEN = 1200.0  # [px] that a small sheet is enlarged to, but by no more than LARGER
LARGER = 1.2
SHORT = 60  # characters; a definition of its own costs as many
# a state, the amounts that moved in the step before, and where air moved in it
Moment = tuple[State, Mapping[str, Fraction], Mapping[str, int]]


class Shelf:
    """Definitions by their text; what comes again is found here again."""

    def __init__(self) -> None:
        self._names: dict[str, str] = {}

    def name(self, text: str) -> str:
        """The name of a definition, the same for the same text."""
        return self._names.setdefault(text, f"d{len(self._names)}")

    @property
    def text(self) -> str:
        """All of them, each a group with its name as `id`."""
        return "\n".join(f'<g id="{name}">{text}</g>' for text, name in self._names.items())


@dataclass(frozen=True, slots=True)
class Film:
    """One picture a moment, as uses of what is on the shelf; all of one size [px]."""

    width: float
    height: float
    pictures: tuple[str, ...]

    @property
    def shown(self) -> tuple[int, int]:
        """The size on a screen [px]: a small sheet is enlarged."""
        by = min(LARGER, max(1.0, SCREEN / self.width))
        return round(self.width * by), round(self.height * by)

    @property
    def sort(self) -> paper.Sort:
        """How the pictures are printed."""
        return paper.sort_of((self.width, self.height))

    @property
    def box(self) -> str:
        """The pictures' `viewBox`."""
        return f"0 {number(HEAD)} {number(self.width)} {number(self.height)}"


@dataclass(slots=True)
class _Drawn:
    """One piece, with what it read of the circuit whenever it was drawn, and its name then."""

    piece: Piece
    known: list[tuple[Mapping[Note, Any], str]] = field(default_factory=list)


class Studio:
    """Draws one plan at many moments.

    A piece is drawn anew only where something that it read is not as before:
    it reads of the circuit's standing through its look, and nothing else changes.
    Several studios whose pictures stand in one page share a shelf.
    """

    def __init__(self, plan: Plan, shelf: Shelf | None = None) -> None:
        self.plan, self.shelf = plan, shelf or Shelf()
        self._drawn: dict[tuple[str, ...], list[_Drawn]] = {}

    @property
    def named(self) -> frozenset[str]:
        """The names of what has a place in the drawing."""
        parts = drawn_names(self.plan.sheet, self.plan.circuit)
        return frozenset().union(*parts.values())

    def film(self, circuit: Circuit, moments: Sequence[Moment]) -> Film:
        """The circuit as it stands at each moment; `circuit` may differ from the plan's in times.

        A moment's amounts [bar litre] are of the step that ends there; so is where air moved,
        +1 from a flow's source to its target, -1 back.
        """
        ways = tuple(device.on_the_way for device in circuit.devices.values())
        drawn = self._pieces(ways)
        looks = [look_at(circuit, *moment) for moment in moments]
        return self._filmed([[self._name(piece, look) for piece in drawn] for look in looks])

    def still(self, standing: str | None = None) -> Film:
        """One picture: as the circuit starts, or as its standing state of that name."""
        look = look_at_start(self.plan.circuit, standing)
        return self._filmed([[self._name(piece, look) for piece in self._pieces(())]])

    def _pieces(self, ways: tuple[str, ...]) -> list[_Drawn]:
        """Those of circuits whose flows read a device on its way alike."""
        if ways not in self._drawn:
            self._drawn[ways] = [_Drawn(piece) for piece in pieces(self.plan)]
        return self._drawn[ways]

    def _name(self, drawn: _Drawn, look: Look) -> str:
        for read, name in drawn.known:
            if alike(read, look):
                return name
        notes, pen = Notes(), Canvas()
        drawn.piece(pen, watched(look, notes))
        name = self.shelf.name(self._shared(list(_chunks(pen.element))))
        drawn.known.append((notes.read, name))
        return name

    def _shared(self, chunks: Sequence[str]) -> str:
        """A piece as its parts, each a definition of its own if that is shorter."""
        if len(chunks) < 2:
            return "".join(chunks)
        return "".join(
            chunk if len(chunk) < SHORT else _use(self.shelf.name(chunk)) for chunk in chunks
        )

    def _filmed(self, rows: Sequence[Sequence[str]]) -> Film:
        """What is alike in all pictures is one definition that uses its pieces."""
        alike = [len(set(names)) == 1 for names in zip(*rows, strict=True)]
        still = (name for name, same in zip(rows[0], alike, strict=True) if same)
        base = self.shelf.name("".join(map(_use, still)))
        pictures = tuple("".join(map(_use, [base, *_moved(row, alike)])) for row in rows)
        width, height = self.plan.size(panel=False)
        return Film(width, height - HEAD, pictures)


def _chunks(element: Xml.Element) -> Iterator[str]:
    """The groups of a piece, and what stands between two of them together."""
    between = ""
    for child in element:
        text = Xml.tostring(child, encoding="unicode")
        if child.tag == "g":
            yield from filter(None, [between])
            between = ""
            yield text
        else:
            between += text
    yield from filter(None, [between])


def _moved(row: Sequence[str], alike: Sequence[bool]) -> Iterator[str]:
    return (name for name, same in zip(row, alike, strict=True) if not same)


def _use(name: str) -> str:
    return f'<use href="#{name}"/>'
