"""One number of a statement changed where it stands, in a clause or inside a condition."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from fractions import Fraction
from typing import Any

from airproof.language import syntax
from airproof.language.changing.finding import Asked
from airproof.language.changing.nodes import Swap, Value
from airproof.language.changing.sites import Site
from airproof.language.changing.surgery import Cut, after
from airproof.language.printed_conditions import measure_text

_Place = tuple[Cut, ...]  # the cuts that change the number at one place


def swapped(asked: Asked, site: Site, deed: Swap) -> list[Cut]:
    """The cuts that put the new value in the place of the old one.

    A tolerance that the step does not name is kept.
    Raises Rejected unless the old value stands in the statement exactly once.
    """
    found = list(_places(site.node, deed.old, deed.new))
    data = {"name": deed.name.text, "value": deed.old.text}
    if not found:
        raise asked.refuse("step_no_value", deed.old.span, site, **data)
    if len(found) > 1:
        times = str(len(found))
        raise asked.refuse("step_values_twice", deed.old.span, site, times=times, **data)
    return list(found[0])


def _places(node: Any, old: Value, new: Value) -> Iterator[_Place]:
    match node:
        case syntax.Extent():
            yield from _extent(node, old, new)
        case syntax.Comparison():
            for side in (node.left, node.right):
                for part in side.parts:
                    if isinstance(part, syntax.Constant):
                        yield from _compared(part.measure, node, old, new)
        case syntax.Offset():
            yield from _compared(node.by, node, old, new)
        case syntax.Measure():
            if _meant(node, old) and old.tolerance is None and new.tolerance is None:
                yield (Cut(node.span, new.text),)
        case tuple():
            for part in node:
                yield from _places(part, old, new)
        case _ if is_dataclass(node):
            for field in fields(node):
                yield from _places(getattr(node, field.name), old, new)


def _meant(measure: syntax.Measure, old: Value) -> bool:
    same_kind = str(measure.unit.dimension.powers) == old.unit
    return same_kind and measure.value == old.first and old.last is None


def _extent(extent: syntax.Extent, old: Value, new: Value) -> Iterator[_Place]:
    if extent.last is not None:
        ends = (extent.first.value, extent.last.value)
        if ends == (old.first, old.last) and _same_unit(extent.first, old):
            yield (Cut(extent.span, new.text),)
    elif _meant(extent.first, old) and _tolerated(extent.tolerance, old):
        kept = extent.tolerance is not None and new.tolerance is None and new.last is None
        yield (Cut(extent.first.span if kept else extent.span, new.text),)


def _same_unit(measure: syntax.Measure, old: Value) -> bool:
    return str(measure.unit.dimension.powers) == old.unit


def _compared(
    measure: syntax.Measure, node: syntax.Comparison | syntax.Offset, old: Value, new: Value
) -> Iterator[_Place]:
    """A number in a comparison, whose tolerance stands behind the whole of it."""
    if new.last is not None or not (_meant(measure, old) and _tolerated(node.tolerance, old)):
        return
    number = Cut(measure.span, new.text.split(" +- ")[0])
    if new.tolerance is None:
        yield (number,)
        return
    by = measure_text(new.tolerance)
    if node.tolerance is not None:
        yield (number, Cut(node.tolerance.span, by))
    elif measure.span.end_column == node.span.end_column:
        yield (Cut(measure.span, f"{number.text} +- {by}"),)
    else:
        yield (number, Cut(after(node.span), f" +- {by}"))


def _tolerated(tolerance: syntax.Measure | None, old: Value) -> bool:
    """The old value names no tolerance, or this one."""
    if old.tolerance is None:
        return True
    return tolerance is not None and _size(tolerance) == _size(old.tolerance)


def _size(tolerance: syntax.Measure) -> tuple[Fraction, str]:
    return tolerance.value, str(tolerance.unit.dimension.powers)
