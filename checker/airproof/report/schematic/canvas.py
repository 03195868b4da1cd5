"""A sheet to draw on: shapes in absolute coordinates, kept as XML elements.

Nothing is moved or scaled afterwards, so that whoever reads the picture back
(a test does) finds every shape where it stands.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from types import MappingProxyType
from xml.etree import ElementTree as Xml

from airproof.report.schematic import metrics

Point = tuple[float, float]

_FORBIDDEN = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def clean(text: str) -> str:
    """The text with what XML cannot hold replaced."""
    return _FORBIDDEN.sub("\ufffd", text)


def number(value: float) -> str:
    """A coordinate with at most two decimals."""
    return f"{round(value, 2) + 0.0:.2f}".rstrip("0").rstrip(".")


class Canvas:
    """Collects shapes; `element` is the group that holds them all."""

    def __init__(self) -> None:
        self.element = Xml.Element("g")
        self._group = self.element

    @contextmanager
    def group(self, kind: str, name: str = "", title: str = "") -> Iterator[None]:
        """Shapes that belong together: a symbol, a line, a card."""
        outer = self._group
        self._group = Xml.SubElement(outer, "g", {"class": kind})
        if name:
            self._group.set("data-name", clean(name))
        if title:
            Xml.SubElement(self._group, "title").text = clean(title)
        try:
            yield
        finally:
            self._group = outer

    def line(self, *points: Point, kind: str = "s") -> None:
        """Straight strokes from point to point."""
        joined = " ".join(f"{number(x)},{number(y)}" for x, y in points)
        Xml.SubElement(self._group, "polyline", {"class": kind, "points": joined})

    def shape(self, *points: Point, kind: str = "s") -> None:
        """A closed outline."""
        joined = " ".join(f"{number(x)},{number(y)}" for x, y in points)
        Xml.SubElement(self._group, "polygon", {"class": kind, "points": joined})

    def box(self, at: Point, size: Point, kind: str = "s", round_by: float = 0) -> None:
        """A rectangle by its upper left corner."""
        places = {"x": at[0], "y": at[1], "width": size[0], "height": size[1]}
        made = {"class": kind, **{key: number(value) for key, value in places.items()}}
        if round_by:
            made["rx"] = number(round_by)
        Xml.SubElement(self._group, "rect", made)

    def ball(self, at: Point, radius: float, kind: str = "s") -> None:
        """A circle."""
        places = {"cx": number(at[0]), "cy": number(at[1]), "r": number(radius)}
        Xml.SubElement(self._group, "circle", {"class": kind, **places})

    def curve(self, start: Point, bend: Point, end: Point) -> None:
        """An arc that leans towards `bend`."""
        path = " ".join(
            f"{letter}{number(x)},{number(y)}"
            for letter, (x, y) in zip(("M", "Q", ""), (start, bend, end), strict=True)
        )
        Xml.SubElement(self._group, "path", {"class": "s", "d": path})

    def text(
        self,
        at: Point,
        words: str,
        *,
        kind: str = "t",
        anchor: str = "middle",
        most: float | None = None,
    ) -> None:
        """One line of text on its base line; longer than `most` [px] it is cut and titled."""
        if not words:
            return
        size, bold = SIZES[kind]
        shown = words if most is None else metrics.shortened(words, size, most, bold=bold)
        where = {"class": kind, "x": number(at[0]), "y": number(at[1]), "text-anchor": anchor}
        made = Xml.SubElement(self._group, "text", where)
        made.text = clean(shown)
        if shown != words:
            Xml.SubElement(made, "title").text = clean(words)

    def texts(
        self,
        at: Point,
        lines: Sequence[str],
        *,
        anchor: str = "middle",
        most: float | None = None,
    ) -> None:
        """Small lines under one another, the first on this base line."""
        x, y = at
        for line in lines:
            self.text((x, y), line, anchor=anchor, most=most)
            y += metrics.height(metrics.SMALL)


# The size of each kind of text, and whether it is bold.
SIZES: Mapping[str, tuple[float, bool]] = MappingProxyType(
    {
        "t": (metrics.SMALL, False),
        "u": (metrics.SMALL, True),
        "n": (metrics.NAME, True),
        "h": (metrics.TITLE, True),
    }
)
