"""The base shapes of ISO 1219-1, each drawn about a point on its line.

Every size follows one module, the side of a square of a valve.
"""

from __future__ import annotations

from airproof.report.schematic.canvas import Canvas, Point

MODULE = 24.0  # side of a valve's square [px]
HEAD = 4.0  # half the width of an arrow head
ENGINE = 11.0  # height of what works a valve, on an end of its squares
CHOKE = 22.0
CHECK = 20.0
VENT = 14.0  # an exhaust triangle


def arrow(pen: Canvas, tip: Point, way: int, *, kind: str = "f", size: float = HEAD) -> None:
    """A filled head that points right (1) or left (-1)."""
    x, y = tip
    back = x - way * size * 1.8
    pen.shape((x, y), (back, y - size), (back, y + size), kind=kind)


def choke(pen: Canvas, x: float, y: float, line: str) -> None:
    """A line pinched by two facing arcs, from x to x + CHOKE."""
    pen.line((x, y), (x + CHOKE, y), kind=line)
    for side in (-1, 1):
        left, right = (x + 3, y + side * 8), (x + CHOKE - 3, y + side * 8)
        pen.curve(left, (x + CHOKE / 2, y - side * 2), right)


def check(pen: Canvas, at: Point, way: int, *, spring: bool, line: str) -> None:
    """A ball in a seat; air that goes `way` lifts it off; CHECK long."""
    x, y = at
    middle = x + CHECK / 2
    seat, rim = middle - 6 * way, middle + 3.4 * way
    pen.line((x, y), (seat if way > 0 else rim, y), kind=line)
    pen.line((rim if way > 0 else seat, y), (x + CHECK, y), kind=line)
    pen.line((seat + 9 * way, y - 9), (seat, y), (seat + 9 * way, y + 9))
    pen.ball((middle - 0.3 * way, y), 3.8, kind="p")
    if spring:
        start = middle + 5 * way
        for step in range(4):
            here, there = start + way * step, start + way * (step + 1)
            high = -3 if step % 2 else 3
            pen.line((here, y - high), (there, y + high))


def exhaust(pen: Canvas, at: Point, way: int = 1, line: str = "s") -> None:
    """An open triangle that points away from the port, filled while air leaves there."""
    x, y = at
    tip = x + way * VENT
    pen.line((x, y), (x + way * 3, y), kind=line)
    kind = "s" if line == "s" else "f"
    pen.shape((x + way * 3, y - 6), (x + way * 3, y + 6), (tip, y), kind=kind)


def blocked(pen: Canvas, at: Point, way: int, reach: float = 5.0) -> None:
    """A shut port: a bar across the end of a short line, inside the square (way into it)."""
    x, y = at
    pen.line(at, (x + way * reach, y))
    pen.line((x + way * reach, y - 4), (x + way * reach, y + 4))


def squares(pen: Canvas, x: float, top: float, side: float, count: int) -> None:
    """The squares of a valve, one for each position, downwards."""
    for number in range(count):
        pen.box((x, top + number * side), (side, side))


def engine(pen: Canvas, kind: str, x: float, y: float, up: bool) -> None:
    """What works a valve, on the end of its squares whose middle is (x, y)."""
    side = -1 if up else 1
    end = y + side * (ENGINE - 1)
    if kind == "pilot":
        pen.box((x - 6, min(y, end)), (12, ENGINE - 1))
        pen.shape((x - 3.5, end - side * 2), (x + 3.5, end - side * 2), (x, y + side * 2))
    elif kind == "electric":
        pen.box((x - 8, min(y, end)), (16, ENGINE - 1))
        pen.line((x - 4, max(y, end)), (x + 4, min(y, end)))
    elif kind == "spring":
        step = side * (ENGINE - 1) / 4
        points = [(x + (4 if n % 2 else -4), y + n * step) for n in range(5)]
        pen.line(*points)
    elif kind == "hand":
        pen.line((x - 3, y), (x - 3, end), (x - 8, end))
        pen.line((x + 3, y), (x + 3, end), (x + 8, end))
        pen.line((x - 8, end), (x + 8, end))


def supply(pen: Canvas, at: Point) -> None:
    """A source of pressure: a triangle in a circle."""
    x, y = at
    pen.ball(at, MODULE / 2)
    pen.shape((x - 6, y - 7), (x - 6, y + 7), (x + 8, y))


def vessel(pen: Canvas, at: Point) -> None:
    """A reservoir: a capsule twice as long as it is high."""
    x, y = at
    pen.box((x - MODULE, y - MODULE / 2), (2 * MODULE, MODULE), round_by=MODULE / 2)


def chamber(pen: Canvas, at: Point) -> None:
    """A chamber: a plain box with a bar at its bottom."""
    x, y = at
    pen.box((x - 16, y - MODULE / 2), (32, MODULE))
    pen.line((x - 16, y + 7), (x + 16, y + 7))


def pipe(pen: Canvas, at: Point) -> None:
    """A pipe that has a name: a stout line with two unions."""
    x, y = at
    pen.box((x - MODULE, y - 2.5), (2 * MODULE, 5), kind="k")
    for end in (x - MODULE, x + MODULE):
        pen.line((end, y - 6), (end, y + 6))


def cylinder(pen: Canvas, at: Point, *, spring: bool) -> None:
    """A cylinder on its foot, air under the piston; a spring-applied one with its spring."""
    x, y = at
    pen.box((x - 14, y - 12), (28, 24))
    pen.line((x - 14, y - 4), (x + 14, y - 4))
    pen.line((x, y - 4), (x, y - 20))
    if spring:
        for left in (x - 12, x + 4):
            points = [(left + 2 * n, y - (11 if n % 2 else 5)) for n in range(5)]
            pen.line(*points)
