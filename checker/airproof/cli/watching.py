"""Whether a watcher could tell two circuits apart, found out by a worker."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass
from typing import Any

from airproof.circuit.kinds import Circuit
from airproof.circuit.sight import sight_of
from airproof.cli.collecting import Told
from airproof.cli.workers import Done, Job, Jobs, Lost, Tell, Work, run
from airproof.evidence.difference import Apart, Doubt, Showing
from airproof.evidence.sequence import Sequence

KEY = "what a watcher could see"

_DOUBTS: dict[str, Doubt] = {"overtime": "time limit", "raised": "defect"}


@dataclass(frozen=True, slots=True)
class Watch:
    """Find out what only one of the circuits lets a watcher see.

    shown, gone: runs of the new and of the old circuit that are worth a look
    """

    old: Circuit
    new: Circuit
    seconds: float
    shown: tuple[Sequence, ...] = ()
    gone: tuple[Sequence, ...] = ()


@dataclass(frozen=True, slots=True)
class Watched:
    """What was found out; a line for each defect of airproof; whether Ctrl-C cut it short."""

    apart: Apart
    defects: tuple[str, ...] = ()
    interrupted: bool = False


def work(job: Any, tell: Tell) -> Apart:
    """The job, done in a process of its own."""
    from airproof.analyses.apart import Hints, apart
    from airproof.engines.budget import Budget

    asked: Watch = job
    hints = Hints(asked.shown, asked.gone)
    return apart(asked.old, asked.new, Budget(seconds=asked.seconds), hints=hints)


def watched(watch: Watch, told: Told, work: Work = work) -> Watched:
    """What a worker says, or why it says nothing."""
    told.further(KEY)
    jobs = Jobs([Job(KEY, watch, watch.seconds)])
    try:
        with closing(run(jobs, work, 1)) as events:
            for event in events:
                if isinstance(event, Done):
                    return _checked(event.outcome)
                if isinstance(event, Lost):
                    why = _DOUBTS.get(event.why, "solver failed")
                    return Watched(_unknown(watch, why), _lost(event))
    except KeyboardInterrupt:
        pass
    finally:
        told.over()
    return Watched(_unknown(watch, "interrupted"), interrupted=True)


def _lost(event: Lost) -> tuple[str, ...]:
    return (f"{event.key}: {event.detail}",) if event.why == "raised" else ()


def _checked(apart: Apart) -> Watched:
    """A find that does not stand up to its own check is a defect of airproof."""
    faulty = [word for word in ("new", "gone") if getattr(apart, word).reason == "defect"]
    said = tuple(f"{KEY}: what was found ({word}) fails its own check" for word in faulty)
    return Watched(apart, said)


def unwatched(old: Circuit, new: Circuit) -> Apart:
    """As if Ctrl-C had come before."""
    return _unknown(Watch(old, new, 0.0), "interrupted")


def _unknown(watch: Watch, why: Doubt) -> Apart:
    unknown = Showing("undecided", reason=why)
    return Apart(sight_of(watch.old, watch.new), unknown, unknown)
