"""What a sequence depends on, in plain words and as data."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Possible, Property
from airproof.circuit.without import Thing, Way
from airproof.evidence.dependence import Dependence, Needed
from airproof.report.words import Units, comparison, units

_OUTSIDE = (None, "outside")
_HEADS: tuple[tuple[str, tuple[Way, ...]], ...] = (
    ("Moves that it needs", ("control", "device", "timer", "value")),
    ("Settings that must be met for it", ("met",)),
    ("Settings that would prevent it if they were met all along", ("not met",)),
)


@dataclass(frozen=True, slots=True)
class Chapter:
    """A heading and what stands under it, one line each."""

    heading: str
    lines: tuple[str, ...]


def introduction(asked: Property, dependence: Dependence) -> str:
    """What was tried, and what exactly is claimed."""
    word = _word(asked)
    return (
        "Each thing named here was ruled out by itself, with all else as the circuit says: then "
        f"{word} cannot come about. That is proved for runs of any length, unless the line says "
        f"`within {dependence.steps} steps`. Two things that can stand in for each other are "
        "not named, for neither is needed."
    )


def chapters(circuit: Circuit, dependence: Dependence) -> tuple[Chapter, ...]:
    """What is needed, and why; a heading without anything under it is left out."""
    found = [
        Chapter(head, tuple(_lines(circuit, dependence, dependence.of(*ways))))
        for head, ways in _HEADS
    ]
    return tuple(chapter for chapter in found if chapter.lines)


def remarks(circuit: Circuit, asked: Property, dependence: Dependence) -> tuple[str, ...]:
    """What is not needed, and what was not settled."""
    return tuple(_remarks(circuit, asked, dependence))


def thing_told(circuit: Circuit, thing: Thing) -> str:
    """One thing: `winderman moves handle to lap`, `main >= 5 bar (lockout)`."""
    match thing.way:
        case "control":
            person = circuit.controls[thing.name].worked_by
            who = f"{person} moves {thing.name}" if person not in _OUTSIDE else ""
            return f"{who or f'{thing.name} is moved'} to {thing.place}"
        case "device":
            return f"{thing.name} moves to {thing.place}"
        case "timer":
            return f"{thing.name} expires"
        case "value" if thing.name in circuit.range_controls:
            return f"{thing.name} is set otherwise than it starts"
        case "value":
            return f"{thing.name} changes"
    return f"{_setting(thing, units(circuit))} ({_reader(thing)})"


def as_data(circuit: Circuit, dependence: Dependence) -> dict[str, Any]:
    """The same as plain data, as the schema of `replay` describes it."""
    return {
        "steps": dependence.steps,
        "needed": [{**_data(circuit, one.thing), "claim": one.claim} for one in dependence.needed],
        "not_needed": [_data(circuit, one) for one in dependence.spared],
        "apart": [_data(circuit, one) for one in dependence.apart],
        "time_would_stop": [_data(circuit, one) for one in dependence.still],
        "not_settled": [_data(circuit, one) for one in dependence.open],
        "why": dependence.why or None,
        "whole_circuit": dependence.exact,
    }


def _data(circuit: Circuit, thing: Thing) -> dict[str, str | None]:
    return {
        "what": thing.way,
        "name": thing.name,
        "place": thing.place or None,
        "setting": _setting(thing, units(circuit)) if thing.setting else None,
        "text": thing_told(circuit, thing),
    }


def _lines(circuit: Circuit, dependence: Dependence, needed: Iterable[Needed]) -> Iterator[str]:
    for one in needed:
        claim = f" (within {dependence.steps} steps)" if one.claim == "within" else ""
        yield thing_told(circuit, one.thing) + claim


def _remarks(circuit: Circuit, asked: Property, dependence: Dependence) -> Iterator[str]:
    def told(things: Iterable[Thing]) -> str:
        return "; ".join(thing_told(circuit, one) for one in things)

    word = _word(asked)
    if not dependence.needed:
        yield f"Nothing was found that {word} cannot do without."
    if dependence.spared and dependence.exact:
        spared = told(dependence.spared)
        yield f"Not needed, for {word} can come about without any one of: {spared}."
    elif dependence.spared:
        yield f"Not shown to be needed: {told(dependence.spared)}."
    if dependence.apart:
        yield f"Moved, but nothing that decides {word} reads it: {told(dependence.apart)}."
    if dependence.still:
        yield (
            "Nothing is claimed of these, for without any one of them time could not pass: "
            f"{told(dependence.still)}."
        )
    if dependence.open:
        why = f" ({dependence.why})" if dependence.why else ""
        yield f"Not settled{why}: {told(dependence.open)}."


def _setting(thing: Thing, named: Units) -> str:
    assert thing.setting is not None
    return comparison(thing.setting, named)


def _reader(thing: Thing) -> str:
    if thing.reader in ("interlock", "assumption", "flow"):
        return f"{thing.reader} {thing.name}"
    return thing.name


def _word(asked: Property) -> str:
    return "what is asked" if isinstance(asked.sentence, Possible) else "the breach"
