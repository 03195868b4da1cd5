"""What a condition says."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from airproof.base.source import Span
from airproof.language.syntax.words import Measure, Name


@dataclass(frozen=True, slots=True)
class Term:
    """`2.5 times pipe`, with the sign that stands before it; weight 1 if none is written."""

    weight: Fraction
    name: Name
    span: Span


@dataclass(frozen=True, slots=True)
class Constant:
    """A measure inside a form, `sign` +1 or -1."""

    sign: int
    measure: Measure
    span: Span


@dataclass(frozen=True, slots=True)
class Form:
    """A sum of terms and constants in the order of the text; `atmosphere` may be a term."""

    parts: tuple[Term | Constant, ...]
    span: Span


@dataclass(frozen=True, slots=True)
class Comparison:
    """`left order right`; `X is below Y` has the order `<`, `X is above Y` has `>`.

    `tolerance` is the one after the whole comparison.
    """

    left: Form
    order: Literal[">=", ">", "<=", "<"]
    right: Form
    tolerance: Measure | None
    words: bool  # written with `is below` / `is above`
    span: Span


@dataclass(frozen=True, slots=True)
class Offset:
    """`left is by below right`: right - left >= by; `above`: left - right >= by."""

    left: Form
    by: Measure
    side: Literal["below", "above"]
    right: Form
    tolerance: Measure | None
    span: Span


@dataclass(frozen=True, slots=True)
class Is:
    """`lever is lift`, `lever is not lift`."""

    subject: Name
    position: Name
    negated: bool
    span: Span


@dataclass(frozen=True, slots=True)
class IsMoving:
    """`lockout is moving`, `lockout is not moving`."""

    subject: Name
    negated: bool
    span: Span


@dataclass(frozen=True, slots=True)
class IsFlowing:
    """`lift is flowing`, `lift is not flowing`."""

    subject: Name
    negated: bool
    span: Span


@dataclass(frozen=True, slots=True)
class HasExpired:
    """`notice has expired`, `notice has not expired`."""

    subject: Name
    negated: bool
    span: Span


@dataclass(frozen=True, slots=True)
class HasGoneTo:
    """`lever has gone to lift`."""

    subject: Name
    position: Name
    span: Span


@dataclass(frozen=True, slots=True)
class Signalled:
    """A bare name: a signal, its condition to be looked up."""

    name: Name
    span: Span


@dataclass(frozen=True, slots=True)
class Negation:
    part: Condition
    span: Span


@dataclass(frozen=True, slots=True)
class All:
    """`A and B and C`; a part that is an All or Some was in brackets."""

    parts: tuple[Condition, ...]
    span: Span


@dataclass(frozen=True, slots=True)
class Some:
    """`A or B or C`; a part that is an All or Some was in brackets."""

    parts: tuple[Condition, ...]
    span: Span


Condition = (
    Comparison
    | Offset
    | Is
    | IsMoving
    | IsFlowing
    | HasExpired
    | HasGoneTo
    | Signalled
    | Negation
    | All
    | Some
)
