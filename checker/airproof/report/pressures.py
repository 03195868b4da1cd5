"""The pressures of a sequence as rows: how things stand at the start and after each stretch."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

from airproof.circuit.kinds import Circuit
from airproof.circuit.state import State
from airproof.evidence.sequence import Sequence
from airproof.report.figures import Figures, figures


@dataclass(frozen=True, slots=True)
class Row:
    """mark: `start`, or the number of the story's item after which it stands so."""

    mark: str
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Pressures:
    """heads: each name with its unit; a `~` in a cell marks a rounded number."""

    heads: tuple[str, ...]
    rows: tuple[Row, ...]


def pressures(circuit: Circuit, sequence: Sequence) -> Pressures:
    """Every value that changes, at the start and wherever one has changed."""
    known = figures(circuit, sequence)
    moments = list(_moments(sequence))
    names = [name for name in sequence.start.values if _changes(name, moments)]
    heads = tuple(f"{name} [{known.unit(name)}]" if known.unit(name) else name for name in names)
    rows = []
    shown: State | None = None
    for mark, state in moments:
        if shown is None or any(state.values[n] != shown.values[n] for n in names):
            rows.append(Row(mark, tuple(_cell(known, name, state) for name in names)))
            shown = state
    return Pressures(heads, tuple(rows))


def _moments(sequence: Sequence) -> Iterator[tuple[str, State]]:
    """The start and the end of each of the story's items: a switch step, or a whole stretch."""
    yield "start", sequence.start
    number = itertools.count(1)
    for kind, group in itertools.groupby(sequence.steps, key=lambda step: step.kind):
        steps = list(group)
        for step in steps if kind == "switch" else steps[-1:]:
            yield f"{next(number)})", step.after


def _changes(name: str, moments: list[tuple[str, State]]) -> bool:
    return len({state.values[name] for _, state in moments}) > 1


def _cell(known: Figures, name: str, state: State) -> str:
    return known.bare(name, state.values[name]).replace("about ", "~")
