"""What a drawing does not tell of a moment, and what has just moved in it."""

from __future__ import annotations

from collections.abc import Iterator, Set
from dataclasses import dataclass

from airproof.circuit.kinds import Circuit
from airproof.circuit.state import State
from airproof.evidence.sequence import Sequence
from airproof.report.figures import Figures, figures
from airproof.report.pack.frames import states_of


@dataclass(frozen=True, slots=True)
class Stand:
    """Where one thing stands, and where it stood before; "" if that is the same."""

    name: str
    now: str
    was: str


@dataclass(frozen=True, slots=True)
class Stands:
    """Of one moment: what has just moved, and what else the drawing does not tell."""

    moved: tuple[Stand, ...]
    others: tuple[Stand, ...]


def stands_of(circuit: Circuit, sequence: Sequence, drawn: Set[str]) -> tuple[Stands, ...]:
    """One for the start and one for each step.

    drawn: the names of what the drawing shows where it stands
    """
    states, known = states_of(sequence), figures(circuit, sequence)
    air = circuit.supplies.keys() | circuit.volumes.keys()
    told = [dict(_told(state, known, air)) for state in states]
    return tuple(_stands(now, was, drawn) for now, was in zip(told, [told[0], *told], strict=False))


def _stands(now: dict[str, str], was: dict[str, str], drawn: Set[str]) -> Stands:
    moved = [Stand(name, text, was[name]) for name, text in now.items() if text != was[name]]
    others = [
        Stand(name, text, "")
        for name, text in now.items()
        if text == was[name] and name not in drawn
    ]
    return Stands(tuple(moved), tuple(others))


def _told(state: State, known: Figures, air: Set[str]) -> Iterator[tuple[str, str]]:
    """Everything that stands somewhere but the pressures, which the drawing always shows."""
    for name, place in state.positions.items():
        left = state.leaving.get(name)
        yield name, place if left is None else f"moving from {left} to {place}"
    yield from state.timers.items()
    for name, value in state.values.items():
        if name not in air:
            yield name, known.full(name, value).replace("about ", "~")
