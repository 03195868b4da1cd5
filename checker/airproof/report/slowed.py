"""What a change does to how quickly devices must move, in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from rich.console import RenderableType
from rich.text import Text

from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Retried, Verdict
from airproof.report import again
from airproof.report.comparison import Comparison, Entry
from airproof.report.granted import granted
from airproof.report.results import Results
from airproof.report.story import Story, story
from airproof.report.terminal import hanging, indented, run_told, shown

NOT_ASKED = (
    "whether a slow device breaches what holds was not asked, nor what is so for an instant; "
    "--slow asks it of both circuits"
)
INTRODUCTION = (
    "Each device without a moving time was taken to be slow, one at a time, and every `never` and "
    "`always` was judged in instants too, in the circuit before and in the changed one."
)


@dataclass(frozen=True, slots=True)
class Line:
    """What is told of one property and one slow device (or an instant).

    again: what breaches the changed circuit so; None if nothing is told of it
    """

    text: str
    verdict: Verdict | None = None
    again: Retried | None = None

    @property
    def run(self) -> Sequence | None:
        return self.again.sequence if self.again is not None else None


def slow_lines(compared: Comparison) -> Iterator[Line]:
    """What differs first, then what is so before and after, then what was not decided."""
    found: list[tuple[int, Line]] = []
    for entry in compared.entries():
        was = _answers(entry.before)
        now = _answers(entry.after)
        for key in dict.fromkeys((*was, *now)):
            told = _line(compared, entry, key, was.get(key), now.get(key))
            found += [told] if told else []
    yield from (line for _, line in sorted(found, key=lambda one: one[0]))


def _answers(verdict: Verdict | None) -> Mapping[str | None, Retried]:
    return {one.device: one for one in verdict.retried} if verdict is not None else {}


def _line(
    compared: Comparison, entry: Entry, key: str | None, was: Retried | None, now: Retried | None
) -> tuple[int, Line] | None:
    """With its place in the order; key: the device, None for an instant."""
    name = entry.name
    how = f"with {key} slow" if key else "in an instant"
    before = _said(compared.was, entry.before, key, was)
    after = _said(compared.after, entry.after, key, now)
    if now is not None and now.word == "breached":
        if was is not None and was.word == "breached":
            return 2, Line(f"{name}: breached {how}, before the change too")
        text = f"{name}: newly breached {how}; before the change: {before}"
        return 0, Line(text, entry.after, now)
    if was is not None and was.word == "breached":
        if now is None and entry.after is not None and entry.after.word != "holds":
            return 1, Line(f"{name}: was breached {how}; after the change it {after}")
        return 1, Line(f"{name}: no longer breached {how}; after the change: {after}")
    if "undecided" in {x.word for x in (was, now) if x is not None}:
        return 3, Line(f"{name}: {how}: before the change {before}, after it {after}")
    return None


def _said(results: Results, verdict: Verdict | None, key: str | None, one: Retried | None) -> str:
    if one is not None:
        undecided = one.word == "undecided"
        return f"undecided ({again.why_undecided(one)})" if undecided else one.word
    if verdict is None:
        return "is not asked"
    if verdict.word != "holds":
        return "is breached anyway" if verdict.word == "breached" else "is undecided anyway"
    device = results.circuit.devices.get(key or "")
    if device is not None and device.moving is not None:
        return f"{key} takes its stated time to move, and it {verdict.word} so"
    return "is not asked" if key is None else f"there is no {key}"


def slow_told(compared: Comparison) -> Iterator[RenderableType]:
    """On a terminal, each new breach with its run."""
    if not compared.slowly:
        return
    yield Text("\nWith a slow device", "bold")
    yield indented(Text(INTRODUCTION))
    lines = [*slow_lines(compared)]
    for line in lines:
        yield indented(hanging("- ", Text(shown(line.text))))
        if line.verdict is not None and line.again is not None and line.run is not None:
            circuit = again.changed(compared.after.circuit, line.verdict, line.again)
            asked = circuit.properties[line.verdict.property]
            yield from (indented(part) for part in run_told(circuit, line.run, asked))
    if not lines:
        yield indented(Text("Everything that holds does so then, too, before and after."))


def slow_story(compared: Comparison, line: Line) -> Story | None:
    """The story of a line, if it has one."""
    if line.verdict is None or line.again is None or line.run is None:
        return None
    circuit = again.changed(compared.after.circuit, line.verdict, line.again)
    return story(circuit, line.run, circuit.properties[line.verdict.property])


def granted_lines(compared: Comparison) -> Iterator[str]:
    """What the verdicts before and after take for granted, in the words after the change."""
    before, after = (
        [item.text for item in granted(one.circuit)] for one in (compared.was, compared.after)
    )
    for text in dict.fromkeys((*before, *after)):
        only = "" if text in before and text in after else "before" if text in before else "after"
        yield f"{text} (only {only} the change)" if only else text
    if not compared.slowly:
        yield NOT_ASKED


def granted_told(compared: Comparison) -> Iterator[RenderableType]:
    """On a terminal."""
    yield Text("\nTaken for granted", "bold")
    for line in granted_lines(compared):
        yield indented(hanging("- ", Text(shown(line))))
