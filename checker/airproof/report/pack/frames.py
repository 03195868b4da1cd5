"""A sequence moment by moment: what is said at each, and a table of all that changes."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from airproof.circuit.kinds import Circuit
from airproof.circuit.state import State, Step
from airproof.evidence.sequence import Sequence
from airproof.report import schematic
from airproof.report.figures import Figures, exact, figures
from airproof.report.moving import air_moving
from airproof.report.story import Story
from airproof.report.words import amount

COLUMNS = 7  # moments side by side that A4 has room for


@dataclass(frozen=True, slots=True)
class Frame:
    """One moment: the start, or where a step ends.

    `item` counts the story's items from 1, 0 is the start; `part` says which step
    of a stretch of time it is.
    """

    number: int
    kind: str  # "start", "instant" or "time"
    item: int
    text: str
    parts: tuple[str, ...]
    part: str
    midway: bool  # others of the same stretch follow
    lasts: str  # how long the step took, where that is known
    last: bool


@dataclass(frozen=True, slots=True)
class Cell:
    """What a table says of one thing at one moment; `exact` loses nothing of a number."""

    text: str
    exact: str
    changed: bool


@dataclass(frozen=True, slots=True)
class Row:
    """One thing at every moment; `unit` is empty for what has positions."""

    name: str
    unit: str
    cells: tuple[Cell, ...]

    @property
    def changes(self) -> bool:
        return any(cell.changed for cell in self.cells)


@dataclass(frozen=True, slots=True)
class Part:
    """Some neighbouring moments of a table: their columns, and the rows' cells in them."""

    columns: tuple[Frame, ...]
    rows: tuple[tuple[Row, tuple[Cell, ...]], ...]


def states_of(sequence: Sequence) -> tuple[State, ...]:
    """The start and where each step ends."""
    return (sequence.start, *(step.after for step in sequence.steps))


def frames_of(sequence: Sequence, story: Story) -> tuple[Frame, ...]:
    """One frame for the start and one for each step, with the words of the story."""
    end = len(sequence.steps)
    made = [Frame(0, "start", 0, story.start, (), "", False, "", not end)]
    for item, group in enumerate(_groups(sequence), start=1):
        told = story.items[item - 1]
        for number, step in enumerate(group, start=1):
            kind = "instant" if step.kind == "switch" else "time"
            part = f"part {number} of {len(group)}" if len(group) > 1 else ""
            place = len(made)
            lasts = amount(step.duration, "s") if step.duration else ""
            last = place == end
            midway = number < len(group)
            words = (told.text, told.parts, part, midway, lasts, last)
            made.append(Frame(place, kind, item, *words))
    return tuple(made)


def steps_told(frames: tuple[Frame, ...], item: int) -> str:
    """The steps of an item of the story, counted from 1: `step 8`, `steps 8 to 10`."""
    numbers = [frame.number for frame in frames if frame.item == item]
    return f"step {numbers[0]}" if len(numbers) == 1 else f"steps {numbers[0]} to {numbers[-1]}"


def _groups(sequence: Sequence) -> Iterator[list[Step]]:
    """The steps of each item of a story: a switch step, or a stretch of time."""
    for kind, group in itertools.groupby(sequence.steps, key=lambda step: step.kind):
        if kind == "elapse":
            yield list(group)
        else:
            yield from ([step] for step in group)


def rows_of(circuit: Circuit, sequence: Sequence) -> tuple[Row, ...]:
    """Every value, position and timer at every moment."""
    known = figures(circuit, sequence)
    states = states_of(sequence)
    values = [_values(name, states, known) for name in sequence.start.values]
    places = [
        _row(name, "", [_place(s, name) for s in states]) for name in sequence.start.positions
    ]
    timers = [_row(name, "", [state.timers[name] for state in states]) for name in circuit.timers]
    return (*values, *places, *timers)


def _values(name: str, states: tuple[State, ...], known: Figures) -> Row:
    shown = [state.values[name] for state in states]
    texts = [known.bare(name, value).replace("about ", "~") for value in shown]
    return _row(name, known.unit(name), texts, [exact(value) for value in shown])


def _row(name: str, unit: str, texts: list[str], exacts: list[str] | None = None) -> Row:
    told = exacts or texts
    before = [told[0], *told]
    cells = zip(texts, told, before, strict=False)
    return Row(name, unit, tuple(Cell(text, now, now != was) for text, now, was in cells))


def _place(state: State, name: str) -> str:
    if name in state.leaving:
        return f"{state.leaving[name]} to {state.positions[name]}"
    return state.positions[name]


def parts_of(frames: tuple[Frame, ...], rows: tuple[Row, ...]) -> tuple[Part, ...]:
    """The table in parts that fit side by side on paper, each with every row."""
    count = -(-len(frames) // COLUMNS)
    wide = -(-len(frames) // count)
    return tuple(
        Part(
            frames[left : left + wide],
            tuple((row, row.cells[left : left + wide]) for row in rows),
        )
        for left in range(0, len(frames), wide)
    )


def times_of(sequence: Sequence) -> tuple[Fraction, ...] | None:
    """When each moment is [s], if every stretch's length is known; else None."""
    times = [Fraction(0)]
    for step in sequence.steps:
        if step.kind == "elapse" and step.duration is None:
            return None
        times.append(times[-1] + (step.duration or 0))
    return tuple(times) if times[-1] else None


def moments_of(circuit: Circuit, sequence: Sequence) -> Iterator[schematic.Moment]:
    """Each state with the amounts [bar litre] and the air that moved in the step before it."""
    yield sequence.start, {}, {}
    for before, step in sequence.pairs():
        yield step.after, step.amounts, air_moving(circuit, before, step)
