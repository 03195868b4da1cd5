"""The other side of `workers`: a process that does one job after another and tells of each."""

from __future__ import annotations

import contextlib
import gc
import os
import pickle
import sys
from typing import Any, BinaryIO

from airproof.cli.errors import told


def serve() -> None:
    """Takes (work, data) from standard input, answers on standard output, until it is closed.

    What the work itself prints is dropped: the report is somebody else's.
    """
    with os.fdopen(os.dup(1), "wb") as out, contextlib.suppress(OSError, EOFError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        while True:
            work, data = pickle.load(sys.stdin.buffer)
            _answer(out, "begun", None)
            _answer(out, *_attempt(work, data, out))
            gc.collect()  # the solver's memory goes with the terms that point at each other


def _answer(out: BinaryIO, kind: str, content: Any) -> None:
    out.write(pickle.dumps((kind, content)))
    out.flush()


def _attempt(work: Any, data: Any, out: BinaryIO) -> tuple[str, Any]:
    try:
        return "done", work(data, lambda depth: _answer(out, "depth", depth))
    except MemoryError:
        return "memory", "it ran out of memory"
    except BrokenPipeError:
        raise  # nobody is left to tell
    except Exception as error:
        by_solver = type(error).__module__.split(".")[0] == "z3"
        return "solver" if by_solver else "raised", told(error)
