"""The tree of a change file: its head and its steps, as written."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from airproof.base.source import Span
from airproof.language.syntax import Measure, Name, Title


@dataclass(frozen=True, slots=True)
class Clause:
    """A clause that a step sets.

    rule:  the grammar's name for it; `extent` for a size or a range
    place: the position, of a clause that stands once for each
    text:  the clause on one line
    """

    rule: str
    place: str
    text: str
    span: Span


@dataclass(frozen=True, slots=True)
class Value:
    """`5.5 bar`, `5.5 bar +- 0.1 bar` or `0 bar .. 8 bar`, in base units, and its text."""

    first: Fraction
    last: Fraction | None
    unit: str
    tolerance: Measure | None
    text: str
    span: Span


@dataclass(frozen=True, slots=True)
class Inserted:
    """Whole statements that a step brings, as lines from the left margin."""

    lines: tuple[str, ...]
    span: Span


@dataclass(frozen=True, slots=True)
class Fix:
    """`fix NAME at POSITION`."""

    name: Name
    position: Name


@dataclass(frozen=True, slots=True)
class Remove:
    """`remove NAME`; a nameless interlock goes by its title."""

    name: Name | Title


@dataclass(frozen=True, slots=True)
class Withdraw:
    """`withdraw PROPERTY because "reason"`."""

    name: Name
    reason: Title


@dataclass(frozen=True, slots=True)
class Add:
    """`add` and one statement or several."""

    new: Inserted


@dataclass(frozen=True, slots=True)
class Replace:
    """`replace NAME with` and one statement or several."""

    name: Name | Title
    new: Inserted


@dataclass(frozen=True, slots=True)
class SetClauses:
    """`set NAME: CLAUSE, CLAUSE`."""

    name: Name
    clauses: tuple[Clause, ...]


@dataclass(frozen=True, slots=True)
class Swap:
    """`set NAME from VALUE to VALUE`, for a number inside a condition or a clause."""

    name: Name
    old: Value
    new: Value


@dataclass(frozen=True, slots=True)
class Connect:
    """`connect FLOW from A to B`, or `connect FIT.PORT to PLACE`."""

    name: Name
    source: Name | None
    target: Name | None


Deed = Fix | Remove | Withdraw | Add | Replace | SetClauses | Swap | Connect


@dataclass(frozen=True, slots=True)
class Step:
    """One step; `text` is how it is written, on one line for each of its lines."""

    number: int
    deed: Deed
    text: str
    span: Span


@dataclass(frozen=True, slots=True)
class Change:
    """A change file: what it is called, for which circuit's file, why, and its steps."""

    path: str
    title: str
    circuit: Title
    reason: str | None
    steps: tuple[Step, ...]
