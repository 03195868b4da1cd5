"""Flows, and the kinds that stand for flows and devices."""

from __future__ import annotations

from dataclasses import dataclass

from airproof.base.source import Span
from airproof.language.syntax.conditions import Condition
from airproof.language.syntax.places import Restriction
from airproof.language.syntax.words import Drawing, Extent, Measure, Name


@dataclass(frozen=True, slots=True)
class Flow:
    """`flow lift: main -> brake while COND, choke 4 mm, one way opening at 0.2 bar`."""

    name: Name
    source: Name
    target: Name
    condition: Condition | None
    restriction: Restriction | None
    one_way: bool
    opening: Measure | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class DoubleCheckValve:
    """`double check valve NAME: A and B to C`."""

    name: Name
    first: Name
    second: Name
    target: Name
    restriction: Restriction | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class ReliefValve:
    """`relief valve NAME: A -> B, opens at 8 bar +- 0.1 bar, shuts at 7.5 bar +- 0.1 bar`."""

    name: Name
    source: Name
    target: Name
    opens: Extent
    shuts: Extent
    restriction: Restriction | None
    moving: Extent | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class ReducingValve:
    """`reducing valve NAME: A -> B, set to 5 bar +- 0.1 bar`."""

    name: Name
    source: Name
    target: Name
    setting: Extent
    restriction: Restriction | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class SelfLappingValve:
    """`self-lapping valve NAME: A -> B, exhaust atmosphere, follows HANDLE +- 0.05 bar`."""

    name: Name
    source: Name
    target: Name
    exhaust: Name
    follows: Name
    tolerance: Measure | None
    restriction: Restriction | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class QuickExhaustValve:
    """`quick-exhaust valve NAME: A to B, exhaust atmosphere`."""

    name: Name
    source: Name
    target: Name
    exhaust: Name
    restriction: Restriction | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class Governor:
    """`governor NAME: on MAIN, starts at 7 bar +- 0.1 bar, stops at 8 bar +- 0.1 bar`.

    `starts` as for every device (`; starts running`), empty if the text says nothing.
    """

    name: Name
    watches: Name
    starts_at: Extent
    stops_at: Extent
    starts: tuple[Name, ...]
    moving: Extent | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class PressureSwitch:
    """`pressure switch NAME: on PIPE, closes at 4.5 bar, opens at 4.0 bar; starts open`."""

    name: Name
    watches: Name
    closes: Extent
    opens: Extent
    starts: tuple[Name, ...]
    moving: Extent | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class IsolatingCock:
    """`isolating cock NAME: A to B; starts open; worked by fitter; sealed open`."""

    name: Name
    source: Name
    target: Name
    starts: tuple[Name, ...]
    sealed: Name | None
    worked_by: Name | None
    restriction: Restriction | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class SpringCylinder:
    """`spring-applied cylinder NAME: 12 litre, starts 0 bar; on below 1 bar, off above 3 bar`."""

    name: Name
    size: Extent | None
    starts: Extent | None
    on_below: Extent
    off_above: Extent
    drawing: Drawing | None
    span: Span
