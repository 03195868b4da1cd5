"""When two conditions are due at once: each as a few boxes of intervals and plain facts.

Only what can be said for certain counts: a condition whose boxes are too many,
or that reads the device itself, is passed over.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from airproof.circuit.conditions import (
    OPPOSITE,
    AllOf,
    AnyOf,
    At,
    Compare,
    Condition,
    Form,
    Not,
    OnTheWay,
    Truth,
    leaves,
)

MOST_BOXES = 16

Fact = tuple[object, bool]


@dataclass(frozen=True, slots=True)
class Box:
    """Open intervals per form (None = unbounded), and leaves that are true or false."""

    intervals: dict[Form, tuple[Fraction | None, Fraction | None]] = field(default_factory=dict)
    facts: frozenset[Fact] = frozenset()


def conjunctions(condition: Condition, device: str) -> list[Box] | None:
    """The boxes in which the condition is certainly due; None if not known."""
    if any(_reads(leaf, device) for leaf in leaves(condition)):
        return None
    return _boxes(condition, True)


def _reads(leaf: object, device: str) -> bool:
    if isinstance(leaf, At):
        return leaf.component == device
    return isinstance(leaf, OnTheWay) and leaf.device == device


def _boxes(condition: Condition, wanted: bool) -> list[Box] | None:
    match condition:
        case Not(part=part):
            return _boxes(part, not wanted)
        case AllOf(parts=parts) if wanted:
            return _joined(parts, wanted)
        case AnyOf(parts=parts) if not wanted:
            return _joined(parts, wanted)
        case AllOf(parts=parts) | AnyOf(parts=parts):
            return _either(parts, wanted)
        case Truth(value=value):
            return [Box()] if value == wanted else []
        case Compare():
            return [_interval(condition, wanted)]
        case _:
            return [Box(facts=frozenset({(condition, wanted)}))]


def _interval(leaf: Compare, wanted: bool) -> Box:
    """Strictly beyond the far edge: there the comparison cannot count as false."""
    order = leaf.order if wanted else OPPOSITE[leaf.order]
    if order in (">=", ">"):
        return Box({leaf.form: (leaf.constant + leaf.tolerance, None)})
    return Box({leaf.form: (None, leaf.constant - leaf.tolerance)})


def _either(parts: tuple[Condition, ...], wanted: bool) -> list[Box] | None:
    found: list[Box] = []
    for part in parts:
        boxes = _boxes(part, wanted)
        if boxes is None or len(found) + len(boxes) > MOST_BOXES:
            return None
        found += boxes
    return found


def _joined(parts: tuple[Condition, ...], wanted: bool) -> list[Box] | None:
    found = [Box()]
    for part in parts:
        boxes = _boxes(part, wanted)
        if boxes is None or len(found) * len(boxes) > MOST_BOXES:
            return None
        found = [both for one in found for other in boxes if (both := _both(one, other))]
    return found


def _both(one: Box, other: Box) -> Box | None:
    """What lies in both boxes, None if that is certainly nothing."""
    facts = one.facts | other.facts
    if any((fact, not truth) in facts for fact, truth in facts) or _two_places(facts):
        return None
    intervals = dict(one.intervals)
    for form, (low, high) in other.intervals.items():
        had_low, had_high = intervals.get(form, (None, None))
        low = had_low if low is None else low if had_low is None else max(low, had_low)
        high = had_high if high is None else high if had_high is None else min(high, had_high)
        if low is not None and high is not None and low >= high:
            return None
        intervals[form] = (low, high)
    return Box(intervals, facts)


def _two_places(facts: frozenset[Fact]) -> bool:
    at = [leaf for leaf, truth in facts if truth and isinstance(leaf, At)]
    return len({leaf.component for leaf in at}) < len(at)


def meet(one: Box, other: Box) -> tuple[Form | None, Fraction] | None:
    """A form and a value of it at which both are due.

    Told only where it is certain enough to refuse the text: the boxes speak of
    one form at least or say the same, and one of them knows every fact that
    the other knows (facts of both sides might exclude each other).
    """
    both = _both(one, other)
    if both is None:
        return None
    shared = [form for form in one.intervals if form in other.intervals]
    nested = one.facts <= other.facts or other.facts <= one.facts
    untied = len(both.intervals) == 1 or all(len(form.terms) == 1 for form in both.intervals)
    if one != other and not (shared and nested and untied):
        return None
    for form in shared:
        return form, _between(*both.intervals[form])
    return None, Fraction(0)


def _between(low: Fraction | None, high: Fraction | None) -> Fraction:
    if low is None:
        return (high or Fraction(0)) - 1
    return low + 1 if high is None else (low + high) / 2
