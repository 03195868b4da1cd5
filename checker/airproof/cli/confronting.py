"""Which proofs are still to be held against random runs, and what came of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from airproof.circuit.kinds import Circuit
from airproof.cli.task import Confront, Confronted
from airproof.cli.workers import Done, Job, Lost
from airproof.evidence.verdict import Verdict

RUNS = 1000  # random runs that each proof meets
PARTS = 2  # jobs they are shared between, however many workers there are
SEED = 20261124


@dataclass(slots=True)
class Meeting:
    """The proofs of properties with one start, and the parts of their confrontation.

    left: keys of the parts that have not ended
    runs: met in those that have
    cut:  not all that were wanted
    """

    names: tuple[str, ...]
    left: set[str]
    runs: int = 0
    cut: bool = False
    faults: dict[str, str] = field(default_factory=dict)


@dataclass(slots=True)
class Confronting:
    """The meetings, by start; a start has none before all its properties are judged."""

    circuit: Circuit
    seconds: float
    meetings: dict[str | None, Meeting] = field(default_factory=dict)

    def due(self, names: Iterable[str], verdicts: Mapping[str, Verdict]) -> list[Job]:
        """The jobs for each start whose properties, of these names, are all judged by now."""
        groups: dict[str | None, list[str]] = {}
        for name in names:
            groups.setdefault(self.circuit.properties[name].start, []).append(name)
        return [
            job
            for start, group in groups.items()
            if start not in self.meetings and verdicts.keys() >= set(group)
            for job in self._called(start, [verdicts[name] for name in group])
        ]

    def _called(self, start: str | None, verdicts: Iterable[Verdict]) -> list[Job]:
        claims = {v.property: v.certificate for v in verdicts if v.certificate is not None}
        words = f"random runs from {start}" if start else "random runs"
        jobs = [
            Job(
                f"{words}, part {part + 1}",
                Confront(self.circuit, claims, RUNS // PARTS, SEED + part, self.seconds),
                self.seconds,
            )
            for part in range(PARTS if claims else 0)
        ]
        self.meetings[start] = Meeting(tuple(claims), {job.key for job in jobs})
        return jobs

    def ended(self, event: Done | Lost) -> bool:
        """Takes note of a part; whether the event was one."""
        for meeting in self.meetings.values():
            if event.key in meeting.left:
                meeting.left.remove(event.key)
                _noted(meeting, event)
                return True
        return False

    def over(self, verdict: Verdict) -> bool:
        """Nothing more is to come of it for this verdict."""
        if verdict.certificate is None:
            return True
        meeting = self.meetings.get(self.circuit.properties[verdict.property].start)
        return meeting is not None and not meeting.left

    def judged(self, verdict: Verdict) -> Verdict:
        """The verdict with what its confrontation says, as far as that went."""
        if verdict.certificate is None:
            return verdict
        meeting = self.meetings.get(self.circuit.properties[verdict.property].start)
        if meeting is None:
            return replace(verdict, met=0)
        if (fault := meeting.faults.get(verdict.property)) is not None:
            return replace(
                verdict,
                word="undecided",
                strength=None,
                reason="defect",
                detail=fault,
                certificate=None,
            )
        return replace(verdict, met=meeting.runs) if meeting.cut or meeting.left else verdict


def _noted(meeting: Meeting, event: Done | Lost) -> None:
    """A part that was lost counts no runs; if airproof itself failed in it no proof stands."""
    if isinstance(event, Done):
        outcome: Confronted = event.outcome
        meeting.runs += outcome.runs
        meeting.cut |= outcome.cut
        meeting.faults |= outcome.faults
        return
    meeting.cut = True
    if event.why == "raised":
        meeting.faults |= dict.fromkeys(meeting.names, event.detail)
