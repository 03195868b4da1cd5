"""Which parts of two circuits differ, numbered for a list and two drawings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from airproof.circuit.kinds import Circuit, Interlock
from airproof.report import words
from airproof.report.schematic import Mark
from airproof.report.schematic.marking import Word

_TABLES: Mapping[str, str] = {
    "supplies": "supply",
    "volumes": "volume",
    "controls": "control",
    "range_controls": "control",
    "devices": "device",
    "timers": "timer",
    "flows": "flow",
    "quantities": "quantity",
    "signals": "signal",
    "assumptions": "assumption",
    "standings": "standing state",
}


@dataclass(frozen=True, slots=True)
class Different:
    """One part that only one circuit has, or that both have and not alike."""

    number: int
    word: Word
    name: str
    kind: str


def differences(old: Circuit, new: Circuit) -> tuple[Different, ...]:
    """Everything that differs, what both have or only the new one first."""
    found = [*_parts(old, new), *_interlocks(old, new)]
    return tuple(Different(number, *one) for number, one in enumerate(found, start=1))


def marks(different: tuple[Different, ...]) -> Mapping[str, Mark]:
    """By name, for a drawing."""
    return {one.name: Mark(one.number, one.word) for one in different}


def _parts(old: Circuit, new: Circuit) -> Iterator[tuple[Word, str, str]]:
    for table, kind in _TABLES.items():
        before: Mapping[str, Any] = getattr(old, table)
        after: Mapping[str, Any] = getattr(new, table)
        for name in dict.fromkeys((*after, *before)):
            if name not in after:
                yield "gone", name, _kind(before[name], kind)
            elif name not in before:
                yield "new", name, _kind(after[name], kind)
            elif before[name] != after[name]:
                yield "changed", name, _kind(after[name], kind)


def _kind(part: Any, kind: str) -> str:
    """The trade's word for it where it has one."""
    return str(getattr(part, "kind", "") or kind)


def _interlocks(old: Circuit, new: Circuit) -> Iterator[tuple[Word, str, str]]:
    """By what they say, for a nameless one is called after its place."""
    before, after = (
        {replace(lock, name=""): _told(circuit, lock) for lock in circuit.interlocks.values()}
        for circuit in (old, new)
    )
    yield from (("new", told, "interlock") for lock, told in after.items() if lock not in before)
    yield from (("gone", told, "interlock") for lock, told in before.items() if lock not in after)


def _told(circuit: Circuit, lock: Interlock) -> str:
    when = words.condition(lock.condition, words.units(circuit))
    said = words.ruling(lock.rule, lock.control, lock.position, when)
    return f"{lock.title}: {said}" if lock.title else said
