"""Controls, devices and timers, and the rules that bind controls."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from airproof.base.source import Span
from airproof.language.syntax.conditions import Condition
from airproof.language.syntax.places import Restriction
from airproof.language.syntax.words import Drawing, Extent, Measure, Name, Title

# ---- controls, devices, timers


@dataclass(frozen=True, slots=True)
class Control:
    """`control lever: brake, hold, lift; in that order; starts brake; worked by winderman`.

    `starts` is empty if the text says nothing.
    """

    name: Name
    positions: tuple[Name, ...]
    starts: tuple[Name, ...]
    ordered: bool
    sealed: Name | None
    dwell: Measure | None
    worked_by: Name | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class RangeControl:
    """`control handle: 0 bar .. 5 bar; starts 0 bar; worked by driver`."""

    name: Name
    range: Extent
    starts: Extent | None
    worked_by: Name | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class Plain:
    """`picked while COND, dropped otherwise`."""

    position: Name
    condition: Condition
    otherwise: Name
    span: Span


@dataclass(frozen=True, slots=True)
class Move:
    """`moves to open when COND`."""

    to: Name
    condition: Condition
    span: Span


@dataclass(frozen=True, slots=True)
class Branch:
    """`to brake when open or half, choke 3 mm`; `when` is empty for `to atmosphere otherwise`."""

    target: Name
    when: tuple[Name, ...]
    restriction: Restriction | None
    span: Span


@dataclass(frozen=True, slots=True)
class Joins:
    """`joins pipe to brake when open, to atmosphere otherwise`."""

    source: Name
    branches: tuple[Branch, ...]
    span: Span


@dataclass(frozen=True, slots=True)
class Device:
    """`valve|relay|switch|latch NAME: ...`.

    `positions`: as listed; with `plain`, its two; empty if the text lists none
    (a valve that only `joins`).  `starts` is empty if the text says nothing.
    """

    kind: Literal["valve", "relay", "switch", "latch"]
    name: Name
    positions: tuple[Name, ...]
    plain: Plain | None
    moves: tuple[Move, ...]
    joins: tuple[Joins, ...]
    starts: tuple[Name, ...]
    moving: Extent | None
    on_the_way: Literal["any", "closed", "joined"] | None
    latched: bool
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class Timer:
    """`timer notice: runs while COND; expires after 2 s .. 2.5 s`."""

    name: Name
    runs: Condition
    expires: Extent
    drawing: Drawing | None
    span: Span


# ---- rules


@dataclass(frozen=True, slots=True)
class Rule:
    """`lever moves to lift only while COND`, `lever is locked in ...`, `lever is forced to ...`."""

    kind: Literal["only", "locked", "forced"]
    control: Name
    position: Name
    condition: Condition
    span: Span


@dataclass(frozen=True, slots=True)
class Interlock:
    """`interlock NAME "title"` and one rule; a nameless one has name None."""

    name: Name | None
    title: Title | None
    rule: Rule
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class AlwaysRule:
    """`always main >= 4 bar` in an assumption."""

    condition: Condition
    span: Span


@dataclass(frozen=True, slots=True)
class Assumption:
    name: Name
    title: Title | None
    rule: Rule | AlwaysRule
    drawing: Drawing | None
    span: Span
