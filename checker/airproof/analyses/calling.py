"""Which property of another circuit asks the same, whatever it is called there."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

from airproof.analyses.likening import likened
from airproof.analyses.renaming import question
from airproof.circuit.kinds import Circuit


def called(circuit: Circuit, other: Circuit) -> dict[str, str]:
    """The other circuit's properties by those of the circuit, where both ask the same.

    One that is called the same goes first, of others the first of the text.
    """
    told = likened(circuit, other)
    names = told.renaming.properties
    same: dict[object, list[str]] = defaultdict(list)
    for name in other.properties:
        same[asks(other, name)].append(name)
    found: dict[str, str] = {}
    for name in circuit.properties:
        here = names.get(name, name)
        there = same.get(asks(told.circuit, here), ())
        if there:
            found[name] = here if here in there else there[0]
    return found


def firsts(circuit: Circuit) -> dict[str, str]:
    """For each property the first of the text that asks the same."""
    found: dict[object, str] = {}
    return {name: found.setdefault(asks(circuit, name), name) for name in circuit.properties}


def asks(circuit: Circuit, name: str) -> object:
    """What a property asks, and what the standing state pins from which it starts; to compare."""
    asked = circuit.properties[name]
    state = None if asked.start is None else circuit.standings[asked.start]
    pins = state and (sorted(state.positions.items()), sorted(state.values.items()))
    return question(replace(asked, start=None)), repr(pins)
