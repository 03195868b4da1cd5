"""Reads a drawing back from its SVG text and says what lies on what.

Nothing here knows how the drawing was made: texts are measured again (by the
widths of the face that the picture asks for, the widest of those it names),
everything else is taken from the shapes as they stand.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as Xml

from airproof.report.schematic import metrics

SVG = "{http://www.w3.org/2000/svg}"
SLACK = 0.6  # what may touch [px]
GRID = 64  # [px]


@dataclass(frozen=True)
class Box:
    """An upright box; `what` tells what it stands for in a complaint."""

    left: float
    top: float
    right: float
    bottom: float
    what: str

    def meets(self, other: Box) -> bool:
        """Whether the two overlap by more than they may."""
        return (
            self.left + SLACK < other.right
            and other.left + SLACK < self.right
            and self.top + SLACK < other.bottom
            and other.top + SLACK < self.bottom
        )

    def holds(self, other: Box) -> bool:
        return (
            self.left <= other.left + SLACK
            and self.top <= other.top + SLACK
            and self.right >= other.right - SLACK
            and self.bottom >= other.bottom - SLACK
        )


@dataclass(frozen=True)
class Stretch:
    """A straight piece of a line, with the number and the class of what it belongs to."""

    ends: tuple[tuple[float, float], tuple[float, float]]
    owner: int
    what: str
    outer: tuple[bool, bool]  # whether each end is an end of the whole line

    def box(self, half: float = 0.5) -> Box:
        (a, b), (c, d) = self.ends
        sides = (min(a, c) - half, min(b, d) - half, max(a, c) + half, max(b, d) + half)
        return Box(*sides, self.what)

    def inner(self) -> Box:
        """Its box without a bit at those ends where the line may meet a symbol."""
        (a, b), (c, d) = self.ends
        length = max(abs(c - a) + abs(d - b), 1e-9)
        cut = min(1.5, length / 2)
        ux, uy = (c - a) / length * cut, (d - b) / length * cut
        if self.outer[0]:
            a, b = a + ux, b + uy
        if self.outer[1]:
            c, d = c - ux, d - uy
        sides = (min(a, c) - 0.7, min(b, d) - 0.7, max(a, c) + 0.7, max(b, d) + 0.7)
        return Box(*sides, self.what)


class Picture:
    """The texts, symbols, cards and lines of a drawing."""

    def __init__(self, text: str) -> None:
        self.root = Xml.fromstring(text)
        self.sizes = _sizes(self.root)
        self.texts: list[Box] = []
        self.symbols: list[tuple[int, Box]] = []
        self.strokes: list[Stretch] = []  # of symbols
        self.lines: list[Stretch] = []
        self.nets: list[set[str]] = []
        self.pilots: list[Stretch] = []
        self.cards: list[Box] = []
        self._owner = 0
        self._walk(self.root, "")

    @property
    def paper(self) -> Box:
        left, top, width, height = map(float, self.root.attrib["viewBox"].split())
        return Box(left, top, left + width, top + height, "the paper")

    def words(self) -> str:
        """Every text and every title, one to a line."""
        found = (element.text or "" for element in self.root.iter())
        return "\n".join(found)

    def _walk(self, element: Xml.Element, kind: str) -> None:
        tag = element.tag.removeprefix(SVG)
        if tag == "g":
            kind = element.get("class", kind) or kind
            self._owner += 1
        if tag == "text":
            self.texts.append(self._text(element))
        elif element.get("class") == "pilot":
            self.pilots += _stretches(element, self._owner, "pilot line")
        elif kind == "line" and tag == "polyline":
            self._owner += 1
            self.lines += _stretches(element, self._owner, f"line {element.get('points')}")
        elif kind == "card" and tag == "rect":
            self.cards.append(_bounds(element, "a card"))
        elif kind == "symbol" and tag == "polyline":
            self.strokes += _stretches(element, self._owner, f"stroke {element.get('points')}")
        elif kind == "symbol" and tag in ("rect", "circle", "polygon", "path"):
            self.symbols.append((self._owner, _bounds(element, f"{tag} of a symbol")))
        for child in element:
            self._walk(child, kind)

    def _text(self, element: Xml.Element) -> Box:
        words, kind = element.text or "", element.get("class", "t")
        size, bold = self.sizes[kind]
        wide = metrics.width(words, size, bold=bold)
        x, y = float(element.attrib["x"]), float(element.attrib["y"])
        share = {"start": 0.0, "middle": 0.5, "end": 1.0}[element.get("text-anchor", "start")]
        left = x - share * wide
        return Box(left, y - 0.76 * size, left + wide, y + 0.2 * size, f"text {words!r}")


def complaints(text: str) -> list[str]:
    """What lies on what in this drawing; empty if nothing does."""
    picture = Picture(text)
    return [*_on_texts(picture), *_through_symbols(picture), *_on_lines(picture), *_off(picture)]


def _near(ones: Sequence[Box], others: Sequence[Box]) -> Iterator[tuple[Box, Box]]:
    """Pairs that might meet: those that lie in one field of a coarse grid."""
    fields: dict[tuple[int, int], list[Box]] = {}
    for box in others:
        for field in _fields(box):
            fields.setdefault(field, []).append(box)
    for one in ones:
        found = {id(box): box for field in _fields(one) for box in fields.get(field, ())}
        yield from ((one, box) for box in found.values() if box is not one)


def _fields(box: Box) -> Iterator[tuple[int, int]]:
    for column in range(int(box.left - 2) // GRID, int(box.right + 2) // GRID + 1):
        for row in range(int(box.top - 2) // GRID, int(box.bottom + 2) // GRID + 1):
            yield column, row


def _on_texts(picture: Picture) -> Iterator[str]:
    for one, other in _near(picture.texts, picture.texts):
        if id(one) < id(other) and one.meets(other):
            yield f"{one.what} on {other.what}"
    things = [box for _, box in picture.symbols]
    things += [piece.box() for piece in (*picture.strokes, *picture.lines, *picture.pilots)]
    for words, thing in _near(picture.texts, things):
        if words.meets(thing):
            yield f"{words.what} on {thing.what}"
    for words, card in _near(picture.texts, picture.cards):
        if words.meets(card) and not card.holds(words):
            yield f"{words.what} sticks out of {card.what}"


def _through_symbols(picture: Picture) -> Iterator[str]:
    boxes = [box for _, box in picture.symbols]
    for line, box in _near([line.inner() for line in picture.lines], boxes):
        if line.meets(box):
            yield f"{line.what} through {box.what} at {box.left:.0f},{box.top:.0f}"
    for line, card in _near([line.box() for line in picture.lines], picture.cards):
        if line.meets(card):
            yield f"{line.what} through a card"
    owners = {id(box): owner for owner, box in picture.symbols}
    for one, other in _near(boxes, boxes):
        if id(one) < id(other) and owners[id(one)] != owners[id(other)] and one.meets(other):
            yield f"{one.what} at {one.left:.0f},{one.top:.0f} on {other.what}"
    yield from _through_strokes(picture)


def _through_strokes(picture: Picture) -> Iterator[str]:
    """Lines of air, and pilot lines, that run across the strokes of a symbol."""
    by_box = [(stroke.box(), stroke) for stroke in picture.strokes]
    strokes = {id(box): stroke for box, stroke in by_box}
    lines = [(line.box(), line) for line in picture.lines]
    known = {id(box): line for box, line in lines}
    for mine, yours in _near([box for box, _ in lines], [box for box, _ in by_box]):
        if _cross(known[id(mine)], strokes[id(yours)]):
            yield f"{mine.what} through {yours.what}"


def _cross(line: Stretch, stroke: Stretch) -> bool:
    """Whether they share more than an end of the line with an end of the stroke."""
    if not line.box(0.0).meets(_grown(stroke.box(0.0))):
        return False
    touching = any(
        abs(p[0] - q[0]) < 1.5 and abs(p[1] - q[1]) < 1.5 for p in line.ends for q in stroke.ends
    )
    return not touching


def _grown(box: Box) -> Box:
    by = SLACK + 0.4
    return Box(box.left - by, box.top - by, box.right + by, box.bottom + by, box.what)


def _on_lines(picture: Picture) -> Iterator[str]:
    """Lines may cross at right angles; along one another only if they share an end port."""
    ends: dict[int, list[tuple[float, float]]] = {}
    for piece in picture.lines:
        for point, outer in zip(piece.ends, piece.outer, strict=True):
            if outer:
                ends.setdefault(piece.owner, []).append(point)
    for one, other in itertools.combinations(picture.lines, 2):
        if one.owner == other.owner or set(ends[one.owner]) & set(ends[other.owner]):
            continue
        level = [abs(p.ends[0][1] - p.ends[1][1]) < 0.05 for p in (one, other)]
        if level[0] == level[1] and _grown(one.box(0.0)).meets(_grown(other.box(0.0))):
            yield f"{one.what} along {other.what}"
        elif level[0] != level[1] and _corner_on(one, other):
            yield f"{one.what} bends on {other.what}"


def _corner_on(one: Stretch, other: Stretch) -> bool:
    """Whether an end of one lies on the other: that reads as a junction."""
    for mine, yours in ((one, other), (other, one)):
        box = _grown(yours.box(0.0))
        for x, y in mine.ends:
            if box.left < x < box.right and box.top < y < box.bottom:
                return True
    return False


def _off(picture: Picture) -> Iterator[str]:
    pieces = [piece.box() for piece in (*picture.lines, *picture.strokes, *picture.pilots)]
    for box in (*picture.texts, *pieces, *picture.cards, *(b for _, b in picture.symbols)):
        if not picture.paper.holds(box):
            yield f"{box.what} runs off the paper"


def _sizes(root: Xml.Element) -> dict[str, tuple[float, bool]]:
    """The size of each class of text, as the style sheet of the picture says."""
    style = "".join(element.text or "" for element in root.iter(f"{SVG}style"))
    rules = re.findall(r"\.schematic \.(\w+)\{font:(bold )?([\d.]+)px", style)
    return {name: (float(size), bool(bold)) for name, bold, size in rules}


def _numbers(text: str) -> list[float]:
    return [float(word) for word in re.findall(r"-?[\d.]+", text)]


def _points(text: str) -> list[tuple[float, float]]:
    numbers = _numbers(text)
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def _stretches(element: Xml.Element, owner: int, what: str) -> Iterator[Stretch]:
    points = _points(element.attrib["points"])
    for number, ends in enumerate(itertools.pairwise(points)):
        yield Stretch(ends, owner, what, (number == 0, number == len(points) - 2))


def _bounds(element: Xml.Element, what: str) -> Box:
    if element.tag == f"{SVG}circle":
        x, y, r = (float(element.attrib[key]) for key in ("cx", "cy", "r"))
        return Box(x - r, y - r, x + r, y + r, what)
    if element.tag == f"{SVG}rect":
        x, y = float(element.attrib["x"]), float(element.attrib["y"])
        wide, high = float(element.attrib["width"]), float(element.attrib["height"])
        return Box(x, y, x + wide, y + high, what)
    points = _points(element.get("points") or element.attrib["d"])
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return Box(min(xs), min(ys), max(xs), max(ys), what)
