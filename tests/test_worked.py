"""The worked circuits and their planted defects give the verdicts written beside them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import pytest

from airproof.circuit.properties import Possible
from airproof.engines.budget import Budget
from airproof.engines.strategy import prove
from airproof.evidence.verdict import Verdict
from airproof.language import load
from judged_once import SECONDS, of_worked

MODELS = Path(__file__).parent.parent / "models"
WORDS = ("holds", "possible", "breached", "needs-sizes")
LINE = re.compile(r"^# expect: (\w+) (\S+)(?: (\d+))?$", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Expected:
    """One `# expect: PROPERTY WORD LENGTH` line; no length where there is nothing to measure."""

    path: Path
    name: str
    word: str
    length: int | None

    @property
    def label(self) -> str:
        return f"{self.path.parent.name}-{self.path.stem}-{self.name}"


def expectations(path: Path) -> list[Expected]:
    """Every expectation in a circuit's text, in its order."""
    found = LINE.findall(path.read_text(encoding="utf-8"))
    return [Expected(path, name, word, int(n) if n else None) for name, word, n in found]


PATHS = [*sorted(MODELS.glob("worked/*.circuit")), *sorted(MODELS.glob("broken/*.circuit"))]
EXPECTED = [line for path in PATHS for line in expectations(path)]


def told(verdict: Verdict, possible: bool) -> str:
    """The verdict in the words of the expectations."""
    if verdict.word == "undecided":
        return "needs-sizes" if verdict.reason == "needs sizes" else f"undecided: {verdict.reason}"
    return "possible" if possible and verdict.word == "holds" else verdict.word


def test_both_folders_have_circuits() -> None:
    """Nothing below passes because a folder was empty or moved."""
    assert {path.parent.name for path in PATHS} == {"worked", "broken"}


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_every_property_has_one_expectation_with_a_known_word(path: Path) -> None:
    """No property of these circuits goes unjudged, and no line is misspelt."""
    lines = expectations(path)
    assert path.read_text(encoding="utf-8").count("expect:") == len(lines)
    assert sorted(line.name for line in lines) == sorted(load(path).circuit.properties)
    assert {line.word for line in lines} <= set(WORDS)


@pytest.mark.parametrize(
    "path", sorted(MODELS.glob("broken/*.circuit")), ids=lambda path: path.stem
)
def test_every_planted_defect_breaches_something(path: Path) -> None:
    """A defect that breaches nothing shows nothing."""
    assert any(line.word == "breached" for line in expectations(path))


@pytest.mark.slow
@pytest.mark.parametrize("expected", EXPECTED, ids=lambda expected: expected.label)
def test_the_verdict_is_the_expected_one(expected: Expected) -> None:
    """The verdict's word, and the length of its sequence where one is written."""
    circuit = load(expected.path).circuit
    if expected.path.parent.name == "worked":
        verdict = of_worked(circuit, expected.name)
    else:
        verdict = prove(circuit, expected.name, Budget(seconds=SECONDS))
    possible = isinstance(circuit.properties[expected.name].sentence, Possible)
    assert told(verdict, possible) == expected.word
    if expected.length is not None:
        assert verdict.sequence is not None
        assert verdict.sequence.length == expected.length
