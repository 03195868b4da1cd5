"""What the properties of one start share is found once, before they are tried."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from airproof.circuit.cone import cone
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import TIMED, Never, Possible
from airproof.cli.task import Prime, Task
from airproof.cli.workers import Done, Job, Lost
from airproof.evidence.given import Given

FEW = 2  # properties that make it worth while


@dataclass(slots=True)
class Priming:
    """Properties by the key of the job that they wait for.

    One that depends on a part of the circuit only waits for nothing: what is
    known of the whole would cost it more than its own proof.
    """

    circuit: Circuit
    seconds: float
    steps: int | None
    waiting: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def first(self, names: Iterable[str]) -> Iterator[Job]:
        """The jobs to begin with, the longest first as far as that can be guessed."""
        groups: dict[str | None, list[str]] = {}
        alone: list[str] = []
        for name in sorted(names, key=self._shortness):
            prop = self.circuit.properties[name]
            whole = cone(self.circuit, prop) is self.circuit
            (groups.setdefault(prop.start, []) if whole else alone).append(name)
        for start, group in groups.items():
            if len(group) < FEW:
                alone.extend(group)
                continue
            key = f"facts from {start}" if start else "facts"
            self.waiting[key] = tuple(group)
            yield Job(key, Prime(self.circuit, start, self.seconds), self.seconds)
        yield from (self._job(name, None) for name in alone)

    def ended(self, event: Done | Lost) -> list[Job] | None:
        """The jobs that waited for it, with what was found; None if nothing did."""
        if event.key not in self.waiting:
            return None
        known = event.outcome if isinstance(event, Done) else None
        return [self._job(name, known) for name in self.waiting.pop(event.key)]

    def _shortness(self, name: str) -> int:
        """A run that leads somewhere is mostly longer to find than a proof."""
        sentence = self.circuit.properties[name].sentence
        if isinstance(sentence, (Possible, *TIMED)):
            return 0
        return 2 if isinstance(sentence, Never) else 1

    def _job(self, name: str, known: Given | None) -> Job:
        return Job(name, Task(self.circuit, name, self.seconds, self.steps, known), self.seconds)
