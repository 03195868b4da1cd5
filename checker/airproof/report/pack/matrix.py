"""Risk matrices a meeting may choose from: how often, how bad, and the class of each pair."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Matrix:
    """Rows are frequencies, columns severities from the worst to the least.

    `severities` maps a property's severity to the column of that matrix.
    """

    name: str
    title: str
    source: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    legend: tuple[str, ...]
    severities: Mapping[str, str]


CLASSES = Matrix(
    "classes",
    "Risk classes I to IV",
    "risk classes with ALARP; the four severities and six frequencies in common use",
    ("catastrophic", "critical", "marginal", "negligible"),
    (
        ("frequent", ("I", "I", "I", "II")),
        ("probable", ("I", "I", "II", "III")),
        ("occasional", ("I", "II", "III", "III")),
        ("remote", ("II", "III", "III", "IV")),
        ("improbable", ("III", "III", "IV", "IV")),
        ("incredible", ("IV", "IV", "IV", "IV")),
    ),
    (
        "I intolerable",
        "II undesirable",
        "III tolerable if the cost exceeds the gain",
        "IV negligible",
    ),
    MappingProxyType({s: s for s in ("catastrophic", "critical", "marginal", "negligible")}),
)

RAILWAY = Matrix(
    "railway",
    "Railway example matrix",
    "after the example of EN 50126-1:1999; check it against your own edition",
    ("catastrophic", "critical", "marginal", "insignificant"),
    (
        ("frequent", ("intolerable", "intolerable", "intolerable", "undesirable")),
        ("probable", ("intolerable", "intolerable", "undesirable", "tolerable")),
        ("occasional", ("intolerable", "undesirable", "undesirable", "tolerable")),
        ("remote", ("undesirable", "undesirable", "tolerable", "negligible")),
        ("improbable", ("tolerable", "tolerable", "negligible", "negligible")),
        ("incredible", ("negligible", "negligible", "negligible", "negligible")),
    ),
    (),
    MappingProxyType(
        {
            "catastrophic": "catastrophic",
            "critical": "critical",
            "marginal": "marginal",
            "negligible": "insignificant",
        }
    ),
)

DEFENCE = Matrix(
    "defence",
    "Defence matrix",
    "after MIL-STD-882E, table III; the cell marked * is read in two ways, see the standard",
    ("1 catastrophic", "2 critical", "3 marginal", "4 negligible"),
    (
        ("A frequent", ("high", "high", "serious", "medium")),
        ("B probable", ("high", "high", "serious", "medium")),
        ("C occasional", ("high", "serious", "medium", "low")),
        ("D remote", ("serious", "medium", "medium", "low")),
        ("E improbable", ("medium", "medium", "*", "low")),
        ("F eliminated", ("eliminated", "eliminated", "eliminated", "eliminated")),
    ),
    (),
    MappingProxyType(
        {
            "catastrophic": "1 catastrophic",
            "critical": "2 critical",
            "marginal": "3 marginal",
            "negligible": "4 negligible",
        }
    ),
)

MATRICES: Mapping[str, Matrix] = MappingProxyType(
    {matrix.name: matrix for matrix in (CLASSES, RAILWAY, DEFENCE)}
)
SEVERITIES = ("catastrophic", "critical", "marginal", "negligible")  # from the worst down


def weight(severity: str | None) -> int:
    """Where a severity stands from the worst down; what has none comes last."""
    return SEVERITIES.index(severity) if severity in SEVERITIES else len(SEVERITIES)
