"""The name by which a sequence is known in a record, and what moved in it, step by step."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from typing import get_args

from airproof.circuit.deeds import TOLD, Done, deed_of
from airproof.circuit.kinds import Circuit
from airproof.circuit.switching import Moved, MoveKind, moves_made
from airproof.circuit.tables import tables_of
from airproof.evidence.sequence import Sequence as Run

LENGTH = 16  # hexadecimal digits
TIME = "time"
_KINDS: tuple[MoveKind, ...] = get_args(MoveKind)


def key_of(circuit: Circuit, sequence: Run | None) -> str:
    """The same for two sequences with the same moves in the same order, whatever the pressures.

    A breach without a sequence (nothing reaches what should be possible) is `none`.
    """
    return "none" if sequence is None else key_of_moves(moves_of(circuit, sequence))


def key_of_moves(moves: Sequence[str]) -> str:
    """The key of the sequence with these moves, as `moves_of` has them."""
    return hashlib.sha256("\n".join(moves).encode("utf-8")).hexdigest()[:LENGTH]


def moves_of(circuit: Circuit, sequence: Run) -> tuple[str, ...]:
    """A line for each switch step, and `time` for each stretch of time."""
    tables = tables_of(circuit)
    lines: list[str] = []
    for before, step in sequence.pairs():
        if step.kind == "elapse":
            if lines[-1:] != [TIME]:
                lines.append(TIME)
            continue
        moves = moves_made(tables, before, step.after)
        placed = (m for m in moves if m.kind != "range")
        told = [f"{move.kind} {move.name} {move.was} {move.now}" for move in placed]
        told += [f"range {move.name}" for move in moves if move.kind == "range"]
        lines.append("; ".join(sorted(told)))
    return tuple(lines)


def done_in(moves: Sequence[str], steps: int) -> Done:
    """What a sequence with these moves, of so many steps, does; raises ValueError."""
    made = (move for line in moves for move in _read(line))
    return Done(frozenset(deed_of(move) for move in made if move.kind in TOLD), steps)


def moves_told(moves: Sequence[str]) -> Iterator[str]:
    """Each line for people; raises ValueError."""
    for line in moves:
        yield "; ".join(_told(move) for move in _read(line)) or "time passes"


def _read(line: str) -> Iterator[Moved]:
    """The moves of one line, none if time passes in it."""
    for part in line.split("; ") if line != TIME else ():
        kind = next((one for one in _KINDS if part.startswith(f"{one} ")), None)
        words = part.removeprefix(f"{kind} ").split(" ")
        if kind is None or len(words) != (1 if kind == "range" else 3):
            raise ValueError(f"there is no move `{part}`")
        name, was, now = words if kind != "range" else (*words, "", "")
        yield Moved(kind, name, was, now)


def _told(move: Moved) -> str:
    match move.kind:
        case "range":
            return f"{move.name} is set anew"
        case "timer expires":
            return f"{move.name} expires"
        case "timer reset":
            return f"{move.name} is reset"
        case "control" | "device":
            return f"{move.name} moves from {move.was} to {move.now}"
    return f"{move.name} {move.kind} from {move.was} to {move.now}"
