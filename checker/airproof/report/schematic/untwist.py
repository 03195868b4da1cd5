"""The best of several layouts, ports of valves in the order of what they lead to."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import replace

from airproof.report.schematic.compact import NEAR
from airproof.report.schematic.layout import WAYS, Placed, placed
from airproof.report.schematic.sheet import End, Link, Sheet
from airproof.report.schematic.valves import Valve

TRIES = 2
DEEP = 1e9  # below everything: where an exhaust goes
CROSSING, BEND = 150.0, 15.0  # what each is worth in length of line [px]


def untwisted(sheet: Sheet) -> tuple[Sheet, Placed]:
    """The sheet, its ports turned, and the best of its layouts."""
    found = [_untwisted(sheet, way) for way in range(len(WAYS))]
    return min(found, key=lambda pair: cost(pair[1]))


def _untwisted(sheet: Sheet, way: int) -> tuple[Sheet, Placed]:
    """Ports turned for as long as that makes the layout better."""
    best, laid = sheet, placed(sheet, way)
    for _ in range(TRIES):
        turned = _turned(best, laid)
        if turned == best:
            break
        again = placed(turned, way)
        if cost(again) > cost(laid):
            break
        best, laid = turned, again
    return best, laid


def cost(laid: Placed) -> float:
    """How hard a layout is on the eye: crossings, bends, length of line and extent [px]."""
    pairs = [pair for _, course in laid.courses for pair in itertools.pairwise(course)]
    length = sum(abs(a[0] - b[0]) + abs(a[1] - b[1]) for a, b in pairs)
    bends = sum(abs(a[1] - b[1]) > NEAR for a, b in pairs)
    return CROSSING * crossings(laid) + BEND * bends + length + sum(laid.size)


def crossings(laid: Placed) -> int:
    """How often a level stretch meets an upright one of another line."""
    stretches = [
        (number, a, b)
        for number, (_, course) in enumerate(laid.courses)
        for a, b in itertools.pairwise(course)
    ]
    level = [each for each in stretches if each[1][1] == each[2][1]]
    upright = [each for each in stretches if each[1][1] != each[2][1]]
    return sum(
        one != other
        and min(a[0], b[0]) < c[0] < max(a[0], b[0])
        and min(c[1], d[1]) < a[1] < max(c[1], d[1])
        for one, a, b in level
        for other, c, d in upright
    )


def _turned(sheet: Sheet, laid: Placed) -> Sheet:
    """The same sheet, each valve's outlets ordered by how deep their lines end."""
    orders = {
        name: _order(name, block, sheet, laid)
        for name, block in sheet.blocks.items()
        if isinstance(block, Valve)
    }
    blocks = {
        name: _with_order(block, orders[name]) if isinstance(block, Valve) else block
        for name, block in sheet.blocks.items()
    }
    links = tuple(_moved(link, orders) for link in sheet.links)
    return replace(sheet, blocks=blocks, links=links)


def _order(name: str, block: Valve, sheet: Sheet, laid: Placed) -> list[int]:
    """The old numbers of the outlets in their new order."""
    depths = dict.fromkeys(range(len(block.outlets)), DEEP)
    for link in sheet.links:
        for mine, other in ((link.start, link.end), (link.end, link.start)):
            if mine.block == name:
                far = sheet.frames[other.block].ports[other.port]
                depths[mine.port] = laid.corners[other.block][1] + far.row
    return sorted(depths, key=lambda port: depths[port])


def _with_order(block: Valve, order: list[int]) -> Valve:
    new = {old: number for number, old in enumerate(order)}
    ways = tuple(replace(way, start=new[way.start], end=new[way.end]) for way in block.ways)
    return replace(block, outlets=tuple(block.outlets[old] for old in order), ways=ways)


def _moved(link: Link, orders: Mapping[str, list[int]]) -> Link:
    def turned(end: End) -> End:
        order = orders.get(end.block)
        return end if order is None else End(end.block, order.index(end.port))

    return replace(link, start=turned(link.start), end=turned(link.end))
