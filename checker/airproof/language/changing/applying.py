"""Changes applied to a circuit: its text after each step, and what does not apply."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import PurePath

from airproof.base.diagnostics import Problem, Rejected
from airproof.base.source import SourceText, Span
from airproof.language.changing.acts import act
from airproof.language.changing.finding import Asked
from airproof.language.changing.nodes import Change, Step
from airproof.language.load import Loaded, load_text
from airproof.language.parser import parse

STANDARD_INPUT = "<standard input>"


@dataclass(frozen=True, slots=True)
class Done:
    """A step that was done, and the circuit's own text after it."""

    change: Change
    step: Step
    text: str
    shown: str  # what the text is called in messages


@dataclass(frozen=True, slots=True)
class Original:
    """A circuit's own text, what it is called, where it stands and what it includes."""

    text: str
    path: str
    folder: str | None
    includes: Mapping[str, str] = field(default_factory=dict)

    def load(self, text: str, shown: str) -> Loaded:
        """The circuit of a text in the place of this one; raises Rejected."""
        return load_text(text, shown, self.folder)


def original(loaded: Loaded, folder: str | None) -> Original:
    """The text that a circuit was loaded from."""
    (path, source), *others = loaded.sources.items()
    return Original(source.text, path, folder, {name: one.text for name, one in others})


def applied(
    circuit: Original, changes: Iterable[Change], sources: Mapping[str, SourceText]
) -> tuple[Done, ...]:
    """The circuit's text after each step of the changes, in their order.

    sources: the texts of the changes
    Raises Rejected with every step that does not apply, each with the place in
    the circuit where it would be done.
    """
    work = _Work(circuit, dict(sources))
    for change in changes:
        work.take(change)
    if work.problems:
        raise Rejected(work.problems, work.sources)
    return tuple(work.done)


def changed(circuit: Original, done: Sequence[Done], sources: Mapping[str, SourceText]) -> Loaded:
    """The circuit after all the steps.

    Raises Rejected with every problem of its text, under the step that led to it.
    """
    last = done[-1]
    try:
        return circuit.load(last.text, last.shown)
    except Rejected as rejected:
        led: dict[int, list[Problem]] = {}
        for problem in rejected.problems:
            led.setdefault(_first_to_lead(circuit, done, problem), []).append(problem)
        problems = [
            one for place, found in sorted(led.items()) for one in (leads(done[place].step), *found)
        ]
        raise Rejected(problems, {**rejected.sources, **sources}) from rejected


def leads(step: Step) -> Problem:
    """That the circuit is wrong after a step; what is wrong follows."""
    span = step.span
    first = span if span.end_line == span.line else Span(span.path, span.line, 1, span.line, 5)
    return Problem("step_leads", first, {"number": str(step.number)})


def _first_to_lead(circuit: Original, done: Sequence[Done], problem: Problem) -> int:
    """The place of the first step from which on the problem is there."""
    first = len(done) - 1
    while first and _has(circuit, done[first - 1], problem):
        first -= 1
    return first


def _has(circuit: Original, one: Done, problem: Problem) -> bool:
    try:
        circuit.load(one.text, one.shown)
    except Rejected as rejected:
        return any((p.code, p.data) == (problem.code, problem.data) for p in rejected.problems)
    return False


class _Work:
    """How far the steps have got."""

    def __init__(self, circuit: Original, sources: dict[str, SourceText]) -> None:
        self.circuit, self.sources = circuit, sources
        self.text, self.shown = circuit.text, circuit.path
        self.sources[circuit.path] = SourceText(circuit.path, circuit.text)
        self.sources |= {path: SourceText(path, text) for path, text in circuit.includes.items()}
        self.done: list[Done] = []
        self.problems: list[Problem] = []

    def take(self, change: Change) -> None:
        given = PurePath(self.circuit.path).name
        wanted = PurePath(change.circuit.text).name
        if self.circuit.path != STANDARD_INPUT and wanted != given:
            data = {"wanted": wanted, "given": given}
            self.problems.append(Problem("other_circuit", change.circuit.span, data))
            return
        for step in change.steps:
            self._step(change, step)

    def _step(self, change: Change, step: Step) -> None:
        asked = Asked(step.number, step.span, dict(self.circuit.includes))
        try:
            text = act(asked, step.deed, self.text, self.shown)
        except Rejected as rejected:
            self.problems += rejected.problems
            return
        if text == self.text:
            self.problems.append(Problem("step_same", step.span, {"number": str(step.number)}))
            return
        shown = f"{self.circuit.path} (after step {step.number} of {PurePath(change.path).name})"
        try:
            parse(text, shown)
        except Rejected as rejected:
            self.problems += [leads(step), *rejected.problems]
            self.sources |= rejected.sources
            return
        self.text, self.shown = text, shown
        self.sources[shown] = SourceText(shown, text)
        self.done.append(Done(change, step, text, shown))
