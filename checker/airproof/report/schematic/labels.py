"""Short wordings that stand beside symbols."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from airproof.circuit.conditions import Compare, Condition, leaves
from airproof.circuit.kinds import Band, Choke, Circuit, Conductance, Rate, Restriction
from airproof.report import words
from airproof.report.figures import plain
from airproof.report.schematic import metrics

MOST_PILOTS = 3  # pressures named at one pilot
NARROW = 157.0  # words at a pilot [px]


def band(known: Band, unit: str = "bar") -> str:
    """`5 bar`, or `0 .. 8 bar` where it is not settled."""
    if known.low == known.high:
        return f"{plain(known.low)} {unit}".rstrip()
    return f"{plain(known.low)} .. {plain(known.high)} {unit}".rstrip()


def reading(known: Band, unit: str = "bar") -> str:
    """A band as it stands beside a symbol: a rounded figure has a `~` before it."""
    return band(known, unit).replace("about ", "~")


def spread(known: Band, unit: str) -> str:
    """`6 mm +- 5 %` where the share is a plain one, else `5.7 .. 6.3 mm`."""
    middle = (known.low + known.high) / 2
    if known.low == known.high or not middle:
        return band(known, unit)
    share = (known.high - known.low) / 2 / abs(middle) * 100
    if (share * 10).denominator == 1 and (middle * 1000).denominator == 1:
        return f"{plain(middle)} {unit} +- {plain(share)} %"
    return band(known, unit)


def restriction(limit: Restriction | None) -> tuple[str, ...]:
    """What limits a flow, in lines."""
    match limit:
        case Choke(diameter):
            return (spread(diameter, "mm"),)
        case Conductance(conductance, ratio):
            return (f"C {spread(conductance, 'l/(s bar)')}", f"b {plain(ratio)}")
        case Rate(bounds):
            return (f"{plain(bounds.low)} .. {plain(bounds.high)}", "bar.litre/s")
    return ()


def comparison(leaf: Compare, circuit: Circuit) -> str:
    """A comparison without its tolerance."""
    return words.comparison(replace(leaf, tolerance=Fraction(0)), words.units(circuit))


def pilot(when: Condition, circuit: Circuit) -> tuple[str, ...]:
    """What a pilot reads, in lines: the comparison, or only the pressures if there is more."""
    read = [leaf for leaf in leaves(when) if isinstance(leaf, Compare)]
    if not read:
        return ()
    simple = words.inward(when)
    if isinstance(simple, Compare):
        return _broken(comparison(simple, circuit))
    names = list(dict.fromkeys(name for leaf in read for name in leaf.form.names))
    more = ", ..." if len(names) > MOST_PILOTS else ""
    return metrics.wrapped(f"by {', '.join(names[:MOST_PILOTS])}{more}", metrics.SMALL, NARROW)


def _broken(said: str) -> tuple[str, ...]:
    """A comparison in lines, the second one beginning with what it is compared by."""
    for sign in (" >= ", " <= ", " > ", " < ", " is "):
        left, found, right = said.partition(sign)
        if found:
            rest = metrics.wrapped(f"{found.strip()} {right}", metrics.SMALL, NARROW, lines=2)
            return (metrics.shortened(left, metrics.SMALL, NARROW), *rest)
    return metrics.wrapped(said, metrics.SMALL, NARROW, lines=2)
