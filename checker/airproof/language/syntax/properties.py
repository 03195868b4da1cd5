"""Signals, standing states and properties."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from airproof.base.source import Span
from airproof.language.syntax.conditions import Condition
from airproof.language.syntax.words import Drawing, Measure, Name, Title


@dataclass(frozen=True, slots=True)
class Signal:
    """`signal low_supply: main < 4.6 bar`."""

    name: Name
    condition: Condition
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class Observe:
    """`observe brake, lockout`: what is watched where two circuits are compared."""

    names: tuple[Name, ...]
    span: Span


@dataclass(frozen=True, slots=True)
class ValuePin:
    """`main = 7 bar` in a standing state."""

    name: Name
    value: Measure
    span: Span


@dataclass(frozen=True, slots=True)
class PositionPin:
    """`lever is brake` in a standing state."""

    name: Name
    position: Name
    span: Span


@dataclass(frozen=True, slots=True)
class State:
    """`state charged: main = 7 bar, pipe = 5 bar, lever is brake`."""

    name: Name
    pins: tuple[ValuePin | PositionPin, ...]
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class Never:
    """`never A while B`."""

    act: Condition
    meanwhile: Condition | None
    span: Span


@dataclass(frozen=True, slots=True)
class Always:
    condition: Condition
    span: Span


@dataclass(frozen=True, slots=True)
class Whenever:
    """`whenever A, B` or `whenever A, B within T`."""

    cause: Condition
    answer: Condition
    within: Measure | None
    span: Span


@dataclass(frozen=True, slots=True)
class OnlyAfter:
    """`A only after B since C`."""

    act: Condition
    leave: Condition
    since: Condition | None
    span: Span


@dataclass(frozen=True, slots=True)
class AfterNever:
    """`after A, never B until C`."""

    cause: Condition
    bad: Condition
    until: Condition | None
    span: Span


@dataclass(frozen=True, slots=True)
class OnceLasted:
    """`once A has lasted T, B`."""

    cause: Condition
    lasted: Measure
    answer: Condition
    span: Span


@dataclass(frozen=True, slots=True)
class Lasts:
    """`A lasts at least T`, `A lasts at most T`."""

    state: Condition
    bound: Literal["least", "most"]
    limit: Measure
    span: Span


@dataclass(frozen=True, slots=True)
class Possible:
    goal: Condition
    span: Span


Sentence = Never | Always | Whenever | OnlyAfter | AfterNever | OnceLasted | Lasts | Possible


@dataclass(frozen=True, slots=True)
class Property:
    """`property NAME "title"`, its clauses and one sentence."""

    name: Name
    title: Title
    severity: Name | None
    reason: Title | None
    hazard: Title | None
    sentence: Sentence
    instant: bool  # `even for an instant`
    start: Name | None  # `from STATE`
    drawing: Drawing | None
    span: Span
