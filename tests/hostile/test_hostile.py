"""Whatever is in a file, `prove` and `tidy` end with a message and an exit code."""

from __future__ import annotations

import itertools
import os
import resource
import time
import unicodedata
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

import pytest
from click.testing import CliRunner, Result

from airproof.cli import proving
from airproof.cli.main import main
from airproof.cli.task import work
from airproof.cli.workers import Done, Jobs, Lost
from hostile.spoilt_texts import Spoiler

ROOT = Path(__file__).resolve().parents[2]
SEED = 20_240
INPUTS = int(os.environ.get("AIRPROOF_INPUTS", "450"))
PROVED = 15  # one text in so many that load is proved by the engines, for a moment
PROVED_SIZE = 2_000  # letters of the longest text that is
SHOWN = 3  # failures of one run
DONE_HERE = 6  # jobs of one circuit that are really done
TIDIED = 2  # one input in so many is tidied
LARGEST_OUTPUT = 100_000  # characters beyond ten times those of the text
SLOWEST = 20.0  # [s] for one input on a busy machine; an unbounded one takes for ever
DEFECT = "This is a defect of airproof"
NO_ENGINE = "no engine was asked"


def texts() -> list[str]:
    """Every circuit of the checkout."""
    places = (ROOT / "models", ROOT / "tests")
    found = sorted(file for place in places for file in place.rglob("*.circuit"))
    return [file.read_text(encoding="utf-8") for file in found]


def not_asked(jobs: Jobs, _: Any, __: int) -> Iterator[Lost]:
    """Stands in for the workers: every job is lost at once."""
    while jobs:
        yield Lost(jobs.take().key, "crashed", NO_ENGINE)


def here(jobs: Jobs, _: Any, __: int) -> Iterator[Done | Lost]:
    """Stands in for the workers: the first jobs in this very process, the rest lost."""
    for count in itertools.count(1):
        if not jobs:
            break
        job = jobs.take()
        if count > DONE_HERE:
            yield Lost(job.key, "crashed", NO_ENGINE)
        else:
            yield Done(job.key, work(job.data, lambda depth: None))


@dataclass(slots=True)
class Figures:
    """What the run was like."""

    codes: Counter[str] = field(default_factory=Counter)
    proved: int = 0
    slowest: float = 0.0
    longest: int = 0

    def count(self, name: str, result: Result, seconds: float) -> None:
        self.codes[f"{name} {result.exit_code}"] += 1
        self.slowest = max(self.slowest, seconds)
        self.longest = max(self.longest, len(result.output))


def call(*arguments: str) -> Result:
    return CliRunner().invoke(main, arguments)


def obeyed(text: str) -> set[str]:
    """Characters that a screen would obey or turn round."""
    seen = set(text) - {"\n"}
    return {c for c in seen if unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp")}


def check(result: Result, codes: Sequence[int], size: int) -> None:
    """A message or a result, of a bounded length, and no traceback."""
    assert result.exception is None or isinstance(result.exception, SystemExit)
    assert result.exit_code in codes
    assert "Traceback" not in result.stderr
    assert DEFECT not in result.stderr, result.stderr
    assert len(result.output) < LARGEST_OUTPUT + 10 * size
    assert not obeyed(result.stderr)
    if result.exit_code == 2:
        assert result.stderr or "- error: " in result.stdout


def timed(figures: Figures, codes: Sequence[int], size: int, *arguments: str) -> Result:
    start = time.monotonic()
    result = call(*arguments)
    seconds = time.monotonic() - start
    figures.count(" ".join(arguments[:-1]), result, seconds)
    check(result, codes, size)
    assert seconds < SLOWEST
    return result


def prove(figures: Figures, path: Path, size: int) -> bool:
    """Whether the text loads; nothing of the report is obeyed by a screen."""
    result = timed(figures, (0, 1, 2, 3), size, "prove", str(path))
    assert not obeyed(result.stdout)
    if result.exit_code == 2:
        assert path.name in result.stderr
    return result.exit_code == 3


def tidy(figures: Figures, path: Path, data: bytes) -> None:
    """A text that is tidied is tidy; one that is refused is not touched."""
    written = timed(figures, (0, 2), len(data), "tidy", "--write", str(path))
    if written.exit_code == 2:
        assert path.read_bytes() == data
        return
    timed(figures, (0,), len(data), "tidy", "--check", str(path))
    assert len(list(path.parent.iterdir())) == 1


def prove_briefly(figures: Figures, path: Path, size: int, patch: pytest.MonkeyPatch) -> None:
    """The engines see the circuit too, for two steps."""
    figures.proved += 1
    with patch.context() as inner:
        inner.setattr(proving, "run", here)
        options = ("prove", "--limit", "0.3", "--steps", "2", str(path))
        timed(figures, (0, 1, 2, 3), size, *options)


@pytest.mark.slow
def test_spoilt_texts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No input ends in a traceback, a defect, an endless output or a half-written file."""
    monkeypatch.setattr(proving, "run", not_asked)
    spoiler, figures = Spoiler(texts(), Random(SEED)), Figures()
    path, loaded, start = tmp_path / "spoilt.circuit", 0, time.monotonic()
    failures: list[str] = []
    for number in range(INPUTS):
        data = spoiler.draw()
        path.write_bytes(data)
        try:
            if prove(figures, path, len(data)):
                loaded += 1
                if loaded % PROVED == 0 and len(data) <= PROVED_SIZE:
                    prove_briefly(figures, path, len(data), monkeypatch)
            if number % TIDIED == 0:
                tidy(figures, path, data)
        except Exception as error:
            failures.append(f"input {number} of seed {SEED}: {error!r}\n{data!r}")
    report(figures, loaded, time.monotonic() - start)
    assert not failures, "\n".join(failures[:SHOWN])
    assert loaded > INPUTS // 20  # else the engines and the report see nothing
    assert figures.proved > 0


def report(figures: Figures, loaded: int, seconds: float) -> None:
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"\n{INPUTS} inputs in {seconds:.1f} s, {loaded} load, {figures.proved} proved briefly")
    print(f"slowest {figures.slowest:.2f} s, longest output {figures.longest}, peak {peak:.0f} MB")
    print("\n".join(f"{what}: {count}" for what, count in sorted(figures.codes.items())))


def test_the_same_seed_draws_the_same_inputs() -> None:
    """A failure can be had again."""
    one, other = (Spoiler(texts(), Random(SEED)) for _ in range(2))
    assert [one.draw() for _ in range(50)] == [other.draw() for _ in range(50)]
