"""A changed circuit judged: by what is known of another one first, then as `prove` does it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass, field, replace
from typing import Any

from airproof.analyses.likening import likened
from airproof.circuit.kinds import Circuit
from airproof.cli import task
from airproof.cli.collecting import Asked, Collected, Gathered, Told
from airproof.cli.priming import Priming
from airproof.cli.workers import Depth, Done, Job, Jobs, Lost, Tell, Work, run
from airproof.evidence.difference import Carried, Way
from airproof.evidence.renamed import Retold
from airproof.evidence.verdict import Verdict

LONGEST = 20.0  # [s] that trying what is known may take of a property's time


@dataclass(frozen=True, slots=True)
class Carry:
    """Try a verdict on another circuit on this one."""

    circuit: Circuit
    old: Circuit
    claim: Verdict
    seconds: float


@dataclass(frozen=True, slots=True)
class Known:
    """What was found out about a circuit."""

    circuit: Circuit
    verdicts: tuple[Verdict, ...]

    def beside(self, circuit: Circuit) -> Known:
        """The same in the words of another circuit, where that only calls things otherwise."""
        told = likened(self.circuit, circuit)
        retold = Retold(self.circuit, told.circuit, told.renaming)
        return Known(told.circuit, tuple(map(retold.verdict, self.verdicts)))

    def claims(self, circuit: Circuit) -> dict[str, Verdict]:
        """The verdicts that something shows, on properties that the circuit has as well."""
        return {
            verdict.property: verdict
            for verdict in self.verdicts
            if verdict.property in circuit.properties
            and (verdict.certificate is not None or verdict.sequence is not None)
        }


def work(job: Any, tell: Tell) -> Any:
    """One job, done in a process of its own: Carried or None, or what `prove` asks for."""
    if not isinstance(job, Carry):
        return task.work(job, tell)
    from airproof.analyses.carrying import carried
    from airproof.engines.budget import Budget

    return carried(job.circuit, job.old, job.claim, Budget(seconds=job.seconds))


@dataclass(slots=True)
class Carrying:
    """Which properties wait for what is known of the other circuit, and what came of it.

    waiting: the properties by the keys of their jobs
    left:    those of which nothing stood
    defects: where airproof itself failed
    """

    asked: Asked
    known: Known
    ways: dict[str, Way] = field(default_factory=dict)
    waiting: dict[str, str] = field(default_factory=dict)
    left: list[str] = field(default_factory=list)
    defects: list[str] = field(default_factory=list)
    priming: Priming = field(init=False)

    def __post_init__(self) -> None:
        self.priming = Priming(self.asked.circuit, self.asked.seconds, self.asked.steps)

    def first(self, names: Iterable[str]) -> Iterator[Job]:
        """Tries what is known; what is known of nothing waits for that, to be begun together."""
        claims = self.known.claims(self.asked.circuit)
        seconds = min(LONGEST, self.asked.seconds)
        for name in names:
            if name not in claims:
                self.left.append(name)
                continue
            key = f"{name}, by what is known"
            self.waiting[key] = name
            carry = Carry(self.asked.circuit, self.known.circuit, claims[name], seconds)
            yield Job(key, carry, seconds)
        if not self.waiting:
            yield from self._rest()

    def ended(self, event: Done | Lost) -> list[Job] | None:
        """The jobs that follow; None if the event is none of these."""
        if event.key not in self.waiting:
            return self.priming.ended(event)
        if isinstance(event, Lost) and event.why == "raised":
            self.defects.append(f"{event.key}: {event.detail}")
        self.left.append(self.waiting.pop(event.key))
        return [*self._rest()] if not self.waiting else []

    def taken(self, event: Depth | Done | Lost) -> Verdict | None:
        """The verdict that stood; None if nothing did, or the event is none of these."""
        if event.key not in self.waiting or not isinstance(event, Done) or event.outcome is None:
            return None
        found: Carried = event.outcome
        self.ways[self.waiting.pop(event.key)] = found.way
        return found.verdict

    def rest(self) -> list[Job]:
        """What is to be proved anew, once nothing is waited for."""
        return [*self._rest()] if not self.waiting else []

    def _rest(self) -> Iterator[Job]:
        names = [name for name in self.asked.properties if name in self.left]
        self.left.clear()
        self.ways |= dict.fromkeys(names, "anew")
        yield from self.priming.first(names)


class _Judging(Collected):
    """As for `prove`, but a verdict may come from what was known."""

    def __init__(self, asked: Asked, told: Told, jobs: Jobs, carrying: Carrying) -> None:
        self.carrying = carrying
        super().__init__(asked, told, jobs, carrying)

    def take(self, event: Depth | Done | Lost) -> None:
        verdict = self.carrying.taken(event)
        if verdict is None:
            super().take(event)
            return
        self.begin(self.carrying.rest(), next_up=True)
        super().take(Done(verdict.property, verdict))


def judged(
    asked: Asked, known: Known, told: Told, work: Work = work
) -> tuple[Gathered, Mapping[str, Way]]:
    """Everything that was found out, also when Ctrl-C cut it short, and how each was come by."""
    jobs = Jobs()
    carrying = Carrying(asked, known)
    collected = _Judging(asked, told, jobs, carrying)
    try:
        with closing(run(jobs, work, asked.workers)) as events:
            for event in events:
                collected.take(event)
    except KeyboardInterrupt:
        pass
    told.over()
    gathered = collected.ended()
    defects = (*carrying.defects, *gathered.defects)
    return replace(gathered, defects=defects), carrying.ways
