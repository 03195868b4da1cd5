"""How large a picture's letters come out on A4, and which way round it is printed."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

from airproof.report.schematic import metrics
from airproof.report.schematic.canvas import Point

Sort = Literal["half", "tall", "broad"]

MILLIMETRES = 25.4  # an inch
POINTS = 72.0  # an inch
ENOUGH = 7.0  # [pt] the smallest letters, where nothing more is asked

# What a page has for one picture [mm]: two pictures on a page, one, or one across it.
ROOM: Mapping[Sort, Point] = MappingProxyType(
    {"half": (186.0, 100.0), "tall": (194.0, 241.0), "broad": (281.0, 150.0)}
)


def points(size: Point, sort: Sort) -> float:
    """The smallest letters of a picture of that size [px], printed so [pt].

    >>> round(points((1000.0, 400.0), "half"), 2)
    7.91
    """
    room = ROOM[sort]
    scale = min(room[0] / size[0], room[1] / size[1])
    return metrics.SMALL * scale * POINTS / MILLIMETRES


def sort_of(size: Point) -> Sort:
    """Two to a page where that makes the letters large enough; else the larger of the others."""
    if points(size, "half") >= ENOUGH:
        return "half"
    return max(("tall", "broad"), key=lambda sort: points(size, sort))


def printed(size: Point) -> float:
    """The smallest letters of a picture of that size [px], printed as suits it [pt]."""
    return points(size, sort_of(size))
