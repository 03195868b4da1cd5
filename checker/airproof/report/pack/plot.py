"""The pressures over the steps: a strip for each, with its settings and limits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from xml.etree import ElementTree as Xml

from airproof.circuit.kinds import Circuit
from airproof.report.figures import plain
from airproof.report.pack.settings import Setting, Settings
from airproof.report.schematic import metrics
from airproof.report.schematic.canvas import Canvas, number

WIDTH = 1000.0  # [px] of a strip
LEFT = 188.0  # room for the name and the scale
RIGHT = 272.0  # room for the words of the settings
LEAST = 83.0  # height of the field
PAD = 13.0
WORD = 17.0  # between the base lines of two settings' words
RADIUS = 3.4
FOOT = 20.0  # room for the ticks


@dataclass(frozen=True, slots=True)
class Strip:
    """One pressure's picture as SVG, and what it says for who cannot see it."""

    name: str
    svg: str
    size: tuple[float, float]
    said: str


@dataclass(frozen=True, slots=True)
class Axis:
    """Where each moment stands across a strip [px]; by time if that is known, else by order."""

    places: tuple[float, ...]
    ticks: tuple[str, ...]
    timed: bool

    @property
    def caption(self) -> str:
        if self.timed:
            return "From left to right: time, in seconds; a dot for each step."
        return (
            "From left to right: the order of happening, not time; the sequence was judged at "
            "any speed, so how long each step takes is left open."
        )


def axis_of(count: int, times: Sequence[Fraction] | None) -> Axis:
    """Places for so many moments, at their times [s] where these are known."""
    room = WIDTH - LEFT - RIGHT
    if times is None:
        steps = [room * place / max(count - 1, 1) for place in range(count)]
        ticks = [str(place) for place in range(count)]
    else:
        steps = [room * float(time / times[-1]) for time in times]
        ticks = [_rough(time) for time in times]
    places = tuple(round(LEFT + step, 2) for step in steps)
    return Axis(places, tuple(ticks), times is not None)


def strip_of(
    circuit: Circuit, name: str, values: Sequence[Fraction], settings: Settings, axis: Axis
) -> Strip:
    """The strip of one value; its unit is bar, or the quantity's own."""
    unit = circuit.quantities[name].unit if name in circuit.quantities else "bar"
    known = settings.get(name, ())
    return _Strip(name, unit, tuple(values), known, _limits(circuit, name), axis).drawn()


def _limits(circuit: Circuit, name: str) -> tuple[Fraction, ...]:
    """The ends of a stated range."""
    ranged = circuit.supplies.get(name) or circuit.range_controls.get(name)
    if ranged is None:
        return ()
    return tuple(sorted({ranged.range.low, ranged.range.high}))


@dataclass(frozen=True, slots=True)
class _Strip:
    name: str
    unit: str
    values: tuple[Fraction, ...]
    settings: tuple[Setting, ...]
    limits: tuple[Fraction, ...]
    axis: Axis

    @property
    def _height(self) -> float:
        return max(LEAST, WORD * (len(self._words()) + 1))

    def _y(self, value: Fraction) -> float:
        low, high = self._range()
        share = float((value - low) / (high - low))
        return PAD + (self._height - 2 * PAD) * (1 - share)

    def _range(self) -> tuple[Fraction, Fraction]:
        edges = [edge for one in self.settings for edge in one.edges]
        known = [*self.values, *edges, *self.limits]
        low, high = min(known), max(known)
        return (low, high) if low < high else (low - 1, high + 1)

    def drawn(self) -> Strip:
        pen = Canvas()
        self._field(pen)
        self._settings(pen)
        self._curve(pen)
        size = (WIDTH, self._height + FOOT)
        made = "".join(Xml.tostring(child, encoding="unicode") for child in pen.element)
        return Strip(self.name, made, size, self._said())

    def _field(self, pen: Canvas) -> None:
        right, low = WIDTH - RIGHT, self._height
        pen.box((LEFT, 0), (right - LEFT, low), kind="c")
        pen.text((4, 18), self.name, kind="n", anchor="start", most=LEFT - 62)
        pen.text((4, 38), f"in {self.unit}" if self.unit else "", anchor="start", most=LEFT - 62)
        for value in self._range():
            pen.text((LEFT - 7, self._y(value) + 5.5), _rough(value), anchor="end", most=56)
        shown = -100.0
        for tick, x in zip(self.axis.ticks, self.axis.places, strict=True):
            pen.line((x, low), (x, low + 4))
            room = metrics.width(tick, metrics.SMALL) / 2 + 3
            if x - room >= shown:
                pen.text((x, low + 18), tick)
                shown = x + room

    def _words(self) -> list[tuple[Fraction, str]]:
        """What stands at the right, from the top down."""
        said = [(one.value, f"{_rough(one.value)} {one.label}") for one in self.settings]
        taken = {one.value for one in self.settings}
        ends = [v for v in self.limits if v not in taken]
        said += [(value, f"{_rough(value)} end of its range") for value in ends]
        return sorted(said, key=lambda each: -each[0])

    def _settings(self, pen: Canvas) -> None:
        right = WIDTH - RIGHT
        for one in self.settings:
            high, low = self._y(one.edges[1]), self._y(one.edges[0])
            if one.tolerance:
                pen.box((LEFT, high), (right - LEFT, max(low - high, 1)), kind="band")
            pen.line((LEFT, self._y(one.value)), (right, self._y(one.value)), kind="pilot")
        for value in self.limits:
            pen.line((LEFT, self._y(value)), (right, self._y(value)), kind="c")
        words = self._words()
        for base, (value, said) in zip(self._bases(), words, strict=True):
            pen.line((right, self._y(value)), (right + 14, base - 5), kind="c")
            pen.text((right + 18, base), said, anchor="start", most=RIGHT - 22)

    def _bases(self) -> list[float]:
        """Base lines of the words: each near its line, none on another."""
        words = self._words()
        bases: list[float] = []
        for value, _ in words:
            bases.append(max(self._y(value) + 5.5, bases[-1] + WORD if bases else 12))
        lowest = self._height + 3
        for place in range(len(bases) - 1, -1, -1):
            bases[place] = min(bases[place], lowest)
            lowest = bases[place] - WORD
        return bases

    def _curve(self, pen: Canvas) -> None:
        points = [
            (x, self._y(value)) for x, value in zip(self.axis.places, self.values, strict=True)
        ]
        pen.line(*points, kind="w")
        for point in points:
            pen.ball(point, RADIUS, kind="k")

    def _said(self) -> str:
        points = ", ".join(f"{place}: {_rough(v)}" for place, v in enumerate(self.values))
        told = f"{self.name} in {self.unit}, by step. {points}"
        lines = "; ".join(said for _, said in self._words())
        return f"{told}. Settings and limits: {lines}" if lines else told


def _rough(value: Fraction) -> str:
    return plain(value).replace("about ", "~")


def box(strip: Strip) -> str:
    """The strip's `viewBox`."""
    return f"0 0 {number(strip.size[0])} {number(strip.size[1])}"
