"""What a sequence does, apart from when: its moves, each as what goes where."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from airproof.circuit.cone import outside
from airproof.circuit.kinds import Circuit
from airproof.circuit.state import State
from airproof.circuit.switching import Moved, MoveKind, moves_made
from airproof.circuit.tables import Tables

ANYWHERE = ""  # the place of a range control, wherever it is set to
EXPIRED = "expired"
TOLD: tuple[MoveKind, ...] = (
    "control",
    "device",
    "sets off",
    "turns round",
    "timer expires",
    "range",
)


class Deed(NamedTuple):
    """A control or device that goes to a place, a timer that expires, a range control set anew."""

    name: str
    place: str


@dataclass(frozen=True, slots=True)
class Done:
    """What a sequence does, and in how many steps (switch and elapse)."""

    deeds: frozenset[Deed]
    steps: int


def deeds(tables: Tables, before: State, after: State) -> Iterator[Deed]:
    """Those of one switch step; what arrives did so when it set off."""
    return (deed_of(move) for move in moves_made(tables, before, after) if move.kind in TOLD)


def deed_of(move: Moved) -> Deed:
    """The move without its beginning; of a kind that is told."""
    return Deed(move.name, ANYWHERE if move.kind == "range" else str(move.now))


def possible_deeds(circuit: Circuit) -> tuple[Deed, ...]:
    """Every deed that a run of the circuit could do; what stands for the rest of one does none."""
    places = {name: places for name, places in circuit.positions.items() if not outside(name)}
    placed = (Deed(name, place) for name, there in places.items() for place in there)
    timed = (Deed(name, EXPIRED) for name in circuit.timers)
    return (*placed, *timed, *(Deed(name, ANYWHERE) for name in circuit.range_controls))
