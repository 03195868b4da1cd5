"""What ends a stretch of time in a sequence, with the times that the circuit states for it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from airproof.circuit.kinds import Band, Circuit
from airproof.circuit.switching import Moved, moves_made
from airproof.circuit.tables import tables_of
from airproof.evidence.sequence import Sequence
from airproof.report.figures import plain


def expected(circuit: Circuit, sequence: Sequence) -> Mapping[int, tuple[str, ...]]:
    """By the number of an elapse step, counted from 1: what its time is needed for.

    That is each timer that expires and each device that arrives after it and
    before time passes again, with the step in which it does.
    """
    found: dict[int, list[str]] = {}
    tables, last = tables_of(circuit), 0
    for number, (before, step) in enumerate(sequence.pairs(), start=1):
        if step.kind == "elapse":
            last = number
            continue
        for move in moves_made(tables, before, step.after):
            for said in _stated(circuit, move):
                found.setdefault(last, []).append(f"step {number}: {move.name} {said}")
    return {number: tuple(told) for number, told in found.items()}


def _stated(circuit: Circuit, move: Moved) -> Iterator[str]:
    if move.kind == "timer expires":
        yield f"expires (stated: after {_between(circuit.timers[move.name].expires)})"
    elif move.kind == "arrives":
        moving = circuit.devices[move.name].moving
        time = f" (stated: moving takes {_between(moving)})" if moving else ""
        yield f"arrives at {move.now}{time}"


def _between(band: Band) -> str:
    low, high = plain(band.low), plain(band.high)
    return f"{low} s" if low == high else f"{low} s .. {high} s"
