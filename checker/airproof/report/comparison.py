"""The result of `compare`: what each part of it tells together."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Literal

from airproof.circuit.renamed import Renaming
from airproof.evidence.difference import Apart, Shift, Way
from airproof.evidence.health import Code, Finding
from airproof.evidence.verdict import Verdict
from airproof.language.changing.nodes import Change, Step, Withdraw
from airproof.report.named import retold
from airproof.report.results import Results

Open = Literal["undecided", "cannot be judged", "not asked"]
Outcome = Literal[
    "same",
    "newly breached",
    "newly conditional",  # holds before and after; after only if something more moves at once
    "conditional, before undecided",  # the same, but whether it is more was not decided before
    "no longer breached",
    "no longer shown",  # was decided, and is undecided now
    "now shown",  # was undecided, and holds now
    "added",
    "withdrawn",
]


@dataclass(frozen=True, slots=True)
class Entry:
    """One property before and after.

    way:    how the verdict afterwards was come by
    same:   nothing that it can depend on was changed
    shifts: why it does not ask what it asked
    reason: of its withdrawal, None where nobody gave one
    called: its name before; None if it was not asked
    asked_by: what asks the same after the change, if it is withdrawn
    """

    name: str
    title: str
    before: Verdict | None
    after: Verdict | None
    way: Way | None = None
    same: bool = False
    shifts: tuple[Shift, ...] = ()
    reason: str | None = None
    called: str | None = None
    asked_by: str | None = None

    @property
    def outcome(self) -> Outcome:
        if self.before is None:
            return "added"
        if self.after is None:
            return "withdrawn"
        before, after = self.before.word, self.after.word
        if before == after:
            return self._conditional()
        if after == "breached":
            return "newly breached"
        if before == "breached":
            return "no longer breached"
        return "now shown" if after == "holds" else "no longer shown"

    @property
    def unsettled(self) -> bool:
        """What is so with a slow device, or in an instant, was not decided after the change."""
        return self.after is not None and any(x.word == "undecided" for x in self.after.retried)

    def _conditional(self) -> Outcome:
        """Whether something breaches it when slow, or in an instant, that did not before."""
        was, now, doubted = (
            {one.device for one in side.retried if one.word == word} if side else set()
            for side, word in (
                (self.before, "breached"),
                (self.after, "breached"),
                (self.before, "undecided"),
            )
        )
        if now <= was:
            return "same"
        return "conditional, before undecided" if now <= was | doubted else "newly conditional"


@dataclass(frozen=True, slots=True)
class Stage:
    """The circuit with some of the steps done, or some of several changes made.

    steps:   those that are done, of `Stage`s after a prefix; the last is the one just done
    changes: the paths of the changes that are made, where some of several are
    results: None if it cannot be judged so; `problem` says why
    apart:   what a watcher could see, beside the circuit before; None if nobody asked
    renaming: what is called otherwise in it than before the change
    unasked: properties before the change that it is not asked, for they are withdrawn by then
    lost:    such as are asked after the change again, but speak of what it has not
    kept:    what it asks otherwise for a while; it is asked as before and after besides
    held:    what it asks neither as before nor as after; it is asked as before besides
    other:   what it asks otherwise than before, and what is withdrawn in the end
    known:   properties before the change by those of the stage that ask the same; None: by name
    bent:    properties and what they speak of that is otherwise than before and than after
    called:  by its properties, what asks the same after the change; without such as nothing asks
             any more; None if nobody looked
    """

    changes: tuple[str, ...]
    step: Step | None
    results: Results | None
    problem: str | None = None
    apart: Apart | None = None
    renaming: Renaming = field(default_factory=Renaming)
    unasked: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()
    held: tuple[str, ...] = ()
    other: tuple[str, ...] = ()
    bent: tuple[tuple[str, str], ...] = ()
    known: Mapping[str, str] | None = None
    called: Mapping[str, str] | None = None

    @property
    def breached(self) -> tuple[str, ...]:
        verdicts = self.results.verdicts if self.results else ()
        return tuple(verdict.property for verdict in verdicts if verdict.word == "breached")


@dataclass(frozen=True, slots=True)
class Fewer:
    """What is not known of sets of fewer changes than the smallest that breach a property.

    open:    each that was tried, and why it does not tell; None: the circuit before
    untried: some were not tried
    """

    open: tuple[tuple[Stage | None, Open], ...] = ()
    untried: bool = False

    @property
    def ruled_out(self) -> bool:
        """None of them breaches it."""
        return not self.open and not self.untried


@dataclass(frozen=True, slots=True)
class Comparison:
    """All that was found out about a change.

    derived: the steps were found by comparing two circuits
    stages:  after each step but the last; None if nobody asked
    subsets: some of several changes, the smallest first
    text:    the difference between the two texts, line by line, included ones too
    included: the included files that differ
    apart:   what a watcher could see; None if nobody asked
    renaming: what is called otherwise after the change
    slowly:  what holds was asked again with slow devices, before and after
    ways, same, shifts: by the names of the properties after the change
    asked_by: properties after the change by those before it, where both ask the same
    """

    before: Results
    after: Results
    changes: tuple[Change, ...]
    derived: str | None
    text: str
    ways: Mapping[str, Way] = field(default_factory=dict)
    same: frozenset[str] = frozenset()
    shifts: Mapping[str, tuple[Shift, ...]] = field(default_factory=dict)
    stages: tuple[Stage, ...] | None = None
    subsets: tuple[Stage, ...] = ()
    untried: bool = False  # too many changes to try all of them
    apart: Apart | None = None
    renaming: Renaming = field(default_factory=Renaming)
    included: tuple[str, ...] = ()
    slowly: bool = False
    asked_by: Mapping[str, str] = field(default_factory=dict)

    @property
    def unchanged(self) -> str:
        """What is said where there are no steps."""
        alike = "say the same, statement by statement"
        if self.included:
            return f"The two texts {alike}; what they include differs: {', '.join(self.included)}."
        if {*self.before.circuit.observed} != {*self.after.circuit.observed}:
            return f"But for what they mark with `observe`, the two circuits {alike}."
        return f"The two circuits {alike}."

    @property
    def was(self) -> Results:
        """What was found out about the circuit before, by the names after the change."""
        return retold(self.before, self.renaming)

    def entries(self) -> tuple[Entry, ...]:
        """Each property, in the order of the old circuit, then what was added."""
        before = {verdict.property: verdict for verdict in self.was.verdicts}
        after = {verdict.property: verdict for verdict in self.after.verdicts}
        reasons = {
            step.deed.name.text: step.deed.reason.text
            for change in self.changes
            for step in change.steps
            if isinstance(step.deed, Withdraw) and self.derived is None
        }
        return tuple(
            self._entry(name, before.get(name), after.get(name), reasons)
            for name in dict.fromkeys((*before, *after))
        )

    def _entry(
        self,
        name: str,
        before: Verdict | None,
        after: Verdict | None,
        reasons: Mapping[str, str],
    ) -> Entry:
        circuit = self.after.circuit if after else self.before.circuit
        old = {new: old for old, new in self.renaming.properties.items()}.get(name, name)
        called, reason = (old if before else None), reasons.get(old)
        title = circuit.properties[name].title
        shifts = self.shifts.get(name, ())
        way = self.ways.get(name) if before and after else None
        same = name in self.same
        by = self.asked_by.get(old) if after is None else None
        return Entry(name, title, before, after, way, same, shifts, reason, called, by)

    def new_at(self, stage: Stage) -> tuple[str, ...]:
        """What is breached at the stage, and was not before the change."""
        known = self.known_at(stage)
        return tuple(name for name in stage.breached if known.get(name) != "breached")

    def known_at(self, stage: Stage) -> dict[str, str]:
        """The verdicts before the change, by the names of what asks the same at the stage."""
        words = {verdict.property: verdict.word for verdict in self.before.verdicts}
        if stage.known is not None:
            return {now: words[was] for now, was in stage.known.items() if was in words}
        names = stage.renaming.properties
        return {names.get(name, name): word for name, word in words.items()}

    def called_after(self, stage: Stage, name: str) -> str:
        """What asks after the change what a property of the stage asks.

        If nothing does: its name, with a word behind it if that asks something else then.
        """
        if stage.called and name in stage.called:
            return stage.called[name]
        before = {new: old for old, new in stage.renaming.properties.items()}.get(name, name)
        after = self.renaming.properties.get(before, before)
        if stage.called is None or after not in self.after.circuit.properties:
            return after
        asked_before = stage.known is None or name in stage.known
        return f"{after} ({'as asked before' if asked_before else 'asked otherwise'})"

    def smallest(self) -> dict[str, tuple[Stage, ...]]:
        """For each property that some of the changes breach: the smallest sets that do."""
        found: dict[str, list[Stage]] = {}
        for stage in self.subsets:
            for name in dict.fromkeys(self.called_after(stage, x) for x in self.new_at(stage)):
                smaller = found.setdefault(name, [])
                if not smaller or len(smaller[0].changes) == len(stage.changes):
                    smaller.append(stage)
        return {name: tuple(stages) for name, stages in found.items()}

    def fewer(self, name: str) -> Fewer:
        """Why fewer changes than those of `smallest` may breach the property too."""
        least = self.smallest()[name]
        size = len(least[0].changes)
        found: list[tuple[Stage | None, Open]] = []
        if any(self._doubted(stage, name) for stage in least):
            found.append((None, "undecided"))
        for stage in self.subsets:
            if len(stage.changes) < size and (why := self._open(stage, name)) is not None:
                found.append((stage, why))
        return Fewer(tuple(found), self.untried and size > 2)  # each by itself was tried

    def _doubted(self, stage: Stage, name: str) -> bool:
        """It was undecided before the change."""
        known = self.known_at(stage)
        here = (x for x in stage.breached if self.called_after(stage, x) == name)
        return any(known.get(one) == "undecided" for one in here)

    def _open(self, stage: Stage, name: str) -> Open | None:
        """Why nothing is known of the property at a stage; None if it is decided there."""
        if stage.results is None:
            return "cannot be judged"
        verdicts = stage.results.verdicts
        words = [x.word for x in verdicts if self.called_after(stage, x.property) == name]
        if not words:
            return "not asked"
        return "undecided" if "undecided" in words else None

    def reach(self) -> Iterator[tuple[Literal["new", "gone"], Code, str, bool]]:
        """Positions, flows and standing states that some run reaches in one circuit only.

        With each whether that no run of the other does is proved.
        """
        before = self.was
        was, now = _unreached(before), _unreached(self.after)
        there = {*_places(before)} & {*_places(self.after)}
        for (code, name), proved in was.items():
            if (code, name) not in now and (code, name) in there:
                yield "new", code, name, proved
        for (code, name), proved in now.items():
            if (code, name) not in was and (code, name) in there:
                yield "gone", code, name, proved


_REACHED: tuple[Code, ...] = (
    "position not reached",
    "flow not open",
    "standing state not reached",
)


def _unreached(results: Results) -> dict[tuple[Code, str], bool]:
    found = [one for one in results.findings if one.code in _REACHED]
    return {(one.code, one.names[0]): one.proved for one in found}


def _places(results: Results) -> Iterator[tuple[Code, str]]:
    """What could be reached at all in a circuit whose reach was looked at."""
    if any(_not_looked(one) for one in results.findings):
        return
    circuit = results.circuit
    for name, places in circuit.positions.items():
        control = circuit.controls.get(name)
        if control is None or control.sealed is None:
            yield from (("position not reached", f"{name} is {place}") for place in places)
    yield from (("flow not open", name) for name in circuit.flows)
    yield from (("standing state not reached", name) for name in circuit.standings)


def _not_looked(finding: Finding) -> bool:
    return finding.code == "not examined" and finding.names == ("what is not reached",)
