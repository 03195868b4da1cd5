"""Restrictions; the circuit, its parts, and where its air is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from airproof.base.source import Span
from airproof.language.syntax.conditions import Condition
from airproof.language.syntax.words import Drawing, Extent, Measure, Name, Title

# ---- restrictions


@dataclass(frozen=True, slots=True)
class Choke:
    """`choke 1.2 mm +- 10 %`."""

    diameter: Extent
    span: Span


@dataclass(frozen=True, slots=True)
class Conductance:
    """`conductance 0.5 l/(s bar) +- 10 %, ratio 0.4`."""

    conductance: Extent
    ratio: Measure
    span: Span


@dataclass(frozen=True, slots=True)
class Moving:
    """`moving 0.3 .. 0.4 bar.litre/s`."""

    bounds: Extent
    span: Span


Restriction = Choke | Conductance | Moving


# ---- circuit, parts, places of air


@dataclass(frozen=True, slots=True)
class Circuit:
    """`circuit winder "title"`."""

    name: Name
    title: Title | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class Include:
    """`include "file.circuit"`."""

    path: Title
    span: Span


@dataclass(frozen=True, slots=True)
class Binding:
    """`feed from main` or `out to pipe`: the two words mean the same."""

    port: Name
    word: Literal["from", "to"]
    target: Name
    span: Span


@dataclass(frozen=True, slots=True)
class Fit:
    """`fit cab as cab1, feed from main, out to pipe`."""

    part: Name
    name: Name
    bindings: tuple[Binding, ...]
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class Supply:
    """`supply main: 0 bar .. 8 bar, starts 7 bar, rises at most 0.5 bar/s`."""

    name: Name
    range: Extent
    starts: Extent | None
    rise: Measure | None
    fall: Measure | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class Volume:
    """`reservoir pilot: 3 litre +- 10 %, starts 0 bar`."""

    kind: Literal["reservoir", "pipe", "cylinder", "chamber"]
    name: Name
    size: Extent | None
    starts: Extent | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class Quantity:
    """`quantity level: starts 0 mm, changes at 1 mm/s while pump is on, at -2 mm/s while ...`."""

    name: Name
    starts: Extent | None
    changes: tuple[Change, ...]
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class Change:
    """`at 1 mm/s .. 2 mm/s while COND`; no condition = always."""

    speed: Extent
    condition: Condition | None
    span: Span
