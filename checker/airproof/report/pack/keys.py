"""The name by which a sequence is known in a record: what moved, step by step."""

from __future__ import annotations

import hashlib

from airproof.circuit.kinds import Circuit
from airproof.circuit.switching import moves_made
from airproof.circuit.tables import tables_of
from airproof.evidence.sequence import Sequence

LENGTH = 16  # hexadecimal digits


def key_of(circuit: Circuit, sequence: Sequence | None) -> str:
    """The same for two sequences with the same moves in the same order, whatever the pressures.

    A breach without a sequence (nothing reaches what should be possible) is `none`.
    """
    if sequence is None:
        return "none"
    tables = tables_of(circuit)
    lines: list[str] = []
    for before, step in sequence.pairs():
        if step.kind == "elapse":
            if lines[-1:] != ["time"]:
                lines.append("time")
            continue
        moves = moves_made(tables, before, step.after)
        placed = (m for m in moves if m.kind != "range")
        told = [f"{move.kind} {move.name} {move.was} {move.now}" for move in placed]
        told += [f"range {move.name}" for move in moves if move.kind == "range"]
        lines.append("; ".join(sorted(told)))
    return hashlib.sha256("\n".join(lines).encode("utf-8")).hexdigest()[:LENGTH]
