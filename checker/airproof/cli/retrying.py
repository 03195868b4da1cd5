"""Which properties that hold are asked again with a slow device, and what came of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from airproof.circuit.kinds import Circuit
from airproof.circuit.slow import passing, quick_devices
from airproof.cli.task import Again, Retry
from airproof.cli.workers import Done, Job, Lost
from airproof.evidence.verdict import Reason, Retried, Verdict

SHARE = 2.0  # of the limit of a property: what all retries together may take, worker by worker
LONGEST = 30.0  # [s] for one of them


@dataclass(slots=True)
class Retrying:
    """The retries, by key.

    asked: every retry there is, once it is known what holds; None before
    spent: [s] of the workers
    """

    circuit: Circuit
    seconds: float
    steps: int | None
    asked: dict[str, Retry] | None = None
    answers: dict[str, Retried] = field(default_factory=dict)
    spent: float = 0.0

    def due(self, verdicts: Iterable[Verdict]) -> list[Job]:
        """The jobs for verdicts of which none is still to come; asked for once."""
        limit = min(LONGEST, self.seconds)
        self.asked = {
            _key(verdict.property, device): Retry(self.circuit, verdict, device, limit, self.steps)
            for verdict in verdicts
            for device in self._questions(verdict)
        }
        return [Job(key, retry, limit) for key, retry in self.asked.items()]

    def _questions(self, verdict: Verdict) -> Iterator[str | None]:
        """Each device that moves at once, then (None) instants."""
        if verdict.word != "holds" or verdict.certificate is None:
            return
        yield from quick_devices(self.circuit)
        if passing(self.circuit.properties[verdict.property]):
            yield None

    def ended(self, event: Done | Lost, reasons: Mapping[str, Reason]) -> bool:
        """Takes note of an answer; whether the event was one."""
        if self.asked is None or event.key not in self.asked:
            return False
        if isinstance(event, Done):
            outcome: Again = event.outcome
            self.answers[event.key] = outcome.answer
            self.spent += outcome.seconds
        else:
            retry = self.asked[event.key]
            self.spent += retry.seconds if event.why == "overtime" else 0
            reason = reasons[event.why]
            self.answers[event.key] = Retried(
                retry.device, "undecided", reason, event.detail or None
            )
        return True

    def given_up(self) -> list[str]:
        """The keys of those that are left when all the time is spent; each is given up once."""
        if self.spent <= SHARE * self.seconds:
            return []
        left = [key for key in self.asked or {} if key not in self.answers]
        self._unanswered(left, "time limit")
        return left

    def _unanswered(self, keys: Iterable[str], reason: Reason) -> None:
        for key in keys:
            device = (self.asked or {})[key].device
            self.answers[key] = Retried(device, "undecided", reason)

    def progress(self) -> str:
        """How far it is, for people."""
        return f"asked again with a slow device: {len(self.answers)} of {len(self.asked or {})}"

    def told(self, verdict: Verdict) -> Verdict:
        """The verdict with every answer; what is still without one was interrupted."""
        retried = tuple(
            self.answers.get(_key(verdict.property, device))
            or Retried(device, "undecided", "interrupted")
            for device in self._questions(verdict)
        )
        return replace(verdict, retried=retried)


def _key(name: str, device: str | None) -> str:
    return f"{name}, {device} slow" if device else f"{name}, even for an instant"
