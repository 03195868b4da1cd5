"""Workers: one process for each job, and what a lost one costs."""

from __future__ import annotations

import os
import signal
import subprocess
import threading
from contextlib import closing
from typing import Any

import pytest

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Never, Property
from airproof.cli import workers
from airproof.cli.proving import Asked, Gathered, Told, _Collected, gather
from airproof.cli.task import HEALTH
from airproof.cli.workers import Depth, Done, Job, Lost, run
from airproof.evidence.verdict import Verdict
from circuit.small import is_
from cli.works import SICK, act, judge


def jobs(*whats: str, seconds: float = 60) -> list[Job]:
    return [Job(what, what, seconds) for what in whats]


def ends(*whats: str, workers: int = 2) -> dict[str, Done | Lost]:
    return {
        event.key: event
        for event in run(jobs(*whats), act, workers)
        if not isinstance(event, Depth)
    }


# ---- workers


def test_jobs_tell_depth_and_outcome() -> None:
    """A job's depth comes before its outcome, and what it prints is dropped."""
    assert list(run(jobs("chatter"), act, 1)) == [Depth("chatter", 7), Done("chatter", "CHATTER")]


def test_a_lost_job_costs_no_other() -> None:
    """Killed, ended, raising, without memory: each is lost alone, with its reason and depth."""
    got = ends("die", "well", "leave", "raise", "memory", "solver")
    assert got["well"] == Done("well", "WELL")
    assert got["die"] == Lost("die", "crashed", "its process was ended by SIGKILL", 7)
    assert got["leave"] == Lost("leave", "crashed", "its process ended with code 9", 7)
    assert got["memory"] == Lost("memory", "memory", "it ran out of memory", 7)
    assert isinstance(got["raise"], Lost)
    assert got["raise"].why == "raised"
    assert got["raise"].detail.startswith("KeyError: 'nothing here' (works.py, line ")
    assert isinstance(got["solver"], Lost)
    assert got["solver"].why == "solver"


def test_a_job_over_its_time_is_killed(monkeypatch: pytest.MonkeyPatch) -> None:
    """A job that does not keep its own limit is ended some time after it."""
    monkeypatch.setattr(workers, "OVERTIME", 1.0)
    [depth, lost] = run(jobs("sleep", seconds=0.5), act, 1)
    assert depth == Depth("sleep", 7)
    assert lost == Lost("sleep", "overtime", "", 7)


def test_no_process_is_left_behind() -> None:
    """Closing the loop early ends the processes that still run."""
    begun: list[subprocess.Popen[bytes]] = []

    class Noted(subprocess.Popen[bytes]):
        def __init__(self, *args: Any, **more: Any) -> None:
            super().__init__(*args, **more)
            begun.append(self)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(subprocess, "Popen", Noted)
        with closing(run([Job("a", "sleep", 60), Job("b", "sleep", 60)], act, 2)) as events:
            next(events)
    assert [process.returncode for process in begun] == [-signal.SIGKILL] * 2


# ---- gathering


def asked(health: str, *words: str, count: int = 2) -> Asked:
    listed = {f"p{i}": Property(f"p{i}", w, Never(is_("m", ">", 1))) for i, w in enumerate(words)}
    return Asked(Circuit("c", health, properties=listed), tuple(listed), 60, 11, count)


def summary(gathered: Gathered) -> list[tuple[str, str | None]]:
    return [(verdict.word, verdict.reason) for verdict in gathered.verdicts]


@pytest.mark.parametrize(
    ("health", "words", "code"),
    [
        ("well", ("holds", "holds"), 0),
        ("well", ("holds", "breached", "undecided"), 1),
        ("well", ("holds", "undecided"), 3),
        ("sick", ("holds",), 2),
        ("sick", ("breached",), 2),
        ("well", ("breached", "raise"), 2),
        ("well", ("holds", "die"), 3),
        ("die", ("holds",), 3),
    ],
)
def test_exit_codes(health: str, words: tuple[str, ...], code: int) -> None:
    """0 all hold, 1 one breached, 2 health wrong or airproof at fault, 3 one undecided."""
    assert gather(asked(health, *words), Told(), judge).exit_code == code


def test_a_crash_leaves_the_others() -> None:
    """A killed worker makes its property undecided; the others keep their verdicts, in order."""
    gathered = gather(asked("well", "breached", "die", "holds"), Told(), judge)
    assert summary(gathered) == [
        ("breached", None),
        ("undecided", "solver failed"),
        ("holds", None),
    ]
    assert gathered.verdicts[1].depth == 7
    assert gathered.defects == ()


@pytest.mark.parametrize("count", [1, 2])
def test_a_wrong_health_withholds_every_holds(count: int) -> None:
    """With a health error nothing is reported as `holds`, a breach stays one."""
    gathered = gather(asked("sick", "holds", "breached", count=count), Told(), judge)
    assert summary(gathered) == [("undecided", "unhealthy"), ("breached", None)]
    assert gathered.verdicts[0].detail == "chatter"
    assert gathered.findings == (SICK,)


def test_an_unknown_health_withholds_every_holds() -> None:
    """If health could not be examined a proof is not relied upon, and that is said."""
    gathered = gather(asked("die", "holds"), Told(), judge)
    assert summary(gathered) == [("undecided", "solver failed")]
    [finding] = gathered.findings
    assert (finding.weight, finding.code) == ("warning", "not examined")


@pytest.mark.parametrize("word", ["raise", "disagreement"])
def test_a_defect_is_loud(word: str) -> None:
    """An error of airproof, or two accounts that disagree, is a defect: exit code 2."""
    gathered = gather(asked("well", word, "holds"), Told(), judge)
    assert summary(gathered) == [("undecided", "defect"), ("holds", None)]
    assert len(gathered.defects) == 1
    assert gathered.exit_code == 2


def test_verdicts_come_as_they_are_found() -> None:
    """Each verdict is told once, in the order found; with one worker health comes first."""
    told: list[Verdict] = []
    gather(asked("well", "holds", "breached", count=1), Told(verdict=told.append), judge)
    assert [(one.property, one.word) for one in told] == [("p0", "holds"), ("p1", "breached")]


def test_a_holds_waits_for_health() -> None:
    """While health is not known a `holds` is not told, a breach is."""
    told: list[str] = []
    collected = _Collected(Told(verdict=lambda verdict: told.append(verdict.property)))
    collected.take(Done("p0", Verdict("p0", "holds", "any speed")))
    collected.take(Done("p1", Verdict("p1", "breached", "for some sizes")))
    assert told == ["p1"]
    collected.take(Done(HEALTH, ()))
    assert told == ["p1", "p0"]


def test_an_interruption_leaves_what_was_found() -> None:
    """Ctrl-C ends the search; what was found stays, the rest is undecided: interrupted."""
    told: list[Verdict] = []

    def interrupt(verdict: Verdict) -> None:
        told.append(verdict)
        threading.Timer(0.1, os.kill, (os.getpid(), signal.SIGINT)).start()

    asking = asked("well", "breached", "sleep", "sleep", count=2)
    gathered = gather(asking, Told(verdict=interrupt), judge)
    assert summary(gathered) == [
        ("breached", None),
        ("undecided", "interrupted"),
        ("undecided", "interrupted"),
    ]
    assert gathered.exit_code == 1


def test_an_interruption_before_health_is_known_withholds_holds() -> None:
    """A proof without a known health is not claimed when Ctrl-C cuts health short."""
    asking = asked("sleep", "breached", "holds", count=3)

    def interrupt(verdict: Verdict) -> None:
        threading.Timer(2.0, os.kill, (os.getpid(), signal.SIGINT)).start()

    gathered = gather(asking, Told(verdict=interrupt), judge)
    assert summary(gathered) == [("breached", None), ("undecided", "interrupted")]
