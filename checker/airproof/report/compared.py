"""The comparison on a terminal: verdicts side by side, half-fitted states, the text."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from rich.box import SIMPLE_HEAD
from rich.console import Console, RenderableType
from rich.table import Table
from rich.text import Text

from airproof.evidence.difference import Shift, Way
from airproof.evidence.verdict import Verdict
from airproof.report import again
from airproof.report.caution import CAUTION
from airproof.report.comparison import Comparison, Entry, Outcome
from airproof.report.findings import found, reason, remarks
from airproof.report.halfway import stage_name, stage_outcome, staged
from airproof.report.named import renamed_lines
from airproof.report.results import Results
from airproof.report.seen import seen_briefly, seen_told
from airproof.report.slowed import granted_told, slow_lines, slow_told
from airproof.report.smallest import smallest_lines, some_changes
from airproof.report.stands import stands_lines
from airproof.report.terminal import (
    STRENGTHS,
    about,
    hanging,
    heading,
    indented,
    run_told,
    shown,
)

_COLOURS: Mapping[Outcome, str] = {
    "newly breached": "bold red",
    "newly conditional": "bold yellow",
    "conditional, before undecided": "bold yellow",
    "no longer breached": "green",
    "no longer shown": "yellow",
    "now shown": "green",
    "added": "bold",
    "withdrawn": "bold",
}
ASKING = ("sentence", "instants", "signal", "start", "state")  # shifts by which it asks otherwise
_WAYS: Mapping[Way, str] = {
    "old proof": "the proof of the circuit before, checked anew on the changed one",
    "old proof in part": "what the changed circuit keeps of the proof before, checked anew",
    "old sequence": "the sequence of the circuit before, followed again on the changed one",
    "old moves": "the moves of the sequence before with other pressures, followed again",
    "anew": "proved or searched anew",
}


def show_comparison(compared: Comparison, console: Console) -> None:
    """Prints the whole report, without the blanks that tables leave at line ends."""
    with console.capture() as captured:
        for part in _parts(compared):
            console.print(part)
    lines = captured.get().splitlines()
    console.file.write("\n".join(line.rstrip() for line in lines) + "\n")


def show_comparison_briefly(compared: Comparison, console: Console) -> None:
    """A line for each property that is not as before, for each shift, stage and health error."""
    for line in _brief(compared):
        console.print(Text(shown(line)), soft_wrap=True)


def _brief(compared: Comparison) -> Iterator[str]:
    for entry in compared.entries():
        words = f"{word_of(entry.before)} -> {word_of(entry.after)}"
        yield f"{entry.name}: {outcome_of(entry)}: {words}"
    for entry in compared.entries():
        told = (*_withdrawal(entry), *_shifts(entry))
        yield from (f"{entry.name}: {line}" for line in told)
    yield from renamed_lines(compared.renaming)
    if compared.apart is not None:
        yield from seen_briefly(compared.apart)
    yield from (line.text for line in slow_lines(compared) if line.again is not None)
    for stage in compared.stages or ():
        yield f"{stage_name(compared, stage)}: {stage_outcome(compared, stage)}"
    yield from smallest_lines(compared)
    for word, results in (("before", compared.before), ("after", compared.after)):
        for finding in results.findings:
            if finding.weight == "error":
                yield f"health {word}: {found(finding)}"


def _parts(compared: Comparison) -> Iterator[RenderableType]:
    circuit = compared.after.circuit
    yield Text(shown(f"{circuit.name}: {circuit.title}" if circuit.title else circuit.name))
    yield from _changes(compared)
    yield _table(compared)
    yield from _remarks(compared)
    numbered = told_of(compared)
    for number, (results, verdict, where) in enumerate(numbered, start=1):
        yield from _chapter(results, verdict, where, number)
    yield from _reach(compared)
    if compared.apart is not None:
        before, after = compared.before.circuit, compared.after.circuit
        yield from seen_told(compared.apart, before, after)
    yield from _half_fitted(compared)
    yield from some_changes(compared)
    yield from slow_told(compared)
    yield from _health(compared)
    yield from granted_told(compared)
    yield from _difference(compared)
    yield Text(f"\n{CAUTION}")


def _changes(compared: Comparison) -> Iterator[RenderableType]:
    if not compared.changes:
        yield Text(f"\n{shown(compared.unchanged)}")
    for change in compared.changes:
        yield Text(f"\n{shown(change.title)}", "bold")
        if change.reason:
            yield indented(Text(shown(change.reason)))
        for step in change.steps:
            first, *rest = step.text.split("\n")
            yield indented(hanging("- ", Text(shown(first))))
            yield from (indented(Text(shown(f"  {row}"))) for row in rest)


def _half_fitted(compared: Comparison) -> Iterator[RenderableType]:
    """What lies between two steps, or why that is nothing, or nothing known."""
    steps = sum(len(change.steps) for change in compared.changes)
    if compared.stages is None or compared.stages or steps == 1:
        yield from staged(compared)
        return
    yield Text("\nHalf-fitted, after each step", "bold")
    unknown = "the steps cannot be done one by one, so what lies in between was not judged"
    yield indented(Text(unknown if steps else "there are no steps, so nothing lies in between"))


# ---- the properties, before and after


def _table(compared: Comparison) -> Table:
    table = Table(box=SIMPLE_HEAD, pad_edge=False, padding=(0, 1))
    table.add_column("property", overflow="fold", ratio=1)
    table.add_column("before", overflow="fold", max_width=20)
    table.add_column("after", overflow="fold", max_width=20)
    table.add_column("", overflow="fold", max_width=18)
    for entry in compared.entries():
        name = Text(entry.name, "bold")
        if entry.title:
            name.append(f"\n{shown(entry.title)}", "not bold")
        word = Text(outcome_of(entry), _COLOURS.get(entry.outcome, ""))
        table.add_row(name, Text(word_of(entry.before)), Text(word_of(entry.after)), word)
    return table


def asks_otherwise(entry: Entry) -> bool:
    """It is another question, whatever it is called."""
    return any(shift.kind in ASKING for shift in entry.shifts)


def outcome_of(entry: Entry) -> str:
    """What the change does to a property, also where the same verdict answers another question."""
    if asks_otherwise(entry):
        return f"{entry.outcome}, but asks something else"
    if entry.outcome == "same" and entry.unsettled:
        return "same, but slow devices not all decided"
    return entry.outcome


def word_of(verdict: Verdict | None) -> str:
    """The verdict in a word or two; `-` where there is none."""
    if verdict is None:
        return "-"
    return ", ".join(filter(None, (verdict.word, verdict.strength, again.mark(verdict))))


def _remarks(compared: Comparison) -> Iterator[RenderableType]:
    """What each strength means, what was withdrawn, what means something else, how it was found."""
    both = (*compared.before.verdicts, *compared.after.verdicts)
    for strength in dict.fromkeys(verdict.strength for verdict in both):
        if strength is not None:
            yield hanging("- ", Text(f"{strength}: {anywhere(STRENGTHS[strength])}"))
    yield from (hanging("- ", Text(shown(x))) for x in renamed_lines(compared.renaming))
    for entry in compared.entries():
        for line in entry_lines(compared, entry):
            yield hanging("- ", Text(shown(f"{entry.name}: {line}")))
    yield from (hanging("- ", Text(shown(line))) for line in how_lines(compared))


def entry_lines(compared: Comparison, entry: Entry) -> Iterator[str]:
    """What must be said of a property beside its two verdicts."""
    yield from _withdrawal(entry)
    yield from _shifts(entry)
    was, now = (reason(one) if one else None for one in (entry.before, entry.after))
    words = {"before and after": was} if was == now else {"before": was, "after": now}
    yield from (f"undecided {word}: {anywhere(said)}" for word, said in words.items() if said)
    if entry.after is not None and entry.outcome != "same":
        yield from remarks(entry.after)


def _withdrawal(entry: Entry) -> Iterator[str]:
    why = f'because "{entry.reason}"' if entry.reason else "and nobody says why"
    if entry.outcome == "withdrawn" and entry.asked_by:
        yield f"was withdrawn, {why}; {entry.asked_by} asks the same"
    elif entry.outcome == "withdrawn":
        yield f"is asked no more, {why}"
    elif entry.reason is not None and entry.called != entry.name:
        yield f"was called {entry.called} and withdrawn, {why}; the same is asked by this name"
    elif entry.reason is not None:
        yield f"was withdrawn, {why}, and another of this name was added"


def anywhere(text: str) -> str:
    """What the report of one circuit says of a run that it shows; here it may not be shown."""
    return text.replace("the run below", "such a run")


def _shifts(entry: Entry) -> Iterator[str]:
    things = [shift.name for shift in entry.shifts if shift.kind == "thing"]
    if things:
        were = "were" if things[1:] else "was"
        yield f"speaks of {', '.join(things)}, which {were} changed"
    yield from (_shift(shift) for shift in entry.shifts if shift.kind != "thing")


def _shift(shift: Shift) -> str:
    said = {
        "sentence": "its own sentence was changed",
        "instants": "`even for an instant` was put in or taken out",
        "signal": f"asks something else now, for the signal {shift.name} was changed",
        "severity": f"its severity went from {shift.name}",
        "start": "starts from elsewhere now",
        "state": f"starts from {shift.name}, which was changed",
    }
    return said[shift.kind]


def how_lines(compared: Comparison) -> Iterator[str]:
    """How the verdicts afterwards were come by, and what nothing was changed for."""
    for way, words in _WAYS.items():
        names = [entry.name for entry in compared.entries() if entry.way == way]
        if names:
            yield f"{words}: {', '.join(names)}"
    same = [entry.name for entry in compared.entries() if entry.same]
    if same:
        yield f"nothing that it can depend on was changed: {', '.join(same)}"


# ---- stories


def told_of(compared: Comparison) -> list[tuple[Results, Verdict, str]]:
    """What is newly breached with its sequence: after the change, then half-fitted."""
    entries = {entry.name: entry for entry in compared.entries()}
    told = [
        (compared.after, verdict, "after the change")
        for verdict in compared.after.verdicts
        if _worth(entries[verdict.property]) and verdict.sequence is not None
    ]
    seen = {verdict.property for _, verdict, _ in told}
    for stage in (*(compared.stages or ()), *compared.subsets):
        for verdict in stage.results.verdicts if stage.results else ():
            name = compared.called_after(stage, verdict.property)
            new = verdict.property in compared.new_at(stage) and name not in seen
            if new and stage.results is not None and verdict.sequence is not None:
                seen.add(name)
                told.append((stage.results, verdict, stage_name(compared, stage)))
    return told


def _worth(entry: Entry) -> bool:
    breached = entry.after is not None and entry.after.word == "breached"
    return breached and (entry.outcome in ("newly breached", "added") or asks_otherwise(entry))


def _chapter(
    results: Results, verdict: Verdict, where: str, number: int
) -> Iterator[RenderableType]:
    circuit = results.circuit
    asked = circuit.properties[verdict.property]
    title = f"{number}. {asked.name}: {heading(verdict, asked)}, {where}"
    yield Text(f"\n{shown(title)}", "bold")
    yield from (indented(Text(shown(line))) for line in about(circuit, asked))
    assert verdict.sequence is not None
    yield from run_told(circuit, verdict.sequence, asked)


# ---- what can be reached


def _reach(compared: Comparison) -> Iterator[RenderableType]:
    lines = list(reach_lines(compared))
    if lines:
        yield Text("\nWhat a run can reach", "bold")
    yield from (indented(hanging("- ", Text(shown(line)))) for line in lines)


def reach_lines(compared: Comparison) -> Iterator[str]:
    """What a run of one circuit only reaches: positions, flows, states, combinations."""
    for word, code, name, proved in compared.reach():
        now, other = ("newly", "before") if word == "new" else ("no longer", "after the change")
        what = "open" if code == "flow not open" else "reached"
        sure = "no run did" if word == "new" else "no run does"
        known = sure if proved else "no run that was found" + (" did" if word == "new" else " does")
        yield f"{name}: {now} {what}; {other} {known}"
    if compared.apart is not None:
        yield from stands_lines(compared.apart.stands)


# ---- health and text


def _health(compared: Comparison) -> Iterator[RenderableType]:
    before = compared.was
    known = [found(one) for one in before.findings]
    new = [one for one in compared.after.findings if found(one) not in known]
    gone = [one for one in _told(before) if one not in _told(compared.after)]
    if not new and not gone:
        return
    yield Text("\nHealth of the circuit", "bold")
    for finding in new:
        words = f"{finding.weight}, new: {found(finding)}"
        yield indented(hanging("- ", Text(shown(words))))
        if finding.sequence is not None and finding.weight == "error":
            circuit = compared.after.circuit
            yield from (indented(part) for part in run_told(circuit, finding.sequence))
    for text in gone:
        yield indented(hanging("- ", Text(shown(f"gone: {text}"))))


def _told(results: Results) -> list[str]:
    return [f"{one.weight}: {found(one)}" for one in results.findings]


def _difference(compared: Comparison) -> Iterator[RenderableType]:
    yield Text("\nThe text", "bold")
    if compared.derived:
        yield from _rows(compared.derived.splitlines())
        yield Text("")
    if not compared.text:
        yield indented(Text("not a line differs"))
    yield from _rows(compared.text.splitlines())


def _rows(rows: Iterable[str]) -> Iterator[RenderableType]:
    for row in rows:
        colour = {"+": "green", "-": "red"}.get(row[:1], "")
        yield indented(Text(shown(row), colour))
