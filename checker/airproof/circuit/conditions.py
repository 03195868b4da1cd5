"""Conditions: what devices, flows, timers, interlocks and properties read.

A condition is a small immutable tree.  Signals are already replaced by what
they stand for; pressures are gauge pressures in bar, everything is exact.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

Order = Literal[">=", ">", "<=", "<"]

OPPOSITE: dict[Order, Order] = {">=": "<", ">": "<=", "<=": ">", "<": ">="}
MIRROR: dict[Order, Order] = {">=": "<=", ">": "<", "<=": ">=", "<": ">"}


@dataclass(frozen=True, slots=True)
class Form:
    """A weighted sum of named values (supplies, volumes, range controls, quantities).

    `terms` is sorted by name and holds no zero weight.  Atmosphere is 0 bar
    gauge and never a term.
    """

    terms: tuple[tuple[str, Fraction], ...]

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(name for name, _ in self.terms)


@dataclass(frozen=True, slots=True)
class Compare:
    """`form order constant`, both edges `tolerance` away from the constant.

    Build with `compare`, which brings equal comparisons to equal objects.
    """

    form: Form
    order: Order
    constant: Fraction
    tolerance: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class At:
    """A control or device stands at a position (false on the way, see the reader's rules)."""

    component: str
    position: str


@dataclass(frozen=True, slots=True)
class OnTheWay:
    """A device with a moving time is between two positions."""

    device: str


@dataclass(frozen=True, slots=True)
class Expired:
    timer: str


@dataclass(frozen=True, slots=True)
class Flowing:
    """The flow's condition holds and its upstream is above its downstream."""

    flow: str


@dataclass(frozen=True, slots=True)
class GoneTo:
    """True in the stretch that begins with the control's move to the position."""

    control: str
    position: str


@dataclass(frozen=True, slots=True)
class Truth:
    value: bool


@dataclass(frozen=True, slots=True)
class Not:
    part: Condition


@dataclass(frozen=True, slots=True)
class AllOf:
    parts: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class AnyOf:
    parts: tuple[Condition, ...]


Leaf = Compare | At | OnTheWay | Expired | Flowing | GoneTo | Truth
Condition = Leaf | Not | AllOf | AnyOf

YES = Truth(True)
NO = Truth(False)


def form_of(weights: dict[str, Fraction]) -> Form:
    """The form with these weights; zero weights are dropped."""
    return Form(tuple(sorted((name, w) for name, w in weights.items() if w != 0)))


def compare(
    form: Form, order: Order, constant: Fraction, tolerance: Fraction = Fraction(0)
) -> Compare:
    """The comparison scaled so that the first weight of its form is 1.

    Raises ValueError if the form names nothing.
    """
    if not form.terms:
        raise ValueError("a comparison needs at least one named value")
    scale = form.terms[0][1]
    terms = tuple((name, w / scale) for name, w in form.terms)
    return Compare(
        Form(terms),
        MIRROR[order] if scale < 0 else order,
        constant / scale,
        abs(tolerance / scale),
    )


def leaves(condition: Condition) -> Iterator[Leaf]:
    """Every leaf of the tree, left to right, repeats included."""
    stack: list[Condition] = [condition]
    while stack:
        here = stack.pop()
        if isinstance(here, Not):
            stack.append(here.part)
        elif isinstance(here, AllOf | AnyOf):
            stack.extend(reversed(here.parts))
        else:
            yield here
