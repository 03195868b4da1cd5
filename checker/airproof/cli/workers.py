"""Some processes that do one job after another, so that a crash costs one job only."""

from __future__ import annotations

import contextlib
import itertools
import os
import pickle
import queue
import signal
import subprocess
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator
from dataclasses import dataclass, field
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


class Jobs:
    """What is still to be done; it may grow and shrink while it is worked on.

    Keys must differ.
    """

    def __init__(self, first: Iterable[Job] = ()) -> None:
        self._waiting = deque(first)
        self._later: deque[Job] = deque()  # begun once no other waits
        self._dropped: set[str] = set()

    def __iter__(self) -> Iterator[Job]:
        """Those that wait, in the order in which they are begun."""
        return itertools.chain(self._waiting, self._later)

    def __bool__(self) -> bool:
        return bool(self._waiting or self._later)

    def add(self, jobs: Iterable[Job], *, next_up: bool = False) -> None:
        """More jobs, behind those that wait or before them."""
        if next_up:
            self._waiting.extendleft(reversed(list(jobs)))
        else:
            self._waiting.extend(jobs)

    def put_off(self, jobs: Iterable[Job]) -> None:
        """More jobs, to be begun one after another whenever none of the others waits."""
        self._later.extend(jobs)

    def drop(self, keys: Iterable[str]) -> None:
        """Those jobs are not begun, or are ended where they run; nothing more is told of them."""
        unwanted = set(keys)
        self._waiting = deque(job for job in self._waiting if job.key not in unwanted)
        self._later = deque(job for job in self._later if job.key not in unwanted)
        self._dropped |= unwanted

    def take(self) -> Job:
        """The next one; it waits no longer."""
        return (self._waiting or self._later).popleft()

    def dropped(self) -> set[str]:
        """The keys dropped since this was last asked."""
        found, self._dropped = self._dropped, set()
        return found


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


Event = Depth | Done | Lost
_Message = tuple[str, Any]  # its kind and content; kind `ended` when the process is gone
_Box = queue.SimpleQueue[tuple[int, _Message]]


@dataclass(slots=True)
class _Server:
    """One process.

    job:    what it does now, None if nothing
    begun:  it has said that it has taken the job up
    proven: it has done a job before
    """

    process: subprocess.Popen[bytes]
    listener: threading.Thread
    job: Job | None = None
    deadline: float = 0.0
    depth: int = 0
    begun: bool = False
    proven: bool = False

    def give(self, job: Job, work: Work) -> None:
        self.job, self.depth, self.begun = job, 0, False
        self.deadline = time.monotonic() + job.seconds + OVERTIME
        given = self.process.stdin
        assert given is not None
        with contextlib.suppress(OSError):  # if it is gone, its listener tells
            pickle.dump((work, job.data), given)
            given.flush()

    def end(self) -> int:
        """Kills it if it still runs; its exit code."""
        self.process.kill()
        code = self.process.wait()
        with contextlib.suppress(OSError):  # what was not written is for nobody
            assert self.process.stdin is not None
            self.process.stdin.close()
        self.listener.join()
        return code


def run(jobs: Jobs, work: Work, workers: int) -> Generator[Event, None, None]:
    """Runs the jobs, so many at a time and in their order; tells of each as things happen.

    Whoever hears of an event may add jobs and drop some before asking for the
    next.  Whatever ends the loop (Ctrl-C, an error, closing it) ends the
    processes too.
    """
    pool = _Pool(jobs, work, workers)
    try:
        while pool.assigned():
            yield from pool.heard()
            yield from pool.overdue()
    finally:
        pool.end()


@dataclass(slots=True)
class _Pool:
    """The processes, by number; a number is not given twice."""

    jobs: Jobs
    work: Work
    most: int
    servers: dict[int, _Server] = field(default_factory=dict)
    box: _Box = field(default_factory=_Box)
    numbers: Iterator[int] = field(default_factory=itertools.count)

    def assigned(self) -> bool:
        """Hands out what waits as far as there are hands; whether anything is under way."""
        unwanted = self.jobs.dropped()
        for number, server in list(self.servers.items()):
            if server.job is not None and server.job.key in unwanted:
                self.servers.pop(number).end()
        while self.jobs and (free := self._free()) is not None:
            free.give(self.jobs.take(), self.work)
        return any(server.job for server in self.servers.values())

    def _free(self) -> _Server | None:
        for server in self.servers.values():
            if server.job is None:
                return server
        if len(self.servers) >= self.most:
            return None
        number = next(self.numbers)
        self.servers[number] = _started(number, self.box)
        return self.servers[number]

    def heard(self) -> Iterator[Event]:
        """The next thing that a process tells, if one does before the nearest deadline."""
        nearest = min(one.deadline for one in self.servers.values() if one.job)
        with contextlib.suppress(queue.Empty):
            number, message = self.box.get(timeout=max(0.0, nearest - time.monotonic()))
            if number in self.servers:  # else it was ended, and this is the rest
                yield from self._understood(number, *message)

    def _understood(self, number: int, kind: str, content: Any) -> Iterator[Event]:
        server = self.servers[number]
        job = server.job
        if kind == "ended":
            del self.servers[number]
            yield from self._crashed(server)
        elif job is None:
            return
        elif kind == "begun":
            server.begun = True
        elif kind == "depth":
            server.depth = content
            yield Depth(job.key, content)
        elif kind == "done":
            server.job, server.proven = None, True
            yield Done(job.key, content)
        else:  # nothing is known of what state it is in
            self.servers.pop(number).end()
            yield Lost(job.key, kind, content, server.depth)

    def _crashed(self, server: _Server) -> Iterator[Event]:
        """What it cost: nothing if it ended between two jobs."""
        how = _ended(server.end())
        if server.job is None:
            return
        if server.proven and not server.begun:
            self.jobs.add([server.job], next_up=True)
        else:
            yield Lost(server.job.key, "crashed", how, server.depth)

    def overdue(self) -> Iterator[Event]:
        now = time.monotonic()
        for number, server in list(self.servers.items()):
            if server.job is not None and now > server.deadline:
                self.servers.pop(number).end()
                yield Lost(server.job.key, "overtime", "", server.depth)

    def end(self) -> None:
        for server in self.servers.values():
            server.end()


def _started(number: int, box: _Box) -> _Server:
    process = subprocess.Popen(
        [sys.executable, "-P", "-c", PROGRAM],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        start_new_session=True,  # Ctrl-C is for us, who end it
    )
    listener = threading.Thread(target=_listen, args=(number, process, box), daemon=True)
    listener.start()
    return _Server(process, listener)


def _listen(number: int, process: subprocess.Popen[bytes], box: _Box) -> None:
    """Puts every message of one process into the box, at last that it has ended."""
    assert process.stdout is not None
    with (
        process.stdout as told,
        contextlib.suppress(EOFError, OSError, ValueError, pickle.UnpicklingError),
    ):
        while True:
            box.put((number, pickle.load(told)))
    box.put((number, ("ended", None)))


def _ended(code: int) -> str:
    if code >= 0:
        return f"its process ended with code {code}"
    with contextlib.suppress(ValueError):
        return f"its process was ended by {signal.Signals(-code).name}"
    return f"its process was ended by signal {-code}"
