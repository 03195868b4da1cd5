"""What each breach depends on, found side by side."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass, field

from airproof.analyses.asking import Questions, questions
from airproof.circuit.kinds import Circuit
from airproof.cli.collecting import Told
from airproof.cli.replaying import Settle, why, work
from airproof.cli.workers import Depth, Done, Job, Jobs, Lost, Work, run
from airproof.evidence.dependence import Dependence, Settled
from airproof.evidence.verdict import Verdict


@dataclass(frozen=True, slots=True)
class Depending:
    """What was found out, by property, and where airproof itself failed."""

    found: Mapping[str, Dependence]
    defects: tuple[str, ...]


def depending(
    circuit: Circuit,
    verdicts: tuple[Verdict, ...],
    seconds: float,
    workers: int,
    told: Told,
    work: Work = work,
) -> Depending:
    """Asks of each verdict with a sequence; what is lost or cut short by Ctrl-C is left open.

    A property that was not even asked about by then is left out.
    """
    asked: list[_Asked] = []
    try:
        for one in verdicts:
            if one.sequence is not None:
                about = questions(circuit, circuit.properties[one.property], one.sequence)
                asked.append(_Asked(one.property, about))
        jobs = {job.key: (job, one) for one in asked for job in one.jobs(circuit, seconds)}
        with closing(run(Jobs(job for job, _ in jobs.values()), work, workers)) as events:
            for event in events:
                if not isinstance(event, Depth):
                    jobs[event.key][1].take(event)
    except KeyboardInterrupt:
        pass
    told.over()
    return Depending(
        {one.name: one.dependence() for one in asked},
        tuple(defect for one in asked for defect in one.defects),
    )


@dataclass(slots=True)
class _Asked:
    """What was asked about one property's sequence, and the answers so far."""

    name: str
    questions: Questions
    answers: dict[str, Settled] = field(default_factory=dict)
    defects: list[str] = field(default_factory=list)

    def jobs(self, circuit: Circuit, seconds: float) -> list[Job]:
        """One for each piece; until it is answered it counts as interrupted."""
        jobs = [
            Job(
                f"what {self.name} depends on, {number}",
                Settle(circuit, self.name, things, self.questions.kinds, seconds),
                seconds,
            )
            for number, things in enumerate(self.questions.pieces(), start=1)
        ]
        self.answers = {job.key: Settled(why="interrupted") for job in jobs}
        return jobs

    def take(self, event: Done | Lost) -> None:
        if isinstance(event, Done):
            self.answers[event.key] = event.outcome
            return
        self.answers[event.key] = Settled(why=why(event))
        if event.why == "raised":
            self.defects.append(f"{event.key}: {event.detail}")

    def dependence(self) -> Dependence:
        return self.questions.answered(self.answers.values())
