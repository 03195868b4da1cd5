"""Each job in a process of its own, so that a crash of the solver costs one job only."""

from __future__ import annotations

import contextlib
import os
import pickle
import queue
import signal
import subprocess
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

Tell = Callable[[int], None]
Work = Callable[[Any, Tell], Any]  # a job's data, a way to tell how deep it is -> its outcome

OVERTIME = 5.0  # [s] beyond its own limit before a job that does not stop is killed
PROGRAM = "from airproof.cli.serving import serve; serve()"


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
    process: subprocess.Popen[bytes]
    listener: threading.Thread
    deadline: float
    depth: int = 0

    def end(self) -> int:
        """Kills it if it still runs; its exit code."""
        self.process.kill()
        code = self.process.wait()
        self.listener.join()
        return code


Event = Depth | Done | Lost
_Message = tuple[str, Any]  # its kind and content; kind `ended` when the process is gone
_Box = queue.SimpleQueue[tuple[str, _Message]]


def run(jobs: Sequence[Job], work: Work, workers: int) -> Generator[Event, None, None]:
    """Runs the jobs, so many at a time and in their order; tells of each as things happen.

    Keys must differ.  Whatever ends the loop (Ctrl-C, an error, closing it)
    ends the processes too.
    """
    waiting, box = deque(jobs), _Box()
    running: dict[str, _Running] = {}
    try:
        while waiting or running:
            while waiting and len(running) < workers:
                _begin(waiting.popleft(), work, running, box)
            yield from _heard(running, box)
            yield from _overdue(running)
    finally:
        for left in running.values():
            left.end()


def _begin(job: Job, work: Work, running: dict[str, _Running], box: _Box) -> None:
    process = subprocess.Popen(
        [sys.executable, "-P", "-c", PROGRAM],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        start_new_session=True,  # Ctrl-C is for us, who end it
    )
    listener = threading.Thread(target=_listen, args=(job.key, process, box), daemon=True)
    listener.start()
    running[job.key] = _Running(job, process, listener, time.monotonic() + job.seconds + OVERTIME)
    assert process.stdin is not None
    with contextlib.suppress(OSError), process.stdin as given:  # if it is gone, `_listen` tells
        given.write(pickle.dumps((work, job.data)))


def _listen(key: str, process: subprocess.Popen[bytes], box: _Box) -> None:
    """Puts every message of one process into the box, at last that it has ended."""
    assert process.stdout is not None
    with (
        process.stdout as told,
        contextlib.suppress(EOFError, OSError, ValueError, pickle.UnpicklingError),
    ):
        while True:
            box.put((key, pickle.load(told)))
    box.put((key, ("ended", None)))


def _heard(running: dict[str, _Running], box: _Box) -> Iterator[Event]:
    nearest = min(one.deadline for one in running.values())
    with contextlib.suppress(queue.Empty):
        key, message = box.get(timeout=max(0.0, nearest - time.monotonic()))
        if key in running:  # else it was done or overdue, and this is its end
            yield _understood(running, key, message)


def _understood(running: dict[str, _Running], key: str, message: _Message) -> Event:
    kind, content = message
    if kind == "depth":
        running[key].depth = content
        return Depth(key, content)
    here = running.pop(key)
    if kind == "ended":
        return Lost(key, "crashed", _ended(here.process.wait()), here.depth)
    here.end()
    return Done(key, content) if kind == "done" else Lost(key, kind, content, here.depth)


def _ended(code: int) -> str:
    if code >= 0:
        return f"its process ended with code {code}"
    with contextlib.suppress(ValueError):
        return f"its process was ended by {signal.Signals(-code).name}"
    return f"its process was ended by signal {-code}"


def _overdue(running: dict[str, _Running]) -> Iterator[Event]:
    now = time.monotonic()
    for key in [key for key, one in running.items() if now > one.deadline]:
        late = running.pop(key)
        late.end()
        yield Lost(key, "overtime", "", late.depth)
