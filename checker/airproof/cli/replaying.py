"""`replay`: one property's sequence, further ones that differ, and what it depends on."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass, field, replace
from typing import Any

from airproof.circuit.deeds import Done as Deeds
from airproof.circuit.kinds import Circuit
from airproof.circuit.without import Thing
from airproof.cli import task
from airproof.cli.collecting import Asked, Collected, Told
from airproof.cli.workers import Depth, Done, Job, Jobs, Lost, Tell, Work, run
from airproof.evidence.health import Finding
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Reason, Verdict


@dataclass(frozen=True, slots=True)
class Another:
    """Find a sequence that differs from the known ones; fewer steps than `after` will not do."""

    circuit: Circuit
    name: str
    known: tuple[Sequence | Deeds, ...]
    seconds: float
    steps: int | None
    after: int


@dataclass(frozen=True, slots=True)
class Settle:
    """Find which of these things a sequence with steps of these kinds depends on."""

    circuit: Circuit
    name: str
    things: tuple[Thing, ...]
    kinds: tuple[str, ...]
    seconds: float


def work(job: Any, tell: Tell) -> Any:
    """One job, done in a process of its own: a Verdict, a Settled, or what `prove` asks for."""
    from airproof.engines.budget import Budget

    match job:
        case Another(circuit, name, known, seconds, steps):
            from airproof.analyses.others import another

            budget = Budget(seconds=seconds, progress=lambda _, at: tell(at))
            budget = budget if steps is None else replace(budget, steps=steps)
            return another(circuit, circuit.properties[name], known, budget, after=job.after)
        case Settle(circuit, name, things, kinds, seconds):
            from airproof.analyses.depending import settled

            prop, budget = circuit.properties[name], Budget(seconds=seconds)
            return settled(circuit, prop, things, kinds, budget)
    return task.work(job, tell)


@dataclass(slots=True)
class Replaying:
    """One property asked for its sequences.

    findings: what is wrong with the circuit's health, as far as that was looked at
    defects:  where airproof itself failed
    """

    asked: Asked
    told: Told
    work: Work = work
    findings: tuple[Finding, ...] = ()
    defects: list[str] = field(default_factory=list)

    @property
    def name(self) -> str:
        return self.asked.properties[0]

    def first(self) -> Verdict:
        """The verdict as `prove` has it; a sequence is enough, what holds is looked at wholly."""
        jobs = Jobs()
        quiet = replace(self.told, verdict=lambda verdict: None)
        collected = Collected(self.asked, quiet, jobs)
        try:
            with closing(run(jobs, self.work, self.asked.workers)) as events:
                for event in events:
                    collected.take(event)
                    if _settled(collected, self.name):
                        break
        except KeyboardInterrupt:
            pass
        self.told.over()
        gathered = collected.ended()
        self.findings = tuple(one for one in gathered.findings if one.weight == "error")
        self.defects += gathered.defects
        return gathered.verdicts[0]

    def another(
        self, known: tuple[Verdict, ...], apart: tuple[Deeds, ...] = (), *, after: int
    ) -> Verdict:
        """One that differs from all those, each of which has a sequence, and from those apart.

        after: the property takes more than so many steps to be decided
        """
        runs = tuple(one.sequence for one in known if one.sequence is not None)
        asked = self.asked
        job = Another(asked.circuit, self.name, (*runs, *apart), asked.seconds, asked.steps, after)
        answer = self._done(Job("another", job, asked.seconds))
        if isinstance(answer, Verdict):
            if answer.reason == "defect":
                self.defects.append(f"{self.name}: {answer.detail}")
            return answer
        return lost(self.name, answer)

    def _done(self, job: Job) -> Any:
        """The outcome of one job by itself, or how it was lost."""
        answer: Any = Lost(job.key, "interrupted", "")
        try:
            with closing(run(Jobs([job]), self.work, 1)) as events:
                for event in events:
                    if isinstance(event, Depth):
                        self.told.depth(event.key, event.depth)
                    else:
                        answer = event.outcome if isinstance(event, Done) else event
        except KeyboardInterrupt:
            pass
        self.told.over()
        if isinstance(answer, Lost) and answer.why == "raised":
            self.defects.append(f"{job.key}: {answer.detail}")
        return answer

    def exit_code(self, verdict: Verdict) -> int:
        """As `prove`'s, of this one property."""
        if self.defects or self.findings:
            return 2
        return {"breached": 1, "undecided": 3, "holds": 0}[verdict.word]


def _settled(collected: Collected, name: str) -> bool:
    """Told, and nothing that is still to come can take it back."""
    return name in collected.verdicts and name not in collected.untold


def lost(name: str, event: Lost) -> Verdict:
    """The verdict where the search for a sequence has no outcome."""
    return Verdict(name, "undecided", reason=why(event), detail=event.detail or None)


def why(lost: Lost) -> Reason:
    """The reason of a verdict for it."""
    reasons: dict[str, Reason] = {
        "interrupted": "interrupted",
        "overtime": "time limit",
        "raised": "defect",
    }
    return reasons.get(lost.why, "solver failed")
