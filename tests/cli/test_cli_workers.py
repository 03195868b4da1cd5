"""Workers: one process for each job, and what a lost one costs."""

from __future__ import annotations

import os
import signal
import subprocess
import threading
from contextlib import closing
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from airproof.circuit.kinds import Band, Circuit, Device
from airproof.circuit.properties import Never, Property
from airproof.cli import workers
from airproof.cli.collecting import Asked, Collected, Gathered, Told
from airproof.cli.confronting import PARTS, RUNS
from airproof.cli.proving import gather
from airproof.cli.task import HEALTH, Confront, Confronted, Explain
from airproof.cli.workers import Depth, Done, Job, Jobs, Lost, run
from airproof.evidence.certificate import Invariant
from airproof.evidence.verdict import Verdict
from circuit.small import is_
from cli.works import SICK, act, judge

ONE = Fraction(1)


def jobs(*whats: str, seconds: float = 60) -> Jobs:
    return Jobs(Job(what, what, seconds) for what in whats)


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


def test_one_process_does_one_job_after_another() -> None:
    """As many processes as workers, whatever the number of jobs."""
    jobs = Jobs(Job(str(i), "who", 60) for i in range(7))
    processes = {event.outcome for event in run(jobs, act, 2) if isinstance(event, Done)}
    assert len(processes) <= 2


@pytest.mark.parametrize("trouble", ["die", "raise", "memory", "solver", "sleep"])
def test_after_trouble_a_fresh_process_goes_on(
    trouble: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a lost job left behind is met by no other job."""
    monkeypatch.setattr(workers, "OVERTIME", 1.0)
    whats = ["who", trouble, "who", "who"]
    jobs = Jobs(Job(str(i), what, 0.5) for i, what in enumerate(whats))
    ended = [event for event in run(jobs, act, 1) if not isinstance(event, Depth)]
    assert [type(event) for event in ended] == [Done, Lost, Done, Done]
    first, _, then, last = (event.outcome if isinstance(event, Done) else None for event in ended)
    assert first != then == last


def test_a_process_that_ends_between_jobs_costs_none() -> None:
    """The next job had not been taken up: it goes to another process."""
    ended = [event for event in run(jobs("faint", "well"), act, 1) if not isinstance(event, Depth)]
    assert ended == [Done("faint", "FAINT"), Done("well", "WELL")]


def test_a_program_that_never_starts_is_no_endless_loop(monkeypatch: pytest.MonkeyPatch) -> None:
    """A process that ends before its first job loses that job."""
    monkeypatch.setattr(workers, "PROGRAM", "raise SystemExit(4)")
    ended = list(run(jobs("well", "who"), act, 1))
    assert ended == [
        Lost(key, "crashed", "its process ended with code 4", 0) for key in ("well", "who")
    ]


# ---- jobs that follow others


def test_jobs_may_follow() -> None:
    """Whoever hears of an outcome may add jobs, at the end or before those that wait."""
    todo, keys = jobs("a", "b"), []
    for event in run(todo, act, 1):
        if isinstance(event, Done):
            keys.append(event.key)
            if event.key == "a":
                todo.add(jobs("c"))
                todo.add(jobs("d", "e"), next_up=True)
    assert keys == ["a", "d", "e", "b", "c"]


def test_a_dropped_job_is_ended_and_never_told() -> None:
    """Of two that run beside each other one can make the other needless, a waiting one too."""
    todo, heard = jobs("sleep", "well", "never begun", "last"), list[str]()
    for event in run(todo, act, 2):
        if isinstance(event, Done):
            heard.append(event.key)
            todo.drop(["sleep", "never begun"])
    assert heard == ["well", "last"]


def test_no_process_is_left_behind() -> None:
    """Closing the loop early ends the processes that still run."""
    begun: list[subprocess.Popen[bytes]] = []

    class Noted(subprocess.Popen[bytes]):
        def __init__(self, *args: Any, **more: Any) -> None:
            super().__init__(*args, **more)
            begun.append(self)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(subprocess, "Popen", Noted)
        with closing(run(Jobs([Job("a", "sleep", 60), Job("b", "sleep", 60)]), act, 2)) as events:
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
    collected = Collected(
        asked("well", "holds", "breached"),
        Told(verdict=lambda verdict: told.append(verdict.property)),
        Jobs(),
    )
    collected.take(Done("p0", Verdict("p0", "holds", "any speed")))
    collected.take(Done("p1", Verdict("p1", "breached", "for some sizes")))
    assert told == ["p1"]
    collected.take(Done(HEALTH, ()))
    assert told == ["p1", "p0"]


# ---- proofs held against random runs


def test_a_proof_that_a_run_leaves_is_a_defect() -> None:
    """A find there withholds that `holds` alone, loudly."""
    gathered = gather(asked("well", "proved, strays", "proved"), Told(), judge)
    assert summary(gathered) == [("undecided", "defect"), ("holds", None)]
    assert gathered.verdicts[0].certificate is None
    assert gathered.defects == ("p0: it strays",)
    assert gathered.exit_code == 2


def test_runs_cut_short_are_counted() -> None:
    """The limit came first: the verdict says how many runs its proof was held against."""
    for words, met in [
        (("proved",), None),
        (("proved, cut", "proved"), RUNS // 2),
        (("proved, dies", "breached"), 0),
    ]:
        gathered = gather(asked("well", *words), Told(), judge)
        assert gathered.verdicts[0].word == "holds"
        assert gathered.verdicts[0].met == met
        assert gathered.verdicts[-1].met == (met if len(words) == 1 or "prov" in words[1] else None)


def test_a_failure_while_runs_are_met_is_a_defect() -> None:
    """Where airproof itself fails, no proof that was to be held against those runs stands."""
    gathered = gather(asked("well", "proved, raises", "proved", "breached"), Told(), judge)
    assert summary(gathered) == [("undecided", "defect")] * 2 + [("breached", None)]
    assert gathered.exit_code == 2


def test_a_failure_to_explain_a_proof_is_loud() -> None:
    """What it leans on is then unknown; the proof stands, and the defect is told."""
    gathered = gather(asked("well", "proved, unexplained"), Told(), judge)
    assert summary(gathered) == [("holds", None)]
    assert gathered.verdicts[0].leans is None
    assert gathered.defects[0].startswith("what p0 leans on: KeyError")


def test_a_holds_waits_for_its_random_runs() -> None:
    """It is told once every part has ended; each start is confronted apart, once all is judged."""
    asking = asked("well", "proved", "proved")
    second = replace(asking.circuit.properties["p1"], start="charged")
    circuit = replace(asking.circuit, properties={**asking.circuit.properties, "p1": second})
    told: list[str] = []
    todo = Jobs()
    collected = Collected(
        replace(asking, circuit=circuit),
        Told(verdict=lambda verdict: told.append(verdict.word)),
        todo,
    )
    collected.take(Done(HEALTH, ()))
    proved = Verdict("p0", "holds", "any speed", certificate=Invariant(()))
    collected.take(Done("p0", proved))
    parts = [job for job in todo if isinstance(job.data, Confront)]
    [leans] = [job for job in todo if isinstance(job.data, Explain)]
    assert len({job.key for job in parts}) == PARTS
    collected.take(Done(leans.key, proved))
    for job in parts:
        assert (told, job.data.claims) == ([], {"p0": Invariant(())})
        collected.take(Done(job.key, Confronted(RUNS // PARTS)))
    assert told == ["holds"]
    collected.take(Done("p1", Verdict("p1", "undecided", reason="needs sizes")))
    assert told == ["holds", "undecided"]


def test_an_interruption_before_the_runs_are_met_says_so() -> None:
    """Ctrl-C after a proof was discharged: it holds, and a note says what was left out."""
    collected = Collected(asked("well", "proved", "sleep"), Told(), Jobs())
    collected.take(Done(HEALTH, ()))
    collected.take(Done("p0", Verdict("p0", "holds", "any speed", certificate=Invariant(()))))
    gathered = collected.ended()
    assert summary(gathered) == [("holds", None), ("undecided", "interrupted")]
    assert gathered.verdicts[0].met == 0


# ---- asked again with slow devices


def with_devices(asking: Asked, *kinds: str) -> Asked:
    """The same with devices that move at once; a device's kind says what it is like when slow."""
    devices = {kind: Device(kind, kind, ("a", "b"), (), ("a",)) for kind in kinds}
    return replace(asking, circuit=replace(asking.circuit, devices=devices))


def again(gathered: Gathered, index: int = 0) -> list[tuple[str | None, str, str | None]]:
    return [(one.device, one.word, one.reason) for one in gathered.verdicts[index].retried]


@pytest.mark.parametrize("count", [1, 2])
def test_what_holds_is_asked_again(count: int) -> None:
    """With each device that moves at once, then in an instant; that changes no verdict."""
    asking = with_devices(asked("well", "proved", "breached", count=count), "quick", "patient")
    moving = replace(asking.circuit.devices["quick"], name="timed", moving=Band(ONE, ONE))
    devices = {**asking.circuit.devices, "timed": moving}
    asking = replace(asking, circuit=replace(asking.circuit, devices=devices))
    told: list[str] = []
    gathered = gather(asking, Told(further=told.append), judge)
    assert summary(gathered) == [("holds", None), ("breached", None)]
    assert again(gathered) == [
        ("quick", "breached", None),
        ("patient", "holds", None),
        (None, "breached", None),
    ]
    assert again(gathered, 1) == []
    assert told[-1] == "asked again with a slow device: 3 of 3"
    assert gathered.exit_code == 1


def test_nothing_is_asked_again_where_health_is_wrong() -> None:
    """What is not reported as holding needs no remark."""
    gathered = gather(with_devices(asked("sick", "proved"), "quick"), Told(), judge)
    assert again(gathered) == []


def test_a_lost_question_costs_no_verdict() -> None:
    """A crash there leaves that one question open."""
    gathered = gather(with_devices(asked("well", "proved"), "die", "patient"), Told(), judge)
    assert again(gathered)[:2] == [
        ("die", "undecided", "solver failed"),
        ("patient", "holds", None),
    ]
    assert gathered.exit_code == 0


def test_a_failure_of_airproof_there_is_loud() -> None:
    """The verdict stays, and the defect is told."""
    gathered = gather(with_devices(asked("well", "proved"), "raise"), Told(), judge)
    assert summary(gathered) == [("holds", None)]
    assert gathered.defects[0].startswith("p0, raise slow: KeyError")


def test_the_time_for_all_of_them_is_bounded() -> None:
    """One that used all the time leaves none to those behind it, and that is said."""
    asking = with_devices(asked("well", "proved", count=1), "patient", "greedy", "quick", "die")
    assert again(gather(asking, Told(), judge)) == [
        ("patient", "holds", None),
        ("greedy", "holds", None),
        ("quick", "undecided", "time limit"),
        ("die", "undecided", "time limit"),
        (None, "undecided", "time limit"),
    ]


def test_an_interruption_there_leaves_every_verdict() -> None:
    """Ctrl-C while devices are slow: the verdicts stand, and what was not asked is said."""
    asking = with_devices(asked("well", "proved", count=1), "quick", "sleep", "patient")

    def interrupt(_: str) -> None:
        threading.Timer(1.0, os.kill, (os.getpid(), signal.SIGINT)).start()

    gathered = gather(asking, Told(further=interrupt), judge)
    assert summary(gathered) == [("holds", None)]
    assert again(gathered) == [
        ("quick", "breached", None),
        ("sleep", "undecided", "interrupted"),
        ("patient", "undecided", "interrupted"),
        (None, "undecided", "interrupted"),
    ]


# ---- Ctrl-C


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
