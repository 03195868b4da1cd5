"""Each job in a process of its own, so that a crash of the solver costs one job only."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import time
from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence
from dataclasses import dataclass
from multiprocessing import resource_tracker
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess
from typing import Any

from airproof.cli.errors import told

Tell = Callable[[int], None]
Work = Callable[[Any, Tell], Any]  # a job's data, a way to tell how deep it is -> its outcome

OVERTIME = 5.0  # [s] beyond its own limit before a job that does not stop is killed


@dataclass(frozen=True, slots=True)
class Job:
    """`key` names it, `data` goes to the worker, `seconds` is the limit it keeps itself."""

    key: str
    data: Any
    seconds: float


@dataclass(frozen=True, slots=True)
class Depth:
    """How deep a job is now; it goes on."""

    key: str
    depth: int


@dataclass(frozen=True, slots=True)
class Done:
    key: str
    outcome: Any


@dataclass(frozen=True, slots=True)
class Lost:
    """A job without an outcome.

    why: `crashed` (the process ended), `memory`, `solver` (it raised), `overtime`,
         or `raised` (airproof itself did)
    """

    key: str
    why: str
    detail: str
    depth: int = 0


@dataclass(slots=True)
class _Running:
    job: Job
    process: SpawnProcess
    deadline: float
    depth: int = 0


Event = Depth | Done | Lost


def run(jobs: Sequence[Job], work: Work, workers: int) -> Generator[Event, None, None]:
    """Runs the jobs, so many at a time and in their order; tells of each as things happen.

    Whatever ends the loop (Ctrl-C, an error, closing it) ends the processes too.
    """
    waiting, running = deque(jobs), dict[Connection, _Running]()
    try:
        while waiting or running:
            while waiting and len(running) < workers:
                pipe, started = _begin(waiting.popleft(), work)
                running[pipe] = started
            yield from _heard(running)
            yield from _overdue(running)
    finally:
        for left in running.values():
            left.process.kill()


def _begin(job: Job, work: Work) -> tuple[Connection, _Running]:
    spawn = multiprocessing.get_context("spawn")
    ours, theirs = spawn.Pipe(duplex=False)
    process = spawn.Process(target=_serve, args=(work, job.data, theirs), daemon=True)
    with _deaf_to_interrupts():
        process.start()
    theirs.close()
    return ours, _Running(job, process, time.monotonic() + job.seconds + OVERTIME)


@contextlib.contextmanager
def _deaf_to_interrupts() -> Iterator[None]:
    """What is started meanwhile never hears Ctrl-C; here it is only put off."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    resource_tracker.ensure_running()  # else starting it would unblock the signal
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _heard(running: dict[Connection, _Running]) -> Iterator[Event]:
    nearest = min(one.deadline for one in running.values())
    for pipe in wait(list(running), timeout=max(0.0, nearest - time.monotonic())):
        assert isinstance(pipe, Connection)
        here = running[pipe]
        event = _received(pipe, here)
        if isinstance(event, Depth):
            here.depth = event.depth
        else:
            _end(running, pipe)
        yield event


def _received(pipe: Connection, here: _Running) -> Event:
    key = here.job.key
    try:
        kind, content = pipe.recv()
    except (EOFError, OSError):
        here.process.join(OVERTIME)
        return Lost(key, "crashed", _ended(here.process.exitcode), here.depth)
    if kind == "depth":
        return Depth(key, content)
    return Done(key, content) if kind == "done" else Lost(key, kind, content, here.depth)


def _ended(code: int | None) -> str:
    if code is None or code >= 0:
        return f"its process ended with code {code}"
    with contextlib.suppress(ValueError):
        return f"its process was ended by {signal.Signals(-code).name}"
    return f"its process was ended by signal {-code}"


def _overdue(running: dict[Connection, _Running]) -> Iterator[Event]:
    now = time.monotonic()
    for pipe, here in list(running.items()):
        if now > here.deadline:
            _end(running, pipe)
            yield Lost(here.job.key, "overtime", "", here.depth)


def _end(running: dict[Connection, _Running], pipe: Connection) -> None:
    here = running.pop(pipe)
    pipe.close()
    here.process.kill()
    here.process.join()


# ---- in the worker


def _serve(work: Work, data: Any, pipe: Connection) -> None:
    """Does one job; whatever it would print is dropped, the report is the parent's."""
    silence = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silence, 1)
    os.dup2(silence, 2)
    with contextlib.suppress(OSError):  # the parent is gone: nobody to tell
        pipe.send(_attempt(work, data, pipe))


def _attempt(work: Work, data: Any, pipe: Connection) -> tuple[str, Any]:
    try:
        return "done", work(data, lambda depth: pipe.send(("depth", depth)))
    except MemoryError:
        return "memory", "it ran out of memory"
    except OSError:
        raise
    except Exception as error:
        by_solver = type(error).__module__.split(".")[0] == "z3"
        return "solver" if by_solver else "raised", told(error)
