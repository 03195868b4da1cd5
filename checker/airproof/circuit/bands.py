"""Which comparisons can be met while values stay within bands."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from airproof.circuit.conditions import Compare, Form
from airproof.circuit.kinds import Band

Bands = Mapping[str, Band]


def unkept(bands: Bands, comparison: Compare) -> bool:
    """Whether nothing in the bands satisfies the comparison; it has a band for each name in it."""
    low, high = _extremes(bands, comparison.form)
    constant = comparison.constant
    match comparison.order:
        case ">=":
            return high < constant
        case ">":
            return high <= constant
        case "<=":
            return low > constant
        case "<":
            return low >= constant


def _extremes(bands: Bands, form: Form) -> tuple[Fraction, Fraction]:
    low = high = Fraction(0)
    for name, weight in form.terms:
        ends = (bands[name].low * weight, bands[name].high * weight)
        low, high = low + min(ends), high + max(ends)
    return low, high
