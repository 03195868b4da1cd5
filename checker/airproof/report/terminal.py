"""The report on a terminal: a table of verdicts, the stories, health, what is taken for granted.

Made for 80 columns.  Words carry the meaning, colour only repeats it.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator

from rich.box import SIMPLE_HEAD
from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Possible, Property
from airproof.evidence.health import Finding
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Verdict
from airproof.report import again
from airproof.report.caution import CAUTION
from airproof.report.findings import found, reason, remarks
from airproof.report.granted import granted
from airproof.report.leaning import INTRODUCTION, UNASKED, by_part, proofs, told, unasked
from airproof.report.results import Results
from airproof.report.story import Item, story
from airproof.report.words import sentence, units

_COLOURS = {"holds": "green", "breached": "bold red", "undecided": "yellow"}
STRENGTHS = {
    "any speed": "whatever the chokes, volumes, timers and stated moving times are; devices "
    "without a moving time are taken to move at once",
    "for some sizes": "there are chokes, timers and moving times with which the run below can "
    "happen; the stated ones may rule it out",
    "as sized": "with the stated chokes, volumes, timers and moving times",
}


def show(results: Results, console: Console) -> None:
    """Prints the whole report, without the blanks that tables leave at line ends."""
    with console.capture() as captured:
        for part in _parts(results):
            console.print(part)
    lines = captured.get().splitlines()
    console.file.write("\n".join(line.rstrip() for line in lines) + "\n")


def show_briefly(results: Results, console: Console) -> None:
    """A line for each property, for each thing that a proof counts on, and each health error."""
    for verdict in results.verdicts:
        console.print(Text(f"{verdict.property}: {outcome(verdict)}"), soft_wrap=True)
    for line in (line for verdict in results.verdicts for line in again.lines(verdict)):
        console.print(Text(shown(line.text)), soft_wrap=True)
    for finding in results.findings:
        if finding.weight == "error":
            console.print(Text(f"health: {shown(found(finding))}"), soft_wrap=True)


def outcome(verdict: Verdict) -> str:
    """The verdict in a few words: `breached, for some sizes`."""
    said = reason(verdict)
    if said is not None:
        return f"{verdict.word}: {shown(said)}"
    return f"{verdict.word}, {verdict.strength}" if verdict.strength else verdict.word


def shown(text: str) -> str:
    """The text with `?` for each character that a screen would obey instead of showing."""
    return "".join("?" if unicodedata.category(c) in _OBEYED else c for c in text)


_OBEYED = ("Cc", "Cf", "Cs", "Zl", "Zp")


def _parts(results: Results) -> Iterator[RenderableType]:
    circuit = results.circuit
    yield Text(shown(f"{circuit.name}: {circuit.title}" if circuit.title else circuit.name))
    yield _table(results)
    yield from _legend(results.verdicts)
    yield from _remarks(circuit, results.verdicts)
    yield from _why(results)
    with_runs = [verdict for verdict in results.verdicts if verdict.sequence is not None]
    yield from _retried(results.verdicts, first=len(with_runs) + 1)
    for number, verdict in enumerate(with_runs, start=1):
        yield from _chapter(circuit, verdict, number)
    yield from _retold(results, first=len(with_runs) + 1)
    yield from _health(circuit, results.findings)
    yield from _granted(circuit)
    yield Text(f"\n{CAUTION}")


# ---- the table and what goes with it


def _table(results: Results) -> Table:
    table = Table(box=SIMPLE_HEAD, pad_edge=False, padding=(0, 1))
    table.add_column("property", overflow="fold", ratio=1)
    longest = max((len(verdict.word) for verdict in results.verdicts), default=0)
    table.add_column("verdict", no_wrap=True, min_width=longest)
    table.add_column("strength", no_wrap=True)
    table.add_column("severity", overflow="fold", max_width=14)
    for verdict in results.verdicts:
        asked = results.circuit.properties[verdict.property]
        table.add_row(
            _named(asked, again.mark(verdict)),
            Text(verdict.word, _COLOURS[verdict.word]),
            Text(verdict.strength or "-"),
            Text(shown(asked.severity or "-")),
        )
    return table


def _named(asked: Property, mark: str) -> Text:
    name = Text(asked.name, "bold")
    for line in filter(None, (asked.title, mark)):
        name.append(f"\n{shown(line)}", "not bold")
    return name


def _legend(verdicts: Iterable[Verdict]) -> Iterator[RenderableType]:
    """What each strength in the table means."""
    for strength in dict.fromkeys(verdict.strength for verdict in verdicts):
        if strength is not None:
            yield hanging("- ", Text(f"{strength}: {STRENGTHS[strength]}"))


def _remarks(circuit: Circuit, verdicts: Iterable[Verdict]) -> Iterator[RenderableType]:
    for verdict in verdicts:
        said, asked = reason(verdict), circuit.properties[verdict.property].sentence
        told = [f"undecided: {said}"] if said is not None else []
        if verdict.word == "breached" and isinstance(asked, Possible) and not verdict.sequence:
            told.append("no run of any length reaches it")
        for remark in (*told, *remarks(verdict)):
            yield hanging("- ", Text(f"{verdict.property}: {shown(remark)}"))


def _why(results: Results) -> Iterator[RenderableType]:
    """What each proof leans on, and which proofs lean on each part."""
    known, others = list(proofs(results.verdicts)), unasked(results.verdicts)
    if not known and not others:
        return
    yield Text("\nWhy it holds", "bold")
    yield indented(Text(INTRODUCTION))
    for name, leans in known:
        text = shown(told(results.circuit, leans))
        yield indented(hanging("- ", Text(f"{name} leans on {text}")))
    for name in others:
        yield indented(hanging("- ", Text(f"{name}: {UNASKED}")))
    if known:
        yield indented(Text("Part by part, the proofs that lean on it or on a rule that reads it:"))
    for part, names in by_part(results.verdicts).items():
        yield indented(hanging("- ", Text(f"{part}: {', '.join(names)}")))


# ---- what was asked again of a property that holds


def _retried(verdicts: tuple[Verdict, ...], first: int) -> Iterator[RenderableType]:
    """A line for each thing that a proof counts on, with the number of its story."""
    found = [line for verdict in verdicts for line in again.lines(verdict)]
    if not any(verdict.retried for verdict in verdicts):
        return
    yield Text("\nOnly if it moves at once", "bold")
    yield indented(Text(again.INTRODUCTION))
    for line in found:
        numbers = [str(first + i) for i in range(len(line.stories))]
        first += len(numbers)
        see = f"; see {', '.join(numbers)}" if numbers else ""
        yield indented(hanging("- ", Text(shown(line.text + see))))
    if not found:
        yield indented(Text("Everything that holds does so then, too."))


def _retold(results: Results, first: int) -> Iterator[RenderableType]:
    """The runs of the circuit with a slow device, or that breach in an instant."""
    runs = [
        (verdict, one)
        for verdict in results.verdicts
        for line in again.lines(verdict)
        for one in line.stories
    ]
    for number, (verdict, one) in enumerate(runs, start=first):
        circuit = again.changed(results.circuit, verdict, one)
        asked = circuit.properties[verdict.property]
        yield Text(f"\n{number}. {again.heading(verdict, one)}", "bold")
        yield indented(Text(shown(sentence(asked.sentence, units(circuit)))))
        assert one.sequence is not None
        yield from run_told(circuit, one.sequence, asked, certain=one.word != "undecided")


# ---- one story


def _chapter(circuit: Circuit, verdict: Verdict, number: int) -> Iterator[RenderableType]:
    assert verdict.sequence is not None
    asked = circuit.properties[verdict.property]
    yield Text(f"\n{number}. {asked.name}: {heading(verdict, asked)}", "bold")
    for line in about(circuit, asked):
        yield indented(Text(shown(line)))
    yield from run_told(circuit, verdict.sequence, asked, certain=verdict.word != "undecided")


def heading(verdict: Verdict, asked: Property) -> str:
    strength = f", {verdict.strength}" if verdict.strength else ""
    if verdict.word == "holds" and isinstance(asked.sentence, Possible):
        return f"possible{strength}"
    return verdict.word + strength


def about(circuit: Circuit, asked: Property) -> Iterator[str]:
    if asked.title:
        yield f'"{asked.title}"'
    yield sentence(asked.sentence, units(circuit))
    because = [f"why it is asked: {asked.reason}"] if asked.reason else []
    hazard = [f"hazard {asked.hazard}"] if asked.hazard else []
    drawing = [f"drawing {circuit.drawings[asked.name]}"] if asked.name in circuit.drawings else []
    if because or hazard or drawing:
        yield "; ".join([*because, *hazard, *drawing])


def run_told(
    circuit: Circuit, sequence: Sequence, asked: Property | None = None, certain: bool = True
) -> Iterator[RenderableType]:
    tale = story(circuit, sequence, asked, certain=certain)
    yield indented(Text(shown(tale.start)))
    width = len(str(len(tale.items)))
    for number, item in enumerate(tale.items, start=1):
        yield from _item(f"{number:>{width}}) ", item)
    for line in tale.ending:
        yield indented(Text(shown(line)))


def _item(mark: str, item: Item) -> Iterator[RenderableType]:
    yield indented(hanging(mark, Text(shown(item.text))))
    for part in item.parts:
        yield indented(hanging(" " * len(mark) + "- ", Text(shown(part))))


# ---- health, what is taken for granted


def _health(circuit: Circuit, findings: tuple[Finding, ...]) -> Iterator[RenderableType]:
    """Errors with the run that leads there; a warning's run is in the JSON only."""
    yield Text("\nHealth of the circuit", "bold")
    if not findings:
        yield indented(Text("nothing found wrong, as deep as the search for it goes"))
    for finding in sorted(findings, key=lambda one: one.weight):
        colour = "bold red" if finding.weight == "error" else "yellow"
        words = Text.assemble((finding.weight, colour), f": {shown(found(finding))}")
        yield indented(hanging("- ", words))
        if finding.sequence is not None and finding.weight == "error":
            yield from (indented(part) for part in run_told(circuit, finding.sequence))


def _granted(circuit: Circuit) -> Iterator[RenderableType]:
    items = granted(circuit)
    if items:
        yield Text("\nTaken for granted", "bold")
    for item in items:
        yield indented(hanging("- ", Text(shown(item.text))))


def indented(part: RenderableType) -> Padding:
    return Padding(part, (0, 0, 0, 3))


def hanging(mark: str, text: Text) -> Table:
    """A mark, and text that wraps beside it."""
    grid = Table.grid()
    grid.add_column(width=len(mark), no_wrap=True)
    grid.add_column(overflow="fold")
    grid.add_row(Text(mark), text)
    return grid
