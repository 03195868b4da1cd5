"""What is compared: one circuit's one property, by group."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import table_reader
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import TIMED
from airproof.language import load_text
from benchmarks.families import SIZES, Bands, Shape, members

WORKED = Path(__file__).parents[2] / "models" / "worked"
GROUPS = ("table", "worked", "independent", "chained")
REACHED = {"breached", "possible"}  # the words of expectations under which a run gets there
_EXPECT = re.compile(r"^# expect: (\w+) (\S+)", re.MULTILINE)
_QUICK_SIZES = (1, 4, 16)
_QUICK_PROPERTIES = {"handled", "late_lift", "keeper", "drained"}


@dataclass(frozen=True, slots=True)
class Case:
    """One property of one circuit.

    reached: whether, by hand, some run breaches it (or gets to what was asked to be possible)
    units:   how many units its family's circuit has; None outside the families
    """

    group: str
    circuit: str
    prop: str
    text: str
    reached: bool
    units: int | None = None
    bands: Bands | None = None

    @property
    def name(self) -> str:
        return f"{self.circuit} {self.prop}"

    @property
    def line(self) -> tuple[str, str, str]:
        """What the members of a family have in common."""
        return self.group, str(self.bands), self.prop


@cache
def loaded(text: str) -> Circuit:
    """The circuit of a text."""
    return load_text(text, "circuit").circuit


def cases(groups: tuple[str, ...], *, quick: bool = False) -> list[Case]:
    """All cases of the groups, in a fixed order; members of a family smallest first."""
    found = [case for group in groups for case in _of(group, quick=quick)]
    return [case for case in found if not timed(case)]


def timed(case: Case) -> bool:
    """The property has a time in it."""
    return isinstance(loaded(case.text).properties[case.prop].sentence, TIMED)


def _of(group: str, *, quick: bool) -> Iterator[Case]:
    match group:
        case "table":
            yield from list(_table())[:: 5 if quick else 1]
        case "worked":
            yield from list(_worked())[:: 4 if quick else 1]
        case "independent" | "chained":
            sizes = _QUICK_SIZES if quick else SIZES
            both = (*_family(group, "none", sizes), *_family(group, "bands", sizes))
            yield from (c for c in both if not quick or c.prop in _QUICK_PROPERTIES)
        case _:
            raise ValueError(f"no group {group}")


def _table() -> Iterator[Case]:
    for row in table_reader.rows():
        for expected in row.expectations:
            reached = expected.length is not None
            yield Case("table", row.name, expected.name, row.text, reached)


def _worked() -> Iterator[Case]:
    for path in sorted(WORKED.glob("*.circuit")):
        text = path.read_text(encoding="utf-8")
        for name, word in _EXPECT.findall(text):
            yield Case("worked", path.stem, name, text, word in REACHED)


def _family(shape: Shape, bands: Bands, sizes: tuple[int, ...]) -> Iterator[Case]:
    for member in members(shape, bands, sizes):
        case = Case(shape, member.name, "", member.text, False, member.units, bands)
        for name, holds in member.expected.items():
            yield replace(case, prop=name, reached=not holds)
