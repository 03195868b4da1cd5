"""What each breach of a pack depends on, found side by side."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass

from airproof.circuit.kinds import Circuit
from airproof.cli.collecting import Told
from airproof.cli.replaying import Depend, work
from airproof.cli.workers import Depth, Done, Job, Jobs, Work, run
from airproof.evidence.dependence import Dependence
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
    """Asks of each breach with a sequence; what is lost or cut short by Ctrl-C is left out."""
    found: dict[str, Dependence] = {}
    defects: list[str] = []
    jobs = [
        Job(one.property, Depend(circuit, one.property, one.sequence, seconds), seconds)
        for one in verdicts
        if one.word == "breached" and one.sequence is not None
    ]
    try:
        with closing(run(Jobs(jobs), work, workers)) as events:
            for event in events:
                if isinstance(event, Depth):
                    told.depth(event.key, event.depth)
                elif isinstance(event, Done):
                    found[event.key] = event.outcome
                elif event.why == "raised":
                    defects.append(f"what {event.key} depends on: {event.detail}")
    except KeyboardInterrupt:
        pass
    told.over()
    return Depending(found, tuple(defects))
