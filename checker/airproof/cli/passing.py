"""Sequences that a meeting has disposed of, and the next one of each property."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import closing
from dataclasses import dataclass, field, replace

from airproof.circuit.deeds import Done as Deeds
from airproof.circuit.kinds import Circuit
from airproof.cli.collecting import Asked, Told
from airproof.cli.replaying import Another, lost, work
from airproof.cli.workers import Depth, Done, Job, Jobs, Lost, Work, run
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Verdict
from airproof.report.pack import key_of
from airproof.report.pack.decisions import Decision
from airproof.report.pack.keys import done_in


@dataclass(frozen=True, slots=True)
class Disposed:
    """The keys of some sequences of a property, and what those do whose moves are known."""

    keys: frozenset[str] = frozenset()
    deeds: tuple[Deeds, ...] = ()

    def has(self, circuit: Circuit, sequence: Sequence) -> bool:
        return key_of(circuit, sequence) in self.keys


def disposed(decisions: Iterable[Decision]) -> Disposed:
    """The sequences that the decisions are about."""
    known = tuple(decisions)
    told = (one for one in known if one.moves)
    return Disposed(
        frozenset(one.sequence for one in known),
        tuple(done_in(one.moves, one.steps) for one in told),
    )


@dataclass(frozen=True, slots=True)
class Passed:
    """The verdicts, each breach with the sequence that is to be told.

    none:    by property, the verdict that there is no other than those set aside
    defects: where airproof itself failed
    """

    verdicts: tuple[Verdict, ...]
    none: Mapping[str, Verdict] = field(default_factory=dict)
    defects: tuple[str, ...] = ()


def passed(
    asked: Asked,
    verdicts: tuple[Verdict, ...],
    aside: Mapping[str, Disposed],
    told: Told,
    work: Work = work,
) -> Passed:
    """Each breach with the first sequence that differs from all that were set aside."""
    breached = [one for one in verdicts if one.word == "breached" and one.sequence is not None]
    passing = {
        one.property: _Passing(asked, one, aside[one.property])
        for one in breached
        if one.property in aside
    }
    jobs = Jobs(one.next() for one in passing.values())
    try:
        with closing(run(jobs, work, asked.workers)) as events:
            for event in events:
                if isinstance(event, Depth):
                    told.depth(event.key, event.depth)
                else:
                    jobs.add(passing[event.key].ended(event))
    except KeyboardInterrupt:
        pass
    told.over()
    return Passed(
        tuple(passing[v.property].verdict() if v.property in passing else v for v in verdicts),
        {name: one.found for name, one in passing.items() if one.found.sequence is None},
        tuple(
            f"{one.found.property}: {one.found.detail}"
            for one in passing.values()
            if one.found.reason == "defect"
        ),
    )


class _Passing:
    """The search for one property's next sequence."""

    def __init__(self, asked: Asked, first: Verdict, aside: Disposed) -> None:
        self.asked, self.first, self.aside = asked, first, aside
        self.known: list[Sequence] = []
        self._note(first)
        self.found = Verdict(first.property, "undecided", reason="interrupted")

    def _note(self, verdict: Verdict) -> bool:
        """Whether the verdict's sequence is set aside, too."""
        run = verdict.sequence
        if run is None or not self.aside.has(self.asked.circuit, run):
            return False
        self.known.append(run)
        return True

    def next(self) -> Job:
        asked, name = self.asked, self.first.property
        apart: tuple[Sequence | Deeds, ...] = (*self.known, *self.aside.deeds)
        after = self.first.depth
        data = Another(asked.circuit, name, apart, asked.seconds, asked.steps, after)
        return Job(name, data, asked.seconds)

    def ended(self, event: Done | Lost) -> list[Job]:
        """A further search where it led to one that is known by its key alone."""
        name = self.first.property
        self.found = event.outcome if isinstance(event, Done) else lost(name, event)
        return [self.next()] if self._note(self.found) else []

    def verdict(self) -> Verdict:
        """The breach as it was proved, with that sequence if there is one."""
        found, circuit = self.found, self.asked.circuit
        if found.sequence is None or _same(circuit, found, self.first):
            return self.first
        return replace(self.first, sequence=found.sequence, notes=found.notes, depth=found.depth)


def _same(circuit: Circuit, one: Verdict, other: Verdict) -> bool:
    return key_of(circuit, one.sequence) == key_of(circuit, other.sequence)
