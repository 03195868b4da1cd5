"""What the workers find out, put together; it decides what is to be done next."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Protocol

from airproof.circuit.kinds import Circuit
from airproof.cli.confronting import Confronting
from airproof.cli.explaining import Explaining
from airproof.cli.leading import Leading
from airproof.cli.priming import Priming
from airproof.cli.retrying import Retrying
from airproof.cli.task import HEALTH, REACH, Task
from airproof.cli.workers import Depth, Done, Job, Jobs, Lost
from airproof.evidence.health import Finding, still_unreached
from airproof.evidence.verdict import Reason, Verdict

REASONS: Mapping[str, Reason] = {
    "crashed": "solver failed",
    "memory": "solver failed",
    "solver": "solver failed",
    "raised": "defect",
    "overtime": "time limit",
}


@dataclass(frozen=True, slots=True)
class Asked:
    """What to prove, and what it may cost: seconds for each property, the longest sequence.

    reach:    what no run reaches is looked for too
    thorough: what a proof leans on, and what of it needs quick devices, is asked too
    """

    circuit: Circuit
    properties: tuple[str, ...]
    seconds: float
    steps: int | None
    workers: int
    reach: bool = True
    thorough: bool = True


@dataclass(frozen=True, slots=True)
class Told:
    """Who is told how deep a job is, of each verdict, how far it is after that, and of the end."""

    depth: Callable[[str, int], None] = field(default=lambda key, depth: None)
    verdict: Callable[[Verdict], None] = field(default=lambda verdict: None)
    further: Callable[[str], None] = field(default=lambda progress: None)
    over: Callable[[], None] = field(default=lambda: None)


@dataclass(frozen=True, slots=True)
class Gathered:
    """Verdicts in the order asked for, findings, and one line for each defect of airproof."""

    verdicts: tuple[Verdict, ...]
    findings: tuple[Finding, ...]
    defects: tuple[str, ...]

    @property
    def exit_code(self) -> int:
        """2 wrong, 1 breached, 3 undecided, 0 all hold."""
        words = {verdict.word for verdict in self.verdicts}
        if self.defects or any(finding.weight == "error" for finding in self.findings):
            return 2
        return 1 if "breached" in words else 3 if "undecided" in words else 0


class First(Protocol):
    """What is done first for the properties, and what follows from that."""

    def first(self, names: Iterable[str]) -> Iterator[Job]:
        """The jobs to begin with."""

    def ended(self, event: Done | Lost) -> list[Job] | None:
        """The jobs that follow from an event; None if it is none of theirs."""


class Collected:
    """What came in so far; it adds to the jobs what follows from that.

    Health beside what the properties of one start share, then beside the first
    of them, for a `holds` waits for it; once all
    with one start are judged, their proofs meet random runs; each is asked
    what it leans on; what is never reached comes after that, and when every
    verdict is told each `holds` is asked again with slow devices.
    """

    def __init__(self, asked: Asked, told: Told, jobs: Jobs, priming: First | None = None) -> None:
        self.asked, self.told, self.jobs = asked, told, jobs
        self.verdicts: dict[str, Verdict] = {}
        self.findings: tuple[Finding, ...] | None = None  # None until health is known
        self.unreached: tuple[Finding, ...] | None = None  # None until that is known
        self.unknown: Verdict | None = None  # why health is not known, as a verdict says it
        self.defects: list[str] = []
        self.untold: list[str] = []
        self.priming = priming or Priming(asked.circuit, asked.seconds, asked.steps)
        self.confronting = Confronting(asked.circuit, asked.seconds)
        self.explaining = Explaining(asked.circuit, asked.seconds)
        self.retrying = Retrying(asked.circuit, asked.seconds, asked.steps)
        self.leading = Leading(asked.circuit, frozenset(asked.properties))
        self.begin(self._first())
        if asked.reach:
            jobs.put_off([self._examining(REACH)])

    def begin(self, jobs: Iterable[Job], *, next_up: bool = False) -> None:
        """Those of the jobs that need not wait for another; the others when it has ended."""
        self.jobs.add(self.leading.ready(jobs), next_up=next_up)

    def _first(self) -> Iterator[Job]:
        """What does not follow from anything else."""
        yield self._examining(HEALTH)
        yield from self.priming.first(self.asked.properties)

    def _examining(self, key: str) -> Job:
        task = Task(self.asked.circuit, key, self.asked.seconds, self.asked.steps)
        return Job(key, task, self.asked.seconds)

    def take(self, event: Depth | Done | Lost) -> None:
        """Takes note of what happened, tells of it, and adds the jobs that follow from it."""
        if isinstance(event, Depth):
            self.told.depth(event.key, event.depth)
        elif (primed := self.priming.ended(event)) is not None:
            self.begin(primed, next_up=True)
        elif self.retrying.ended(event, REASONS):
            self.jobs.drop(self.retrying.given_up())
            self.told.further(self.retrying.progress())
        else:
            if not (self.confronting.ended(event) or self.explaining.ended(event)):
                self._ended(event)
                self.jobs.add(self.leading.ended(event), next_up=True)
            met = self.confronting.due(self.asked.properties, self.verdicts)
            why = self.explaining.due(self.verdicts) if self.asked.thorough else ()
            self.jobs.add(met, next_up=True)
            self.jobs.put_off(why)
            for verdict in self._tellable():
                self.told.verdict(verdict)
            self._retry()

    def _retry(self) -> None:
        """Once every verdict is told."""
        if not self.asked.thorough:
            return
        if self.retrying.asked is None and not self.untold and self._all_judged():
            self.jobs.put_off(self.retrying.due(self._retried()))

    def _retried(self) -> Iterator[Verdict]:
        """What holds, with the proof as it was found: there is more in it than was needed."""
        for verdict in self.verdicts.values():
            if self._sound(verdict).word == "holds":
                yield verdict

    def _all_judged(self) -> bool:
        return self.verdicts.keys() >= set(self.asked.properties)

    def _ended(self, event: Done | Lost) -> None:
        match event:
            case Done(key, outcome) if key == HEALTH:
                self.findings = outcome
            case Done(key, outcome) if key == REACH:
                self.unreached = outcome
            case Done(_, outcome):
                self._judged(outcome)
            case Lost():
                self._lost(event)

    def _judged(self, verdict: Verdict) -> None:
        self.verdicts[verdict.property] = verdict
        self.untold.append(verdict.property)

    def _lost(self, lost: Lost) -> None:
        verdict = _undecided(lost.key, REASONS[lost.why], lost.detail, lost.depth)
        if lost.key not in (HEALTH, REACH):
            self._judged(verdict)
            return
        if lost.key == HEALTH:
            self.unknown = verdict
        if lost.why == "raised":
            self.defects.append(f"health: {lost.detail}")

    def _tellable(self) -> Iterator[Verdict]:
        """Each verdict that nothing still to come can withhold, once."""
        known = self.findings is not None or self.unknown is not None
        for name in list(self.untold):
            verdict = self.verdicts[name]
            if not _rests_on_health(verdict) or (known and self.confronting.over(verdict)):
                self.untold.remove(name)
                yield self._sound(verdict)

    def _sound(self, verdict: Verdict) -> Verdict:
        """The verdict, or why a `holds` cannot be said."""
        verdict = self.confronting.judged(self.explaining.judged(verdict))
        if not _rests_on_health(verdict):
            return verdict
        if self.unknown is not None:
            detail = "; ".join(filter(None, ["health was not examined", self.unknown.detail]))
            return _withheld(verdict, self.unknown.reason, detail)
        findings = self.findings or ()
        errors = [finding.code for finding in findings if finding.weight == "error"]
        if errors:
            return _withheld(verdict, "unhealthy", errors[0])
        unseen = [finding for finding in findings if finding.code == "not examined"]
        if unseen:
            return _withheld(verdict, "health not examined", unseen[0].detail)
        return verdict

    def ended(self) -> Gathered:
        """The whole, with whatever is missing called interrupted."""
        if self.findings is None and self.unknown is None:
            self.unknown = _undecided(HEALTH, "interrupted", None, 0)
        judged = [
            self._sound(self.verdicts.get(name) or _undecided(name, "interrupted", None, 0))
            for name in self.asked.properties
        ]
        again = self.asked.thorough
        verdicts = [self.retrying.told(verdict) if again else verdict for verdict in judged]
        found = [*defects_of(verdicts)]
        sequences = [verdict.sequence for verdict in verdicts if verdict.sequence is not None]
        findings = still_unreached(self.asked.circuit, self._findings(), sequences)
        return Gathered(
            tuple(verdicts), findings, (*found, *self.explaining.defects, *self.defects)
        )

    def _findings(self) -> tuple[Finding, ...]:
        reach: tuple[Finding, ...] = (Finding("warning", "not examined", ("what is not reached",)),)
        if self.unreached is not None or not self.asked.reach:
            reach = self.unreached or ()
        if self.unknown is None:
            return (*(self.findings or ()), *reach)
        detail = "; ".join(filter(None, [self.unknown.reason, self.unknown.detail]))
        return (Finding("warning", "not examined", ("health",), detail=detail), *reach)


def _rests_on_health(verdict: Verdict) -> bool:
    """It says of every run that it is well; in a circuit where time stops it would say so too."""
    return verdict.word == "holds" or verdict.certificate is not None


def defects_of(verdicts: Iterable[Verdict]) -> Iterator[str]:
    """A line for each place where airproof itself failed."""
    for verdict in verdicts:
        if verdict.reason == "defect":
            yield f"{verdict.property}: {verdict.detail}"
        for retried in verdict.retried:
            if retried.reason == "defect":
                again = f"{retried.device} slow" if retried.device else "even for an instant"
                yield f"{verdict.property}, {again}: {retried.detail}"


def _undecided(name: str, reason: Reason, detail: str | None, depth: int) -> Verdict:
    return Verdict(name, "undecided", reason=reason, detail=detail or None, depth=depth)


def _withheld(verdict: Verdict, reason: Reason | None, detail: str | None) -> Verdict:
    return replace(verdict, word="undecided", strength=None, reason=reason, detail=detail)
