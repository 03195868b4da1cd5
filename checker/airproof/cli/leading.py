"""What has a time in it waits for the run that it is gone on from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from airproof.circuit.kinds import Circuit
from airproof.circuit.leading import leader
from airproof.cli.task import Task
from airproof.cli.workers import Done, Job, Lost
from airproof.evidence.given import Led
from airproof.evidence.verdict import Verdict


@dataclass(slots=True)
class Leading:
    """The jobs that wait, by the property that leads them; only one asked for leads."""

    circuit: Circuit
    asked: frozenset[str]
    waiting: dict[str, list[Job]] = field(default_factory=dict)
    runs: dict[str, Led] = field(default_factory=dict)

    def ready(self, jobs: Iterable[Job]) -> list[Job]:
        """Those that wait for nothing, or whose leader is judged; the others are kept back."""
        return [job for one in jobs if (job := self._ready(one)) is not None]

    def _ready(self, job: Job) -> Job | None:
        prop = self.circuit.properties.get(job.key)
        name = prop and leader(self.circuit, prop)
        if name is None or name not in self.asked or not isinstance(job.data, Task):
            return job
        if name not in self.runs:
            self.waiting.setdefault(name, []).append(job)
            return None
        return replace(job, data=replace(job.data, led=self.runs[name]))

    def ended(self, event: Done | Lost) -> list[Job]:
        """The jobs that waited for this property."""
        if event.key not in self.asked:
            return []
        verdict = event.outcome if isinstance(event, Done) else None
        run = verdict.sequence if isinstance(verdict, Verdict) else None
        self.runs[event.key] = Led(run)
        return self.ready(self.waiting.pop(event.key, []))
