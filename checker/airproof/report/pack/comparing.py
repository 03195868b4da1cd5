"""The page of a comparison: verdicts before and after, both drawings, what is newly breached."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from airproof import __version__
from airproof.circuit.kinds import Circuit
from airproof.evidence.verdict import Verdict
from airproof.report import schematic
from airproof.report.caution import CAUTION
from airproof.report.compared import (
    anywhere,
    asks_otherwise,
    entry_lines,
    how_lines,
    outcome_of,
    reach_lines,
    told_of,
    word_of,
)
from airproof.report.comparison import Comparison, Entry, Stage
from airproof.report.findings import found
from airproof.report.halfway import stage_name, stage_outcome
from airproof.report.named import renamed_lines
from airproof.report.pack import fingerprints
from airproof.report.pack.page import assets, environment, markup
from airproof.report.pack.parting import Different, differences, marks
from airproof.report.pack.telling import WIDE, Telling, tell
from airproof.report.results import Results
from airproof.report.schematic.marking import drawn
from airproof.report.seen import headline, seen_briefly, side, views_told, watched_lines
from airproof.report.slowed import INTRODUCTION as SLOW
from airproof.report.slowed import asked_lines, granted_lines, slow_lines, slow_story
from airproof.report.smallest import smallest_lines
from airproof.report.story import Story, story
from airproof.report.terminal import STRENGTHS
from airproof.report.words import sentence, units


@dataclass(frozen=True, slots=True)
class ComparisonPack:
    """What goes into the page.

    files: of the circuit before, and of the changes or the other circuit, as the reader named them
    date:  of the page, as it is to be shown
    """

    compared: Comparison
    files: tuple[str, ...]
    date: str


@dataclass(frozen=True, slots=True)
class Breach:
    """What is newly breached: of which property, where, and how."""

    key: str
    name: str
    title: str
    sentence: str
    where: str
    telling: Telling


@dataclass(frozen=True, slots=True)
class Seen:
    """What a watcher could see of one circuit only; the rest where there is something."""

    headline: str
    story: Story | None
    views: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Halfway:
    """A stage: its name, what is otherwise there, why it cannot be judged, what is seen of it."""

    name: str
    outcome: str
    problem: str
    seen: tuple[str, ...]


def render_comparison(pack: ComparisonPack) -> str:
    """The page as HTML text; the same for the same comparison."""
    compared = pack.compared
    before, after = compared.before.circuit, compared.after.circuit
    drawings = _Drawings(before, after)
    told = tuple(drawings.breaches(compared))
    old, new = drawings.old.still(), drawings.new.still()
    return (
        environment()
        .get_template("compare.html.j2")
        .render(
            pack=pack,
            compared=compared,
            before=before,
            after=after,
            title=f"{after.name}: {after.title}" if after.title else after.name,
            entries=[_row(compared, entry) for entry in compared.entries()],
            counts=_counts(compared),
            how=tuple(how_lines(compared)),
            renamed=tuple(renamed_lines(compared.renaming)),
            strengths=_strengths(compared),
            parts=[(one, drawings.where(one)) for one in drawings.different],
            pictures=(("Before", before, old), ("After", after, new)),
            across=max(old.width, new.width) > WIDE,
            breaches=told,
            reach=tuple(reach_lines(compared)),
            seen=tuple(_seen(compared)),
            watched=tuple(watched_lines(compared.apart, before, after)) if compared.apart else (),
            slowly=tuple((line.text, slow_story(compared, line)) for line in slow_lines(compared)),
            slow_introduction=SLOW,
            asked_slowly=tuple(asked_lines(compared)),
            granted=tuple(granted_lines(compared)),
            midway=tuple(_midway(compared)),
            stages=_staged(compared, compared.stages or ()),
            subsets=_staged(compared, compared.subsets[:-1]),
            smallest=tuple(smallest_lines(compared)),
            health=tuple(_health(compared)),
            rows=compared.text.splitlines(),
            shelf=markup(drawings.shelf.text),
            version=__version__,
            tool=fingerprints.of_tool(),
            caution=CAUTION,
            **assets(),
        )
    )


class _Drawings:
    """Both circuits drawn with what differs marked, and half-fitted ones as they are needed."""

    def __init__(self, before: Circuit, after: Circuit) -> None:
        self.different: tuple[Different, ...] = differences(before, after)
        self.shelf = schematic.Shelf()
        self.before = before
        self.old, self.new = (
            schematic.Studio(schematic.plan_marked(circuit, marks(self.different)), self.shelf)
            for circuit in (before, after)
        )

    def where(self, part: Different) -> str:
        """In which of the two drawings it stands."""
        there = [
            word
            for word, studio in (("before", self.old), ("after", self.new))
            if part.name
            in frozenset().union(*drawn(studio.plan.sheet, studio.plan.circuit).values())
        ]
        return {0: "in neither", 1: "".join(there), 2: "in both"}[len(there)]

    def breaches(self, compared: Comparison) -> Iterator[Breach]:
        """A telling for each property that is newly breached, after the change or half-fitted."""
        for number, (results, verdict, where) in enumerate(told_of(compared), start=1):
            yield self._breach(f"b{number}", compared.after, results, verdict, where)

    def _breach(
        self, key: str, after: Results, results: Results, verdict: Verdict, where: str
    ) -> Breach:
        circuit = results.circuit
        studio = self.new if results is after else self._half_fitted(circuit)
        asked = circuit.properties[verdict.property]
        assert verdict.sequence is not None
        said = sentence(asked.sentence, units(circuit))
        telling = tell(f"{key}s", circuit, verdict.sequence, asked, studio)
        return Breach(key, asked.name, asked.title, said, where, telling)

    def _half_fitted(self, circuit: Circuit) -> schematic.Studio:
        known = marks(differences(self.before, circuit))
        return schematic.Studio(schematic.plan_marked(circuit, known), self.shelf)


@dataclass(frozen=True, slots=True)
class Row:
    """One property in the table of verdicts."""

    entry: Entry
    before: str
    after: str
    mark: str
    outcome: str
    lines: tuple[str, ...]


_MARKS: Mapping[str, str] = {
    "newly breached": "✗",
    "newly conditional": "!",
    "conditional, before undecided": "!",
    "no longer breached": "✓",
    "no longer shown": "?",
    "now shown": "✓",
    "added": "+",
    "withdrawn": "-",
}


def _row(compared: Comparison, entry: Entry) -> Row:
    return Row(
        entry,
        word_of(entry.before),
        word_of(entry.after),
        _MARKS.get(entry.outcome, ""),
        outcome_of(entry),
        tuple(entry_lines(compared, entry)),
    )


def _counts(compared: Comparison) -> str:
    """`1 newly breached, 18 same; 1 of them asks something else than before`."""
    entries = compared.entries()
    outcomes = [entry.outcome for entry in entries]
    told = ", ".join(f"{outcomes.count(one)} {one}" for one in dict.fromkeys(sorted(outcomes)))
    other = sum(asks_otherwise(entry) for entry in entries)
    if not other:
        return told
    return f"{told}; {other} of them {'asks' if other == 1 else 'ask'} something else than before"


def _strengths(compared: Comparison) -> dict[str, str]:
    both = (*compared.before.verdicts, *compared.after.verdicts)
    used = dict.fromkeys(verdict.strength for verdict in both if verdict.strength)
    return {strength: anywhere(STRENGTHS[strength]) for strength in used}


def _seen(compared: Comparison) -> Iterator[Seen]:
    apart = compared.apart
    if apart is None:
        return
    before, after = compared.before.circuit, compared.after.circuit
    for word, showing, one in (
        ("new", apart.new, "the changed circuit"),
        ("gone", apart.gone, "the circuit before"),
    ):
        run, circuit = showing.sequence, side(apart, before, after, word)
        tale = story(circuit, run) if run is not None else None
        views = tuple(views_told(apart, circuit, word)) if run is not None else ()
        said = headline(showing, one)
        yield Seen(f"{said[0].upper()}{said[1:]}", tale, views)


def _ill(stage: Stage) -> bool:
    """No whole circuit, or one that is not healthy."""
    if stage.results is None:
        return True
    return any(finding.weight == "error" for finding in stage.results.findings)


def _midway(compared: Comparison) -> Iterator[str]:
    """Where something is newly breached on the way, ill, or cannot be judged."""
    for stage in compared.stages or ():
        if compared.new_at(stage) or _ill(stage) or stage.lost:
            yield f"{stage_name(compared, stage)}: {stage_outcome(compared, stage)}"


def _staged(compared: Comparison, stages: tuple[Stage, ...]) -> tuple[Halfway, ...]:
    return tuple(
        Halfway(
            stage_name(compared, one),
            stage_outcome(compared, one),
            one.problem or "",
            tuple(seen_briefly(one.apart)) if one.apart else (),
        )
        for one in stages
    )


def _health(compared: Comparison) -> Iterator[str]:
    """What is new and what is gone."""
    was, now = (
        [f"{one.weight}: {found(one)}" for one in results.findings]
        for results in (compared.was, compared.after)
    )
    yield from (f"new: {line}" for line in now if line not in was)
    yield from (f"gone: {line}" for line in was if line not in now)
