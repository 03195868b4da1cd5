"""A command's jobs done in this process, each once: where processes are not what is tested.

What goes to a job and what comes of it are pickled all the same.  `few` random runs are
enough there, too.
"""

from __future__ import annotations

import importlib
import io
import pickle
from collections.abc import Generator, Iterator
from contextlib import contextmanager
from functools import partial

import pytest
from click.testing import CliRunner, Result

from airproof.cli.main import main
from airproof.cli.serving import _attempt
from airproof.cli.workers import Depth, Done, Event, Jobs, Lost, Work
from sharing import once

CALLERS = ("carrying", "depending", "passing", "proving", "replaying", "slowly", "watching")
FEW = 100  # random runs that each proof meets


def called(command: str, *words: object, given: str | None = None) -> Result:
    """The command with its jobs done here."""
    with at_once():
        return CliRunner().invoke(main, [command, *map(str, words)], input=given)


@contextmanager
def at_once() -> Iterator[None]:
    """Inside, no command starts a process."""
    with pytest.MonkeyPatch.context() as patch:
        for name in CALLERS:
            patch.setattr(importlib.import_module(f"airproof.cli.{name}"), "run", run)
        patch.setattr("airproof.cli.confronting.RUNS", FEW)
        yield


def run(jobs: Jobs, work: Work, workers: int) -> Generator[Event, None, None]:
    """As `airproof.cli.workers.run`, one job after another."""
    while jobs:
        job = jobs.take()
        given = pickle.dumps((work, job.data))
        depths, kind, content = pickle.loads(once(given, partial(_outcome, given)))
        yield from (Depth(job.key, depth) for depth in depths)
        yield Done(job.key, content) if kind == "done" else Lost(job.key, kind, content)


def _outcome(given: bytes) -> bytes:
    """How deep it went, the kind of its answer, and that; pickled."""
    work, data = pickle.loads(given)
    out = io.BytesIO()
    kind, content = _attempt(work, data, out)
    out.seek(0)
    depths = []
    while out.tell() < len(out.getbuffer()):
        depths.append(pickle.load(out)[1])
    return pickle.dumps((depths, kind, content))
