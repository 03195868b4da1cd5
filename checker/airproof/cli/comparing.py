"""`compare`: what a change does, judged before, after and in between."""

from __future__ import annotations

import difflib
import itertools
import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from airproof.analyses.between import between
from airproof.analyses.calling import called, firsts
from airproof.analyses.likeness import same_part
from airproof.analyses.likening import likened
from airproof.analyses.shifts import shifts
from airproof.base.diagnostics import Rejected
from airproof.base.source import SourceText
from airproof.circuit.kinds import Circuit
from airproof.circuit.renamed import Renaming
from airproof.cli.carrying import Known, judged, work
from airproof.cli.collecting import Asked, Gathered, Told
from airproof.cli.files import read
from airproof.cli.proving import gather
from airproof.cli.shell import Refused
from airproof.cli.slowly import given_up, slowly
from airproof.cli.watching import Watch, unwatched, watched
from airproof.cli.workers import Work
from airproof.evidence.difference import Apart, Shift, Way
from airproof.evidence.health import Finding
from airproof.evidence.sequence import Sequence as Run
from airproof.evidence.verdict import Verdict
from airproof.language.changing.applying import Done, Original, applied, changed, original
from airproof.language.changing.deriving import derived
from airproof.language.changing.nodes import Change
from airproof.language.changing.reading import is_change, parse_change
from airproof.language.load import Loaded, load
from airproof.language.syntax import Title
from airproof.report.comparison import Comparison, Stage
from airproof.report.results import Results

ALL_SETS = 4  # changes of which every set is tried
_CODES = (0, 3, 1, 2)  # the graver one stands


@dataclass(frozen=True, slots=True)
class Proposed:
    """What is to be compared: two circuits, and the changes that lead from one to the other.

    done:    each step with the text after it
    derived: the text of the change, where it was found by comparing the circuits
    """

    old: Loaded
    new: Loaded
    original: Original
    changes: tuple[Change, ...]
    done: tuple[Done, ...]
    sources: dict[str, SourceText]
    new_text: str
    derived: str | None = None


def proposed(file: str, others: Sequence[str]) -> Proposed:
    """The circuit of the file and what is proposed for it; raises Rejected or Refused."""
    if [file, *others].count("-") > 1:
        raise Refused("only one of the files can be standard input")
    if file != "-" and is_change(read(file)):
        raise Refused(f"{file} is a change; name the circuit before it")
    old = load(file)
    folder = None if file == "-" else str(Path(file).parent)
    first = original(old, folder)
    texts = {name: read(name) for name in dict.fromkeys(others)}
    if len(texts) < len(others):
        raise Refused("a change is named twice")
    circuits = [name for name, text in texts.items() if not is_change(text)]
    if circuits and len(others) > 1:
        raise Refused(f"{circuits[0]} is no change; compare with one circuit, or with changes only")
    plan = _of_two(old, first, circuits[0]) if circuits else _of_changes(old, first, texts)
    if not plan.old.circuit.properties and not plan.new.circuit.properties:
        raise Refused(f"neither {file} nor what becomes of it states a property to judge")
    return plan


def _of_changes(old: Loaded, first: Original, texts: dict[str, str]) -> Proposed:
    changes: list[Change] = []
    problems: list[Rejected] = []
    for name, text in texts.items():
        try:
            changes.append(parse_change(text, name))
        except Rejected as rejected:
            problems.append(rejected)
    sources = {name: SourceText(name, text) for name, text in texts.items()}
    if problems:
        raise Rejected([one for found in problems for one in found.problems], sources)
    done = applied(first, changes, sources)
    new = changed(first, done, sources)
    return Proposed(old, new, first, tuple(changes), done, sources, done[-1].text)


def _of_two(old: Loaded, first: Original, file: str) -> Proposed:
    new = load(file)
    text = next(iter(new.sources.values())).text
    found = derived(first.text, first.path, text, file)
    if found is None:
        return Proposed(old, new, first, (), (), {}, text, "")
    change = parse_change(found, f"the change to {file}")
    sources = {change.path: SourceText(change.path, found)}
    try:
        done = applied(first, [replace(change, circuit=_named(change, first))], sources)
    except Rejected:  # the steps are for people here; what is judged is the text of NEW
        done = ()
    return Proposed(old, new, first, (change,), done, sources, text, found)


def _named(change: Change, first: Original) -> Title:
    return replace(change.circuit, text=Path(first.path).name)


@dataclass(slots=True)
class Comparing:
    """One comparison under way.

    code:    graver of what was found so far, as an exit code
    defects: where airproof itself failed
    interrupted: by Ctrl-C; what was not judged before is not judged any more
    """

    plan: Proposed
    seconds: float
    steps: int | None
    workers: int
    told: Told
    work: Work = work
    code: int = 0
    defects: list[str] = field(default_factory=list)
    interrupted: bool = False

    def compared(self, *, stages: bool, slow: bool = False) -> Comparison:
        """Both circuits judged, and what lies between if that is asked for."""
        plan = self.plan
        before = gather(self._asked(plan.old.circuit), self.told, self.work)
        self.defects += before.defects
        self.interrupted = _cut(before)
        known = Known(plan.old.circuit, before.verdicts)
        after, ways = self._judge(self._asked(plan.new.circuit), known)
        like = likened(plan.old.circuit, plan.new.circuit)
        found = Comparison(
            _results(plan.old, before),
            _results(plan.new, after),
            plan.changes,
            plan.derived,
            self._text(),
            ways,
            frozenset() if _ill(before, after) else frozenset(self._same(like.circuit)),
            self._shifts(like.circuit),
            apart=self._apart(plan.new.circuit, before, after, like.renaming),
            renaming=like.renaming,
            included=self._differing(),
            asked_by=called(plan.old.circuit, plan.new.circuit),
        )
        if slow:
            found = self._slowly(found, before, after)
        if stages:
            found = replace(found, stages=tuple(self._stages(known)))
            if not plan.done and any(len(change.steps) > 1 for change in plan.changes):
                self.code = max(self.code, 3, key=_CODES.index)  # nobody knows what lies between
        if len(plan.changes) > 1:
            found = self._with_subsets(found, known)
        return found

    def _slowly(self, found: Comparison, before: Gathered, after: Gathered) -> Comparison:
        """With what holds asked again with slow devices, of either circuit."""
        if self.interrupted:
            return found
        sides = []
        for loaded, gathered in ((self.plan.old, before), (self.plan.new, after)):
            asked = self._asked(loaded.circuit)
            if self.interrupted:
                again = given_up(asked, gathered)
            else:
                again = slowly(asked, gathered, self.told, self.work)
            self.defects += again.defects[len(gathered.defects) :]
            cut = (one.reason == "interrupted" for v in again.verdicts for one in v.retried)
            self.interrupted |= any(cut)
            sides.append(_results(loaded, again))
        return replace(found, before=sides[0], after=sides[1], slowly=True)

    def _apart(
        self,
        new: Circuit,
        before: Gathered | None = None,
        after: Gathered | None = None,
        names: Renaming | None = None,
    ) -> Apart:
        """What a watcher could see, beside the circuit before.

        With what was found out about both, breaches of one only are looked at first.
        """
        old = self.plan.old.circuit
        if self.interrupted:
            return unwatched(old, new)
        watch = Watch(old, new, self.seconds)
        if before is not None and after is not None and not names:
            shown, gone = _breaches(after, before), _breaches(before, after)
            watch = replace(watch, shown=shown, gone=gone)
        found = watched(watch, self.told)
        self.interrupted |= found.interrupted
        self.defects += found.defects
        return found.apart

    def _asked(self, circuit: Circuit, *, reach: bool = True) -> Asked:
        names = tuple(circuit.properties)
        return Asked(
            circuit, names, self.seconds, self.steps, self.workers, reach=reach, thorough=False
        )

    def _judge(self, asked: Asked, known: Known) -> tuple[Gathered, Mapping[str, Way]]:
        """One circuit judged by what is known of another."""
        gathered = _unjudged(asked)
        ways: Mapping[str, Way] = {}
        if not self.interrupted:
            gathered, ways = judged(asked, known.beside(asked.circuit), self.told, self.work)
        self.interrupted |= _cut(gathered)
        self.defects += gathered.defects
        self.code = max(self.code, gathered.exit_code, key=_CODES.index)
        return gathered, ways

    def _text(self) -> str:
        plan = self.plan
        was, now = _included(plan.old), _included(plan.new)
        return _rows(plan.original.text, plan.new_text) + "".join(
            _rows(was.get(name, ""), now.get(name, ""), f" {name}") for name in self._differing()
        )

    def _differing(self) -> tuple[str, ...]:
        """The included files that are not the same."""
        was, now = _included(self.plan.old), _included(self.plan.new)
        return tuple(name for name in {**was, **now} if was.get(name) != now.get(name))

    def _common(self, old: Circuit) -> Iterator[str]:
        return (name for name in old.properties if name in self.plan.new.circuit.properties)

    def _same(self, old: Circuit) -> Iterator[str]:
        """Of the circuit before in the new one's words."""
        new = self.plan.new.circuit
        return (x for x in self._common(old) if same_part(new, old, new.properties[x]))

    def _shifts(self, old: Circuit) -> dict[str, tuple[Shift, ...]]:
        found = {name: shifts(old, self.plan.new.circuit, name) for name in self._common(old)}
        return {name: why for name, why in found.items() if why}

    # ---- in between

    def _stages(self, known: Known) -> Iterator[Stage]:
        """After each step but the last."""
        for done in self.plan.done[:-1]:
            stage = self._judged(Stage((done.change.path,), done.step, None), done, known)
            if stage.results is not None:
                stage = replace(stage, apart=self._apart(stage.results.circuit))
            yield stage

    def _judged(self, stage: Stage, done: Done, known: Known) -> Stage:
        try:
            loaded = self.plan.original.load(done.text, done.shown)
        except Rejected as rejected:
            self.code = max(self.code, 3, key=_CODES.index)
            return replace(stage, problem=str(rejected))
        old, new = self.plan.old.circuit, self.plan.new.circuit
        asked_then = between(loaded.circuit, old, new)
        loaded = replace(loaded, circuit=asked_then.circuit)
        stage = replace(
            stage,
            renaming=likened(old, loaded.circuit).renaming,
            unasked=asked_then.unasked,
            lost=asked_then.lost,
            kept=asked_then.kept,
            held=asked_then.held,
            other=asked_then.other,
            called=called(asked_then.circuit, new),
            bent=asked_then.bent,
            known=asked_then.known,
        )
        if asked_then.lost:
            self.code = max(self.code, 3, key=_CODES.index)
        asked = self._asked(loaded.circuit, reach=False)
        gathered, _ = self._judge(asked, known)
        return replace(stage, results=_results(loaded, gathered))

    def _with_subsets(self, found: Comparison, known: Known) -> Comparison:
        changes = self.plan.changes
        every = len(changes) <= ALL_SETS
        sizes = range(1, len(changes)) if every else range(1, 2)
        sets = [chosen for n in sizes for chosen in itertools.combinations(changes, n)]
        stages = [self._subset(chosen, known) for chosen in sets]
        every_path = tuple(change.path for change in changes)
        old, new = self.plan.old.circuit, self.plan.new.circuit
        whole = Stage(
            every_path,
            None,
            found.after,
            renaming=found.renaming,
            called=firsts(new),
            known=between(new, old, new).known,
        )
        return replace(found, subsets=(*stages, whole), untried=not every)

    def _subset(self, chosen: tuple[Change, ...], known: Known) -> Stage:
        plan = self.plan
        stage = Stage(tuple(change.path for change in chosen), None, None)
        try:
            done = applied(plan.original, chosen, plan.sources)
        except Rejected as rejected:  # it needs another one first, so nobody can make it alone
            return replace(stage, problem=str(rejected))
        return self._judged(stage, done[-1], known)


def _breaches(gathered: Gathered, other: Gathered) -> tuple[Run, ...]:
    """Runs that breach what the other circuit keeps; one in which no time passes shows nothing."""
    kept = {verdict.property for verdict in other.verdicts if verdict.word == "holds"}
    found = (v.sequence for v in gathered.verdicts if v.word == "breached" and v.property in kept)
    return tuple(run for run in found if run and any(x.kind == "elapse" for x in run.steps))


def _ill(*sides: Gathered) -> bool:
    """Time may stop in one of the circuits, and anything can be why."""
    return any(finding.weight == "error" for one in sides for finding in one.findings)


def _included(loaded: Loaded) -> dict[str, str]:
    """The texts of the included files, by their names as seen from the circuit's folder."""
    (first, _), *others = loaded.sources.items()
    folder = Path(first).parent
    return {os.path.relpath(name, folder): source.text for name, source in others}


def _rows(was: str, now: str, of: str = "") -> str:
    lines = was.splitlines(), now.splitlines()
    rows = difflib.unified_diff(*lines, f"before{of}", f"after{of}", n=2, lineterm="")
    return "".join(f"{row}\n" for row in rows)


def _cut(gathered: Gathered) -> bool:
    return any(verdict.reason == "interrupted" for verdict in gathered.verdicts)


def _unjudged(asked: Asked) -> Gathered:
    """As if Ctrl-C had come before anything was found out."""
    verdicts = (Verdict(name, "undecided", reason="interrupted") for name in asked.properties)
    unseen = Finding("warning", "not examined", ("health",), detail="interrupted")
    return Gathered(tuple(verdicts), (unseen,), ())


def _results(loaded: Loaded, gathered: Gathered) -> Results:
    found = (gathered.verdicts, gathered.findings)
    return Results(loaded.circuit, loaded.text_fingerprint, *found)
