"""Where every block stands and how the lines between them run: the layout library's work.

The layers, the order within them and the level lines are graphlay's.  Both ends
of a line are fixed ports on facing sides, and everything goes from left to
right, so that no line has a reason to pass over a block.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import graphlay

from airproof.report.schematic.canvas import Point
from airproof.report.schematic.compact import compacted
from airproof.report.schematic.sheet import End, Frame, Link, Sheet

OPTIONS: tuple[tuple[str, Any], ...] = (
    ("direction", "leftright"),
    (
        "spacing",
        {
            "layer_gap": 22.0,
            "node_gap": 8.0,
            "dummy_gap": 12.0,
            "port_gap": 8.0,
            "stub": 8.0,
            "isolated_gap": 14.0,
        },
    ),
    (
        "routing",
        {
            "style": "orthogonal",
            "bundle_parallel": False,
            "lane_gap": 8.0,
            "port_sides": "facing_only",
            "centre_ports": "off",
            "merge_edges": "both",
        },
    ),
    ("effort", "thorough"),
)


# Ways to place the blocks within their layers; none is the best for every sheet.
WAYS: tuple[tuple[str, Any], ...] = (
    ("coords", {"placement": "network_simplex"}),
    ("coords", {"placement": "brandes_koepf"}),
    ("compaction", {"mode": "priority"}),
)


@dataclass(frozen=True, slots=True)
class Placed:
    """The upper left corner of each block, the course of each line, and the size of all."""

    corners: Mapping[str, Point]
    courses: tuple[tuple[Link, tuple[Point, ...]], ...]
    size: Point


def placed(sheet: Sheet, way: int = 0) -> Placed:
    """Lays the sheet out, from (0, 0), in one of the WAYS."""
    if not sheet.blocks:
        return Placed({}, (), (0.0, 0.0))
    graph, cores = graphlay.Graph(), {name: _core(frame) for name, frame in sheet.frames.items()}
    for name, block in sheet.frames.items():
        graph.node(name, width=block.size[0], height=cores[name][1], label="")
    for link in sheet.links:
        ends = (_hint(sheet, link.start, cores), _hint(sheet, link.end, cores))
        graph.edge(link.start.block, link.end.block, source_port=ends[0], target_port=ends[1])
    found = graphlay.layout(graph, options=dict((*OPTIONS, WAYS[way])))
    return _read(sheet, cores, found.to_dict())


def _core(block: Frame) -> tuple[float, float]:
    """A block made tall enough to have its ports about its middle: its top, and how tall.

    The library lines blocks up by their middles; like this it lines up their ports.
    """
    height = block.size[1]
    rows = [port.row for port in block.ports] or [height / 2]
    middle = (min(rows) + max(rows)) / 2
    half = max(middle, height - middle)
    return middle - half, 2 * half


def _hint(sheet: Sheet, end: End, cores: Mapping[str, tuple[float, float]]) -> dict[str, Any]:
    """The port as the library wants it: from -1 at the top of its side to 1 at the bottom."""
    port = sheet.frames[end.block].ports[end.port]
    top, tall = cores[end.block]
    place = 2 * (port.row - top) / tall - 1
    return {"offset": {"side": port.side, "t": max(-1.0, min(1.0, place))}}


def _read(sheet: Sheet, cores: Mapping[str, tuple[float, float]], found: dict[str, Any]) -> Placed:
    corners: dict[str, Point] = {}
    for (name, block), node in zip(sheet.frames.items(), found["nodes"], strict=True):
        top, tall = cores[name]
        centre = node["center"]
        corners[name] = (centre["x"] - block.size[0] / 2, centre["y"] - tall / 2 - top)
    courses = tuple(
        (link, tuple((point["x"], point["y"]) for point in edge["points"]))
        for link, edge in zip(sheet.links, found["edges"], strict=True)
    )
    return from_zero(sheet, *compacted(sheet, corners, courses))


def from_zero(
    sheet: Sheet,
    corners: Mapping[str, Point],
    courses: tuple[tuple[Link, tuple[Point, ...]], ...],
) -> Placed:
    """Everything moved so that the upper left corner of it all is (0, 0)."""
    points = [point for _, course in courses for point in course]
    points += corners.values()
    for name, (x, y) in corners.items():
        width, height = sheet.frames[name].size
        points.append((x + width, y + height))
    left, top = min(x for x, _ in points), min(y for _, y in points)
    right, bottom = max(x for x, _ in points), max(y for _, y in points)
    return Placed(
        {name: (x - left, y - top) for name, (x, y) in corners.items()},
        tuple((link, tuple((x - left, y - top) for x, y in course)) for link, course in courses),
        (right - left, bottom - top),
    )
