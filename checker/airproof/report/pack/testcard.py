"""A card for a fitter with gauges: a sequence to be tried on the real equipment."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from airproof.circuit.conditions import Not
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Never, Possible, Property
from airproof.circuit.state import State, Step
from airproof.circuit.switching import Moved, moves_made
from airproof.circuit.tables import tables_of
from airproof.evidence.sequence import Sequence
from airproof.report.figures import Figures, figures
from airproof.report.pack.expected import expected
from airproof.report.pack.settings import Settings, edges_of, settings_of
from airproof.report.stretch import airs_told
from airproof.report.words import amount, condition, sentence, units

NAMED = 3  # readers of a setting that a gauge's line names; the rest are counted


@dataclass(frozen=True, slots=True)
class Reading:
    """A gauge, what it should show, and between which settings that lies; empty: it has none."""

    name: str
    value: str
    bounds: str


@dataclass(frozen=True, slots=True)
class Line:
    """One step: what to do, what moves by itself, what the gauges show."""

    number: int
    does: tuple[str, ...]
    sees: tuple[str, ...]
    reads: tuple[Reading, ...]


@dataclass(frozen=True, slots=True)
class Card:
    """Where to begin, the steps, and the two ways in which it may end: a heading and words each.

    certain: the sequence was shown to decide the property
    """

    controls: tuple[str, ...]
    devices: tuple[str, ...]
    reads: tuple[Reading, ...]
    lines: tuple[Line, ...]
    ends: tuple[tuple[str, str], ...]
    certain: bool


def card_of(circuit: Circuit, sequence: Sequence, asked: Property, *, certain: bool = True) -> Card:
    """The card of a sequence that breaches a property, or shows a possibility.

    certain: False for a run that has not been shown to be one of the stated sizes
    """
    known, settings = figures(circuit, sequence), settings_of(circuit, asked)
    maker = _Maker(circuit, known, settings, expected(circuit, sequence), certain)
    start = sequence.start
    lines = tuple(
        maker.line(number, before, step, last=number == len(sequence.steps))
        for number, (before, step) in enumerate(sequence.pairs(), start=1)
    )
    return Card(
        tuple(f"{name}: {start.positions[name]}" for name in circuit.controls),
        tuple(f"{name}: {start.positions[name]}" for name in circuit.devices),
        tuple(maker.reading(name, value) for name, value in start.values.items()),
        lines,
        _ends(circuit, asked),
        certain,
    )


def _ends(circuit: Circuit, asked: Property) -> tuple[tuple[str, str], ...]:
    named, said = units(circuit), asked.sentence
    if isinstance(said, Possible):
        reached = condition(said.goal, named)
        return (
            ("If it can be done", f"every step comes about and at the last one: {reached}"),
            (
                "If the sequence is not real",
                f"some step does not come about, or at the last step not: {reached}",
            ),
        )
    if isinstance(said, Never):
        good = f"at the last step: {condition(Not(said.bad), named)}"
        bad = f"at the last one: {condition(said.bad, named)}"
    else:
        told = sentence(said, named)
        good, bad = f"this is kept to the end: {told}", f"this is broken: {told}"
    return (
        ("If the circuit is right", f"some step does not come about, or {good}"),
        ("If the sequence is real", f"every step comes about and {bad}"),
    )


def _few(readers: list[str]) -> str:
    rest = len(readers) - NAMED
    return ", ".join(readers[:NAMED]) + (f" and {rest} more" if rest > 0 else "")


@dataclass(frozen=True, slots=True)
class _Maker:
    circuit: Circuit
    figures: Figures
    settings: Settings
    expected: Mapping[int, tuple[str, ...]]
    certain: bool

    def reading(self, name: str, value: Fraction) -> Reading:
        told = self.figures.full(name, value).replace("about ", "~")
        return Reading(name, told, self._bounds(name, value))

    def _bounds(self, name: str, value: Fraction) -> str:
        edges = edges_of(self.settings, name)
        if not edges:
            return ""
        if value in edges:
            return "; ".join(self._met(name, value))
        below = [edge for edge in edges if edge < value]
        above = [edge for edge in edges if edge > value]
        low = self.figures.full(name, below[-1]) if below else None
        high = self.figures.full(name, above[0]) if above else None
        if low and high:
            return f"between {low} and {high}"
        return f"above {low}" if low else f"below {high}"

    def _met(self, name: str, value: Fraction) -> Iterator[str]:
        for one in self.settings[name]:
            told = self.figures.full(name, one.value)
            if one.tolerance:
                told = f"an edge of {told} +- {self.figures.full(name, one.tolerance)}"
            if value in one.edges:
                yield f"at {told}: {_few(one.label.split(', '))}"

    def line(self, number: int, before: State, step: Step, *, last: bool) -> Line:
        if step.kind == "switch":
            moves = moves_made(tables_of(self.circuit), before, step.after)
            hands = tuple(self._hand(m) for m in moves if m.kind in ("control", "range"))
            others = (m for m in moves if m.kind not in ("control", "range"))
            return Line(number, hands, tuple(self._seen(move) for move in others), ())
        changed = [n for n, v in step.after.values.items() if v != before.values[n]]
        reads = tuple(self.reading(name, step.after.values[name]) for name in changed)
        told = last or not reads  # a property often asks where air goes
        passes = tuple(airs_told(self.circuit, before, [step])) if told else ()
        return Line(number, tuple(self._waits(number, before, step, changed)), passes, reads)

    def _hand(self, move: Moved) -> str:
        if isinstance(move.now, Fraction):
            return f"set {move.name} to {self.figures.full(move.name, move.now)}"
        controls = self.circuit.controls
        by = controls[move.name].worked_by if move.name in controls else None
        who = f" ({by})" if by else ""
        return f"move {move.name} from {move.was} to {move.now}{who}"

    def _seen(self, move: Moved) -> str:
        match move.kind:
            case "timer expires":
                return f"{move.name} expires"
            case "timer reset":
                return f"{move.name} is reset"
            case "sets off":
                return f"{move.name} leaves {move.was} for {move.now}"
            case "arrives":
                return f"{move.name} arrives at {move.now}"
            case "turns round":
                return f"{move.name} turns round to {move.now}"
        return f"{move.name} moves from {move.was} to {move.now}"

    def _waits(self, number: int, before: State, step: Step, changed: list[str]) -> Iterator[str]:
        for name in changed:
            if name in self.circuit.supplies:
                old, new = before.values[name], step.after.values[name]
                verb = "raise" if new > old else "lower"
                told = self.figures.full(name, new).replace("about ", "~")
                yield f"{verb} {name} to {told}"
        lasts = amount(step.duration, "s") if step.duration else ""
        awaited = self.expected.get(number, ())
        if awaited:
            yield f"wait for {'; '.join(awaited)}"
        if lasts and (awaited or not self.certain):
            yield (
                f"{lasts} in the sequence" if awaited else f"let time pass, {lasts} in the sequence"
            )
        elif lasts:
            yield f"wait {lasts}"
        elif not awaited and all(name in self.circuit.supplies for name in changed):
            yield "wait a moment"
        elif not awaited:
            yield "wait for the readings"
