"""Which proofs are still to be asked what they lean on, and what came of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from airproof.circuit.kinds import Circuit
from airproof.cli.task import Explain
from airproof.cli.workers import Done, Job, Lost
from airproof.evidence.verdict import Verdict


@dataclass(slots=True)
class Explaining:
    """The proofs asked, by the key of their job.

    answers: each verdict with what it leans on, or as it was where that was not found out
    defects: where airproof itself failed in finding out; no proof is worse for it
    """

    circuit: Circuit
    seconds: float
    asked: dict[str, Verdict] = field(default_factory=dict)
    answers: dict[str, Verdict] = field(default_factory=dict)
    defects: list[str] = field(default_factory=list)

    def due(self, verdicts: Mapping[str, Verdict]) -> list[Job]:
        """The jobs for proofs that were not there when this was last asked."""
        known = {verdict.property for verdict in self.asked.values()}
        return [*self._called(v for v in verdicts.values() if v.property not in known)]

    def _called(self, verdicts: Iterable[Verdict]) -> Iterable[Job]:
        for verdict in verdicts:
            if verdict.certificate is not None:
                key = f"what {verdict.property} leans on"
                self.asked[key] = verdict
                yield Job(key, Explain(self.circuit, verdict), self.seconds)

    def ended(self, event: Done | Lost) -> bool:
        """Takes note of an answer; whether the event was one."""
        if event.key not in self.asked:
            return False
        verdict = self.asked[event.key]
        if isinstance(event, Done):
            verdict = event.outcome
        elif event.why == "raised":
            self.defects.append(f"{event.key}: {event.detail}")
        self.answers[verdict.property] = verdict
        return True

    def judged(self, verdict: Verdict) -> Verdict:
        """The verdict with what it leans on, if that is known."""
        return self.answers.get(verdict.property, verdict)
