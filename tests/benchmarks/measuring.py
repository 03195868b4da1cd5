"""One engine on one case in a process of its own, within limits of time and memory.

The process is a copy of this one, in which everything is imported and the
circuits are loaded, so that neither counts for anybody. Its limit is processor
time: what else the machine does makes a run wait, and nobody is charged for it.
"""

from __future__ import annotations

import multiprocessing
import resource
import signal
import statistics
import time
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from multiprocessing.connection import Connection
from typing import Literal

from benchmarks.cases import Case, loaded
from benchmarks.clocks import clocked
from benchmarks.contenders import AIRPROOF, Answer, Asked, Contender

How = Literal["answered", "out of time", "failed", "not run"]

MEMORY = 3 << 30  # bytes of address space
WAIT = 25.0  # times the limit in wall time, before the process is ended from outside
GRACE = 5.0  # [s] of wall time beyond that
SHORT = 0.25  # [s]: what takes less is measured thrice
REPEATS = 3
LONG = 1.0  # [s]: a run of airproof above it is made once more with timers in place


@dataclass(frozen=True, slots=True)
class Run:
    """One engine's answer.

    wall, cpu: medians of the time that passed and of the processor's, user and system [s]
    parts:     what the wall time of a long run of airproof went into [s]
    """

    answer: Answer
    wall: float
    cpu: float
    parts: Mapping[str, float] = field(default_factory=dict)
    failure: str = ""


@dataclass(frozen=True, slots=True)
class Measured:
    """What became of one engine on one case; `run` has the limit for times where it failed."""

    group: str
    case: str
    engine: str
    how: How
    run: Run

    @property
    def solved(self) -> bool:
        return self.how == "answered"


def not_run(case: Case, engine: str, limit: float, why: str) -> Measured:
    """An engine that counts as out of time without having been tried."""
    return Measured(case.group, case.name, engine, "not run", _lost(limit, why))


def measure(case: Case, contender: Contender, limit: float, *, long: float = LONG) -> Measured:
    """Runs it apart; whatever goes wrong there is said here.

    long: what airproof's runs of more than this [s] went into is found out in a second run
    """
    circuit = loaded(case.text)
    asked = Asked(circuit, circuit.properties[case.prop], limit)
    run = _apart(contender, asked, long)
    how: How = "answered"
    if run is None or run.cpu > limit or (run.answer == "unknown" and not run.failure):
        how, run = "out of time", _lost(limit, "")
    elif run.failure:
        how, run = "failed", _lost(limit, run.failure)
    return Measured(case.group, case.name, contender.name, how, run)


def _lost(limit: float, why: str) -> Run:
    return Run("unknown", limit, limit, failure=why)


def _apart(contender: Contender, asked: Asked, long: float) -> Run | None:
    """What the process says; None if it did not end in time."""
    fork = multiprocessing.get_context("fork")
    here, there = fork.Pipe(duplex=False)
    patience = WAIT * asked.seconds + GRACE
    process = fork.Process(target=_within, args=(there, contender, asked), daemon=True)
    process.start()
    there.close()
    try:
        run: Run | None = here.recv() if here.poll(patience) else None
        if run is not None and contender.name == AIRPROOF and long < run.cpu <= asked.seconds:
            told = here.recv() if here.poll(patience) else None
            run = replace(run, parts=told) if isinstance(told, dict) else run
    except EOFError:
        process.join()
        if process.exitcode == -signal.SIGPROF:
            return None
        return _lost(asked.seconds, f"the process ended without an answer: {process.exitcode}")
    finally:
        process.kill()
        process.join()
        here.close()
    return run


def _within(there: Connection, contender: Contender, asked: Asked) -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    signal.signal(signal.SIGPROF, signal.SIG_DFL)
    try:
        there.send(_repeated(contender, asked))
        if contender.name == AIRPROOF:
            with clocked() as clock:
                signal.setitimer(signal.ITIMER_PROF, 2 * asked.seconds)
                contender.run(asked)
                there.send(clock.stopped())
    except Exception as problem:
        there.send(_lost(asked.seconds, f"{type(problem).__name__}: {problem}"[:200]))


def _repeated(contender: Contender, asked: Asked) -> Run:
    """The medians of several runs of what is short."""
    runs = [_timed(contender, asked)]
    while runs[0].cpu < SHORT and len(runs) < REPEATS:
        runs.append(_timed(contender, asked))
    wall, cpu = (statistics.median(t) for t in zip(*((r.wall, r.cpu) for r in runs), strict=True))
    return Run(runs[0].answer, wall, cpu)


def _timed(contender: Contender, asked: Asked) -> Run:
    """Ends the process, by a signal, when the processor time is used up."""
    signal.setitimer(signal.ITIMER_PROF, asked.seconds)
    wall, cpu = time.perf_counter(), time.process_time()
    try:
        answer = contender.run(asked)
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
    return Run(answer, time.perf_counter() - wall, time.process_time() - cpu)
