"""What a change does to how quickly devices must move, in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from rich.console import RenderableType
from rich.text import Text

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Possible
from airproof.circuit.slow import quick_devices
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
    "What holds for every run was asked again, in the circuit before and in the changed one: with "
    "each device without a moving time slow, one at a time, and every `never` and `always` in "
    "instants too."
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
    before = _said(compared.was, entry.before, key, was, "not asked")
    after = _said(compared.after, entry.after, key, now, "withdrawn")
    words = tuple(one.word if one is not None else None for one in (was, now))
    if words == ("breached", "breached"):
        return 2, Line(f"{name}: breached {how}, before the change too")
    if now is not None and now.word == "breached":
        newly = "newly breached" if before.holds else "breached"
        text = f"{name}: {newly} {how}; before the change: {before.text}"
        return 0, Line(text, entry.after, now)
    if was is not None and was.word == "breached":
        gone = "no longer breached" if after.holds else "was breached"
        return 1, Line(f"{name}: {gone} {how}; after the change: {after.text}")
    if "undecided" in words:
        return 3, Line(f"{name}: {how}: before the change {before.text}, after it {after.text}")
    return None


@dataclass(frozen=True, slots=True)
class _Answer:
    """What is known of a property and one slow device (or an instant) on one side.

    holds: it holds so, asked or not
    """

    text: str
    holds: bool = False


def _said(
    results: Results, verdict: Verdict | None, key: str | None, one: Retried | None, without: str
) -> _Answer:
    """without: what is said where the property is not there"""
    if one is not None and one.word == "undecided":
        return _Answer(f"undecided ({again.why_undecided(one)})")
    if one is not None:
        return _Answer(one.word, one.word == "holds")
    if verdict is None:
        return _Answer(without)
    if verdict.word != "holds":
        return _Answer(f"{verdict.word} anyway")
    return _unasked(results.circuit, verdict, key)


def _unasked(circuit: Circuit, verdict: Verdict, key: str | None) -> _Answer:
    """Why something that holds was not asked again."""
    asked = circuit.properties[verdict.property]
    if isinstance(asked.sentence, Possible):
        return _Answer("not asked so, being `possible`")
    if key is None:
        instants = asked.even_for_an_instant
        return _Answer("holds, judged in instants anyway" if instants else "not asked so", instants)
    device, control = circuit.devices.get(key), circuit.controls.get(key)
    if device is not None and device.moving is not None:
        return _Answer(f"holds, with the time that {key} takes to move", holds=True)
    if device is not None:
        return _Answer("not asked so")
    fixed = control.sealed if control is not None else None
    if fixed is not None:
        return _Answer(f"holds, for {key} is fixed at {fixed}", holds=True)
    there = key in circuit.positions or key in circuit.value_starts or key in circuit.flows
    missing = f"{key} is no device" if there else f"there is no {key}"
    return _Answer(f"holds; {missing}", holds=True)


def asked_lines(compared: Comparison) -> Iterator[str]:
    """What holds so too, where nothing else is told, and what that was not asked of."""
    entries = compared.entries()
    sides = [(entry, compared.was, entry.before) for entry in entries]
    sides += [(entry, compared.after, entry.after) for entry in entries]
    asked: dict[str, None] = {}
    left: dict[str, dict[str, None]] = {}
    for entry, results, verdict in sides:
        if verdict is not None and verdict.retried:
            asked[entry.name] = None
        elif verdict is not None and verdict.word == "holds":
            left.setdefault(_why_left(results.circuit, verdict), {})[entry.name] = None
    if asked and not any(slow_lines(compared)):
        yield f"holds so too, wherever that was asked: {', '.join(asked)}"
    if not asked:
        yield "there was nothing to ask again"
    yield from (f"not asked so, {why}: {', '.join(names)}" for why, names in left.items())
    if compared.stages:
        yield "the half-fitted circuits were not asked so"


def _why_left(circuit: Circuit, verdict: Verdict) -> str:
    if isinstance(circuit.properties[verdict.property].sentence, Possible):
        return "being `possible`"
    return "for no device moves at once" if not quick_devices(circuit) else "for want of a proof"


def slow_told(compared: Comparison) -> Iterator[RenderableType]:
    """On a terminal, each new breach with its run."""
    if not compared.slowly:
        return
    yield Text("\nWith a slow device", "bold")
    yield indented(Text(INTRODUCTION))
    for line in slow_lines(compared):
        yield indented(hanging("- ", Text(shown(line.text))))
        if line.verdict is not None and line.again is not None and line.run is not None:
            circuit = again.changed(compared.after.circuit, line.verdict, line.again)
            asked = circuit.properties[line.verdict.property]
            yield from (indented(part) for part in run_told(circuit, line.run, asked))
    for text in asked_lines(compared):
        yield indented(hanging("- ", Text(shown(text))))


def slow_story(compared: Comparison, line: Line) -> Story | None:
    """The story of a line, if it has one."""
    if line.verdict is None or line.again is None or line.run is None:
        return None
    circuit = again.changed(compared.after.circuit, line.verdict, line.again)
    return story(circuit, line.run, circuit.properties[line.verdict.property])


def granted_lines(compared: Comparison) -> Iterator[str]:
    """What the verdicts before and after take for granted, in the words after the change."""
    before, after = (
        [(item.text, item.what) for item in granted(one.circuit)]
        for one in (compared.was, compared.after)
    )
    for one in dict.fromkeys((*before, *after)):
        only = "" if one in before and one in after else "before" if one in before else "after"
        text = one[0]
        yield f"{text} (only {only} the change)" if only else text
    if not compared.slowly:
        yield NOT_ASKED


def granted_told(compared: Comparison) -> Iterator[RenderableType]:
    """On a terminal."""
    yield Text("\nTaken for granted", "bold")
    for line in granted_lines(compared):
        yield indented(hanging("- ", Text(shown(line))))
