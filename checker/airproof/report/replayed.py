"""`replay` on a terminal: one sequence step by step, its pressures, what it depends on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rich.box import SIMPLE_HEAD
from rich.console import Console, RenderableType
from rich.table import Table
from rich.text import Text

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Possible, Property
from airproof.evidence.dependence import Dependence
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Verdict
from airproof.report import depending
from airproof.report.findings import reason, remarks
from airproof.report.pressures import Pressures, pressures
from airproof.report.terminal import (
    STRENGTHS,
    about,
    hanging,
    heading,
    indented,
    outcome,
    run_told,
    shown,
)

MARK = 8  # columns for the mark of a row of pressures
GAP = 3  # columns between two pressures


@dataclass(frozen=True, slots=True)
class Told:
    """Which sequence of the property it is (1: the first), and the verdict that has it."""

    circuit: Circuit
    verdict: Verdict
    number: int = 1

    @property
    def asked(self) -> Property:
        return self.circuit.properties[self.verdict.property]


def show_run(told: Told, console: Console) -> None:
    """The sequence: where it starts, each step, the end, the pressures."""
    _print(_run(told, console.width), console)


def show_dependence(told: Told, dependence: Dependence | None, console: Console) -> None:
    """What it depends on; None if Ctrl-C came before that was asked."""
    _print(_depends(told, dependence), console)


def none_told(told: Told) -> str:
    """Why there is no sequence to tell."""
    verdict, asked = told.verdict, told.asked
    if told.number > 1:
        return f"{asked.name}: no other sequence: {no_other(verdict)}"
    if verdict.word == "holds":
        return (
            f"{asked.name}: {outcome(verdict)}; no run breaches it, so there is nothing to replay"
        )
    if verdict.word == "breached" and isinstance(asked.sentence, Possible):
        return f"{asked.name}: {outcome(verdict)}; no run reaches it, so there is nothing to replay"
    return f"{asked.name}: {outcome(verdict)}; there is nothing to replay"


def no_other(verdict: Verdict) -> str:
    """Why a further sequence was not found."""
    if verdict.reason in ("no breach within", "not found possible within"):
        return (
            f"each one of up to {verdict.depth} steps makes all the moves that one of the known "
            "sequences comes down to"
        )
    return shown(reason(verdict) or verdict.word)


def _run(told: Told, width: int) -> Iterator[RenderableType]:
    circuit, verdict, asked = told.circuit, told.verdict, told.asked
    assert verdict.sequence is not None
    which = f" (sequence {told.number})" if told.number > 1 else ""
    yield Text(f"{asked.name}: {heading(verdict, asked)}{which}", "bold")
    for line in about(circuit, asked):
        yield indented(Text(shown(line)))
    said = reason(verdict)
    notes = [*([said] if said else []), *remarks(verdict)]
    if verdict.strength is not None:
        notes.append(f"{verdict.strength}: {STRENGTHS[verdict.strength]}")
    for note in notes:
        yield indented(hanging("- ", Text(shown(note))))
    yield from run_told(circuit, verdict.sequence, asked, certain=verdict.word != "undecided")
    yield from _table(circuit, verdict.sequence, width)


def _table(circuit: Circuit, sequence: Sequence, width: int) -> Iterator[RenderableType]:
    found = pressures(circuit, sequence)
    if not found.heads:
        return
    yield Text("\nPressures", "bold")
    for first, last in _columns(found, width - 3 - MARK):
        yield indented(_part(found, first, last))


def _columns(found: Pressures, width: int) -> Iterator[tuple[int, int]]:
    """The columns of each table that fits the width: from, up to but not including."""
    first, used = 0, 0
    for index, head in enumerate(found.heads):
        wide = GAP + max(len(head), *(len(row.cells[index]) for row in found.rows))
        if used + wide > width and index > first:
            yield first, index
            first, used = index, 0
        used += wide
    yield first, len(found.heads)


def _part(found: Pressures, first: int, last: int) -> Table:
    table = Table(box=SIMPLE_HEAD, pad_edge=False, padding=(0, 1))
    table.add_column("after", no_wrap=True)
    for head in found.heads[first:last]:
        table.add_column(shown(head), justify="right", overflow="fold")
    for row in found.rows:
        table.add_row(row.mark, *row.cells[first:last])
    return table


def _depends(told: Told, dependence: Dependence | None) -> Iterator[RenderableType]:
    circuit, asked = told.circuit, told.asked
    yield Text("\nWhat it depends on", "bold")
    if dependence is None:
        yield indented(Text("not computed: interrupted"))
        return
    if dependence.needed:
        yield indented(Text(shown(depending.introduction(asked, dependence))))
    for chapter in depending.chapters(circuit, dependence):
        yield indented(Text(f"{chapter.heading}:"))
        for line in chapter.lines:
            yield indented(hanging("- ", Text(shown(line))))
    for line in depending.remarks(circuit, asked, dependence):
        yield indented(Text(shown(line)))


def _print(parts: Iterator[RenderableType], console: Console) -> None:
    """Without the blanks that tables leave at line ends."""
    with console.capture() as captured:
        for part in parts:
            console.print(part)
    lines = captured.get().splitlines()
    console.file.write("\n".join(line.rstrip() for line in lines) + "\n")
    console.file.flush()
