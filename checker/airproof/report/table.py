"""A sequence as comma-separated values: a line for each state, a column for each thing."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from fractions import Fraction

from airproof.circuit.kinds import Circuit
from airproof.circuit.state import State, Step
from airproof.circuit.switching import moves_made
from airproof.circuit.tables import Tables, tables_of
from airproof.evidence.sequence import Sequence
from airproof.report.figures import exact

_FIRST = ("step", "kind", "duration s", "moves")


def to_csv(circuit: Circuit, sequence: Sequence) -> str:
    """The whole table as text; numbers are exact, a fraction where decimals do not end.

    Line 0 is the start.  `duration s` is empty where the length of a stretch is
    not determined; an amount [bar litre] is what the step moved through a flow.
    """
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow([*_FIRST, *_heads(circuit)])
    writer.writerow(
        ["0", "start", "", "", *_state(circuit, sequence.start), *_amounts(circuit, {})]
    )
    tables = tables_of(circuit)
    for number, (before, step) in enumerate(sequence.pairs(), start=1):
        lasted = "" if step.duration is None else exact(step.duration)
        told = "; ".join(_moves(tables, before, step))
        state = _state(circuit, step.after)
        writer.writerow([number, step.kind, lasted, told, *state, *_amounts(circuit, step.amounts)])
    return stream.getvalue()


def _heads(circuit: Circuit) -> Iterator[str]:
    yield from circuit.positions
    yield from circuit.timers
    for name in circuit.value_starts:
        unit = circuit.quantities[name].unit if name in circuit.quantities else "bar"
        yield f"{name} {unit}".rstrip()
    yield from (f"{name} bar litre" for name in circuit.flows)


def _state(circuit: Circuit, state: State) -> Iterator[str]:
    for name in circuit.positions:
        left, place = state.leaving.get(name), state.positions[name]
        yield place if left is None else f"{left} -> {place}"
    yield from (state.timers[name] for name in circuit.timers)
    yield from (exact(state.values[name]) for name in circuit.value_starts)


def _amounts(circuit: Circuit, amounts: Mapping[str, Fraction]) -> Iterator[str]:
    return (exact(amounts.get(name, Fraction(0))) for name in circuit.flows)


def _moves(tables: Tables, before: State, step: Step) -> Iterator[str]:
    for move in moves_made(tables, before, step.after) if step.kind == "switch" else ():
        was, now = (x if isinstance(x, str) else exact(x) for x in (move.was, move.now))
        yield f"{move.name}: {was} -> {now}"
