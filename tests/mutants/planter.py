"""Plants one defect after the other into a copy of the program and asks the tests.

    PYTHONPATH=tests python -m mutants.planter [--only PATTERN] [--workers N] [--limit SECONDS]

Ends with 0 if a test fails on every defect but those that are said to make the same
program, which all must pass; 1 otherwise (to run out of time or to crash is not to be
caught) or if one cannot be planted; 2 if the program as it is does not pass.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import queue
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from mutants.planting import Defect, DefectError, copy_to, defects, environment, planted

Fate = Literal["caught", "out of time", "crashed", "survived", "same program"]
FAILED = re.compile(r"(?m)^(?:FAILED|ERROR) (\S+?(?:\[.*?\])?)(?: - .*)?$")
PYTEST = ("-m", "pytest", "-x", "-q", "-rfE", "-p", "no:cacheprovider", "--tb=line")
LIMIT = 240.0  # of wall time [s] for the tests of one defect


@dataclass(frozen=True, slots=True)
class Answer:
    """What the tests made of a copy: pytest's exit code (None: out of time) and what it said."""

    code: int | None
    said: str
    seconds: float

    @property
    def failed(self) -> str:
        """The first test that failed; empty if none is named."""
        found = FAILED.search(self.said)
        return found[1] if found else ""


@dataclass(frozen=True, slots=True)
class Told:
    """What became of one defect."""

    defect: Defect
    fate: Fate
    by: str
    seconds: float

    @property
    def unwanted(self) -> bool:
        """It should have been caught, or should not have been."""
        return self.fate != ("caught" if self.defect.same is None else "same program")

    def __str__(self) -> str:
        return f"{self.fate:12} {self.seconds:6.1f} s  {self.defect.name:44} {self.by}"


def ask(copy: Path, rounds: Iterable[Iterable[str]], limit: float) -> Answer:
    """Runs these tests in the copy, round by round, until one fails, at most `limit` seconds."""
    answer = Answer(0, "", 0.0)
    for tests in rounds:
        if answer.code == 0:
            next_ = _asked(copy, tests, limit - answer.seconds)
            answer = Answer(next_.code, next_.said, answer.seconds + next_.seconds)
    return answer


def _asked(copy: Path, tests: Iterable[str], limit: float) -> Answer:
    began = time.monotonic()
    process = subprocess.Popen(
        [sys.executable, *PYTEST, *tests],
        cwd=copy,
        env=environment(),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    )
    try:
        said, _ = process.communicate(timeout=limit)
        code: int | None = process.returncode
    except subprocess.TimeoutExpired:
        said, code = "", None
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)  # whatever it started as well
        process.wait()
    return Answer(code, said, time.monotonic() - began)


def told(defect: Defect, answer: Answer) -> Told:
    """Pytest's exit code in words: 1 is a failed test, 0 none, the rest is no verdict of a test."""
    fates: dict[int | None, Fate] = {1: "caught", 0: "survived", None: "out of time"}
    fate = fates.get(answer.code, "crashed")
    if fate == "survived" and defect.same is not None:
        fate = "same program"
    by = answer.failed or ("" if fate in ("survived", "same program") else str(answer.code))
    return Told(defect, fate, by, answer.seconds)


def tried(chosen: Sequence[Defect], copies: Sequence[Path], limit: float) -> list[Told]:
    """What became of each defect, printed as it comes; as many at once as there are copies."""
    free: queue.Queue[Path] = queue.Queue()
    for copy in copies:
        free.put(copy)

    def one(defect: Defect) -> Told:
        copy = free.get()
        try:
            with planted(defect, copy):
                found = told(defect, ask(copy, defect.asked, limit))
        finally:
            free.put(copy)
        print(found, flush=True)
        return found

    with ThreadPoolExecutor(len(copies)) as pool:
        return list(pool.map(one, chosen))


def table(found: Sequence[Told]) -> str:
    """Fates by file, then what was not caught by a failing test."""
    fates: tuple[Fate, ...] = ("caught", "out of time", "crashed", "same program", "survived")
    files = sorted({told.defect.file for told in found})
    counts = Counter((told.defect.file, told.fate) for told in found)
    width = max(len(file) for file in (*files, "total"))
    lines = [" ".join([f"{'':{width}}", *(f"{fate:>12}" for fate in fates)])]
    for file in files:
        lines.append(" ".join([f"{file:{width}}", *(f"{counts[file, f]:12}" for f in fates)]))
    sums = [sum(counts[file, fate] for file in files) for fate in fates]
    lines.append(" ".join([f"{'total':{width}}", *(f"{n:12}" for n in sums)]))
    for told in found:
        if told.fate != "caught":
            lines.append(f"{told.fate}: {told.defect.name}: {told.defect.breaks}")
        if told.fate == "same program":
            lines.append(f"    {told.defect.same}")
    return "\n".join(lines)


def sound(chosen: Sequence[Defect], copy: Path, limit: float) -> bool:
    """Every defect can be planted in the copy, and without any it passes all their tests."""
    for defect in chosen:
        defect.planted((copy / defect.path).read_text(encoding="utf-8"))
    every = dict.fromkeys(test for defect in chosen for some in defect.asked for test in some)
    answer = ask(copy, [every], limit)
    print(f"as it is: exit code {answer.code}, {answer.seconds:.1f} s", flush=True)
    if answer.code != 0:
        print(answer.said)
    return answer.code == 0


def main(words: Sequence[str]) -> int:
    """The whole run; the exit code."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--only", default="", help="a pattern that name or file must contain")
    parser.add_argument("--workers", type=int, default=1, help="copies that are tried at once")
    parser.add_argument("--limit", type=float, default=LIMIT, help="seconds for one defect")
    asked = parser.parse_args(words)
    chosen = [d for d in defects() if re.search(asked.only, f"{d.file} {d.name}")]
    with tempfile.TemporaryDirectory(prefix="planted-") as folder:
        copies = [Path(folder) / str(n) for n in range(max(1, asked.workers))]
        for copy in copies:
            copy_to(copy)
        if not chosen or not sound(chosen, copies[0], 10 * asked.limit):
            return 2
        found = tried(chosen, copies, asked.limit)
    print(table(found))
    return 1 if any(told.unwanted for told in found) else 0


if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except DefectError as problem:
        sys.exit(f"{problem}")
