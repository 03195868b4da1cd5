"""Trees of the kinds that stand for flows and devices to their nodes."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType

from airproof.base.quantities import PRESSURE, TIME, VOLUME
from airproof.base.source import Span
from airproof.language import syntax
from airproof.language.clauses import Clauses
from airproof.language.reader import Child, Reader

# The first part of each of these trees is the kind's own words.


def _double_check(
    reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span
) -> syntax.DoubleCheckValve:
    name, restriction = reader.new_name(parts[1]), clauses.restriction()
    first, second, target = (reader.name(part) for part in parts[2:5])
    return syntax.DoubleCheckValve(
        name, first, second, target, restriction, clauses.drawing(), span
    )


def _relief(
    reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span
) -> syntax.ReliefValve:
    return syntax.ReliefValve(
        reader.new_name(parts[1]),
        reader.name(parts[2]),
        reader.name(parts[3]),
        clauses.due_extent("opens", PRESSURE, span),
        clauses.due_extent("shuts", PRESSURE, span),
        clauses.restriction(),
        clauses.extent("moving_takes", TIME),
        clauses.drawing(),
        span,
    )


def _reducing(
    reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span
) -> syntax.ReducingValve:
    return syntax.ReducingValve(
        reader.new_name(parts[1]),
        reader.name(parts[2]),
        reader.name(parts[3]),
        clauses.due_extent("set_to", PRESSURE, span),
        clauses.restriction(),
        clauses.drawing(),
        span,
    )


def _self_lapping(
    reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span
) -> syntax.SelfLappingValve:
    follows = clauses.single.get("follows")
    by = None if follows is None else follows.children[1]
    return syntax.SelfLappingValve(
        reader.new_name(parts[1]),
        reader.name(parts[2]),
        reader.name(parts[3]),
        clauses.due_name("exhaust", span),
        clauses.due_name("follows", span),
        None if by is None else reader.tolerance(by, PRESSURE),
        clauses.restriction(),
        clauses.drawing(),
        span,
    )


def _quick_exhaust(
    reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span
) -> syntax.QuickExhaustValve:
    return syntax.QuickExhaustValve(
        reader.new_name(parts[1]),
        reader.name(parts[2]),
        reader.name(parts[3]),
        clauses.due_name("exhaust", span),
        clauses.restriction(),
        clauses.drawing(),
        span,
    )


def _governor(
    reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span
) -> syntax.Governor:
    return syntax.Governor(
        reader.new_name(parts[0]),
        clauses.due_name("watches", span),
        clauses.due_extent("starts_at", PRESSURE, span),
        clauses.due_extent("stops", PRESSURE, span),
        clauses.starts(),
        clauses.extent("moving_takes", TIME),
        clauses.drawing(),
        span,
    )


def _pressure_switch(
    reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span
) -> syntax.PressureSwitch:
    return syntax.PressureSwitch(
        reader.new_name(parts[1]),
        clauses.due_name("watches", span),
        clauses.due_extent("closes", PRESSURE, span),
        clauses.due_extent("opens", PRESSURE, span),
        clauses.starts(),
        clauses.extent("moving_takes", TIME),
        clauses.drawing(),
        span,
    )


def _isolating_cock(
    reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span
) -> syntax.IsolatingCock:
    return syntax.IsolatingCock(
        reader.new_name(parts[1]),
        reader.name(parts[2]),
        reader.name(parts[3]),
        clauses.starts(),
        clauses.name("sealed"),
        clauses.name("worked"),
        clauses.restriction(),
        clauses.drawing(),
        span,
    )


def _spring_cylinder(
    reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span
) -> syntax.SpringCylinder:
    return syntax.SpringCylinder(
        reader.new_name(parts[1]),
        reader.extent(parts[2], VOLUME) if len(parts) > 2 else None,
        clauses.extent("starts_extent"),
        clauses.due_extent("on_below", PRESSURE, span),
        clauses.due_extent("off_above", PRESSURE, span),
        clauses.drawing(),
        span,
    )


Read = Callable[[Reader, Sequence[Child], Clauses, Span], syntax.Statement]

SPECIAL: Mapping[str, Read] = MappingProxyType(
    {
        "double_check": _double_check,
        "relief": _relief,
        "reducing": _reducing,
        "self_lapping": _self_lapping,
        "quick_exhaust": _quick_exhaust,
        "governor": _governor,
        "pressure_switch": _pressure_switch,
        "isolating_cock": _isolating_cock,
        "spring_cylinder": _spring_cylinder,
    }
)
