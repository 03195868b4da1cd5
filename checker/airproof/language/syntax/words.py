"""Words and numbers."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from airproof.base.quantities import Unit
from airproof.base.source import Span


@dataclass(frozen=True, slots=True)
class Name:
    """A name as written, with dots after parts were fitted: `cab1.handle`."""

    text: str
    span: Span


@dataclass(frozen=True, slots=True)
class Title:
    """A quoted text with its escapes resolved."""

    text: str
    span: Span


@dataclass(frozen=True, slots=True)
class Measure:
    """A number and its unit.  `value` is in base units, `written` the number as it stands.

    A plain number has the unit PLAIN (name ""), a percentage the unit PERCENT.
    """

    value: Fraction
    unit: Unit
    written: str
    span: Span


@dataclass(frozen=True, slots=True)
class Extent:
    """`5 bar`, `5 bar +- 0.1 bar`, `3 litre +- 10 %` or `0 bar .. 8 bar`.

    `tolerance` is a Measure of the same dimension or of unit PERCENT; never
    together with `last`.  In `A .. B` a missing unit of A is that of B.
    """

    first: Measure
    last: Measure | None
    tolerance: Measure | None
    span: Span

    @property
    def spread(self) -> Fraction:
        """The tolerance in base units, 0 if there is none."""
        if self.tolerance is None:
            return Fraction(0)
        if self.tolerance.unit.name == "%":
            return abs(self.first.value) * self.tolerance.value
        return self.tolerance.value

    @property
    def low(self) -> Fraction:
        """The least value in base units."""
        return self.first.value - self.spread

    @property
    def high(self) -> Fraction:
        """The greatest value in base units."""
        return (self.last or self.first).value + self.spread


@dataclass(frozen=True, slots=True)
class Drawing:
    """`drawing "B-104" item 7`."""

    sheet: str
    item: str | None
    span: Span
