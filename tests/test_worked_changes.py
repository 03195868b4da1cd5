"""The worked changes do to the worked circuits what is written beside them.

With the environment variable AIRPROOF_UNDECIDED, also where a watcher's view stays undecided,
or where it takes a minute.
"""

from __future__ import annotations

import os
import pickle
import re
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path

import pytest

from airproof.analyses.apart import apart, laid
from airproof.analyses.carrying import carried
from airproof.analyses.shifts import shifts
from airproof.analyses.showing import replayed
from airproof.certify.check import certified
from airproof.certify.following import follows
from airproof.circuit.kinds import Circuit
from airproof.engines.budget import Budget
from airproof.evidence.verdict import Verdict, Word
from airproof.language import load
from airproof.language.changing.applying import Done, Original, applied, changed, original
from airproof.language.changing.reading import parse_change
from judged_once import of_worked
from sharing import once

MODELS = Path(__file__).parent.parent / "models"
PATHS = sorted((MODELS / "changes").glob("*.change"))
OUTCOMES = (
    "newly-breached",
    "no-longer-breached",
    "withdrawn",
    "added",
    "asks-by-another-signal",
    "speaks-of-another-thing",
)
LONG = ("railcar_charging_cock",)
SHIFTS = {"signal": "asks-by-another-signal", "thing": "speaks-of-another-thing"}


@dataclass(frozen=True, slots=True)
class Expected:
    """What is written in a change file.

    said:     property and outcome; none for `nothing`
    after:    by the number of a step, what is newly breached after it and not yet before
    together: by the name of another change, what both newly breach and neither does alone
    judged:   the properties that the test judges; None: all
    seen:     what a watcher could see that only the changed circuit shows, and only the one before
    """

    said: frozenset[tuple[str, str]]
    nothing: bool
    after: dict[int, frozenset[str]]
    together: dict[str, frozenset[str]]
    judged: frozenset[str] | None
    seen: tuple[str, str]


def expected(path: Path) -> Expected:
    text = path.read_text(encoding="utf-8")
    said = re.findall(r"^# expect: (\w+) (\S+)$", text, re.MULTILINE)
    nothing = re.findall(r"^# expect: nothing$", text, re.MULTILINE)
    after = re.findall(r"^# expect after step (\d+): (.+)$", text, re.MULTILINE)
    together = re.findall(r"^# expect together with (\S+): (.+)$", text, re.MULTILINE)
    judged = re.findall(r"^# judged: (.+)$", text, re.MULTILINE)
    seen = re.findall(r"^# expect a watcher: new (\w+), gone (\w+)$", text, re.MULTILINE)
    assert text.count("# expect") == sum(map(len, (said, nothing, after, together, seen)))
    assert len(seen) == 1
    return Expected(
        frozenset(said),
        bool(nothing),
        {int(number): frozenset(names.split()) for number, names in after},
        {name: frozenset(names.split()) for name, names in together},
        frozenset(judged[0].split()) if judged else None,
        seen[0],
    )


def _settled(path: Path) -> bool:
    return "undecided" not in expected(path).seen and path.stem not in LONG


WATCHED = [path for path in PATHS if _settled(path) or "AIRPROOF_UNDECIDED" in os.environ]


def worked(path: Path) -> Path:
    """The circuit that the change is for."""
    return MODELS / "worked" / parse_change(path.read_text("utf-8"), path.name).circuit.text


@cache
def circuit_of(path: Path) -> Circuit:
    return load(path).circuit


@cache
def known(path: Path, name: str) -> Verdict:
    circuit = circuit_of(path)
    return once(pickle.dumps(("known", circuit, name)), partial(_certified, circuit, name))


def _certified(circuit: Circuit, name: str) -> Verdict:
    return certified(circuit, of_worked(circuit, name), 20.0)


def done(*paths: Path) -> tuple[Original, tuple[Done, ...]]:
    circuit = worked(paths[0])
    first = original(load(circuit), str(circuit.parent))
    changes = [parse_change(path.read_text("utf-8"), path.name) for path in paths]
    return first, applied(first, changes, {})


def judged(path: Path, circuit: Circuit, name: str) -> Word:
    """The verdict on the changed circuit, by what is known of the worked one if that stands."""
    key = pickle.dumps(("judged", str(path), circuit, name))
    return once(key, partial(_judged, path, circuit, name))


def _judged(path: Path, circuit: Circuit, name: str) -> Word:
    if name in circuit_of(path).properties:
        found = carried(circuit, circuit_of(path), known(path, name), Budget(seconds=60.0))
        if found is not None:
            return found.verdict.word
    return _certified(circuit, name).word


def newly_breached(path: Path, circuit: Circuit, wanted: frozenset[str] | None) -> set[str]:
    return {
        name
        for name in circuit.properties
        if (wanted is None or name in wanted)
        and judged(path, circuit, name) == "breached"
        and (name not in circuit_of(path).properties or known(path, name).word != "breached")
    }


def outcomes(path: Path, circuit: Circuit, wanted: frozenset[str] | None) -> set[tuple[str, str]]:
    """What the change does, in the words of the expectations."""
    old = circuit_of(path)
    found = {(name, "newly-breached") for name in newly_breached(path, circuit, wanted)}
    found |= {(name, "withdrawn") for name in old.properties if name not in circuit.properties}
    found |= {(name, "added") for name in circuit.properties if name not in old.properties}
    both = [name for name in old.properties if name in circuit.properties]
    for name in both:
        found |= {(name, SHIFTS[shift.kind]) for shift in shifts(old, circuit, name)}
        if (wanted is None or name in wanted) and known(path, name).word == "breached":
            fresh = judged(path, circuit, name)
            found |= {(name, "no-longer-breached")} if fresh != "breached" else set()
    return found


def test_there_are_changes_of_every_kind() -> None:
    """Harmless ones, harmful ones, a pair that is harmful together, a dangerous half-fitted one."""
    told = [expected(path) for path in PATHS]
    harmful = [one for one in told if any(word == "newly-breached" for _, word in one.said)]
    harmless = [one for one in told if one.nothing]
    assert len(PATHS) >= 12
    assert len(harmful) >= 5
    assert len(harmless) >= 5
    assert sum(bool(one.together) for one in told) >= 2
    assert any(one.after and one not in harmful for one in told)
    assert {word for one in told for _, word in one.said} <= set(OUTCOMES)


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_every_change_applies_and_says_what_it_does(path: Path) -> None:
    """After all its steps there is a circuit, and the file names properties of one of the two."""
    first, steps = done(path)
    circuit = changed(first, steps, {}).circuit
    told = expected(path)
    assert told.nothing or told.said
    assert not (told.nothing and any(word.endswith("breached") for _, word in told.said))
    names = {*circuit.properties, *circuit_of(worked(path)).properties}
    assert {name for name, _ in told.said} <= names


@pytest.mark.slow
@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_the_change_does_what_is_written_in_it(path: Path) -> None:
    """Verdicts and meanings before and after, property by property."""
    first, steps = done(path)
    told = expected(path)
    circuit = changed(first, steps, {}).circuit
    assert outcomes(worked(path), circuit, told.judged) == set(told.said)


@pytest.mark.slow
@pytest.mark.parametrize("path", WATCHED, ids=lambda path: path.stem)
def test_a_watcher_sees_what_is_written_in_it(path: Path) -> None:
    """Both ways; `undecided` where the search is known to end without an answer."""
    first, steps = done(path)
    circuit = changed(first, steps, {}).circuit
    old = circuit_of(worked(path))
    found = apart(old, circuit, Budget(seconds=600.0), combined=False)
    assert (found.new.word, found.gone.word) == expected(path).seen
    plan = laid(old, circuit)
    for showing, one, other in ((found.new, plan.now, plan.was), (found.gone, plan.was, plan.now)):
        if showing.sequence is not None:
            whole = plan.new if one is plan.now else plan.old
            assert replayed(whole, found.sight, showing.scenes, showing.sequence)
        if showing.means == "followed":
            assert showing.certificate is not None
            assert follows(one, other, found.sight, showing.certificate, 60.0)


STAGED = [path for path in PATHS if expected(path).after]


@pytest.mark.slow
@pytest.mark.parametrize("path", STAGED, ids=lambda path: path.stem)
def test_half_fitted_it_breaches_what_is_written_in_it(path: Path) -> None:
    """What is first breached after each step but the last."""
    first, steps = done(path)
    seen: set[str] = set()
    for number, step in enumerate(steps[:-1], start=1):
        circuit = first.load(step.text, step.shown).circuit
        found = newly_breached(worked(path), circuit, None)
        assert found - seen == expected(path).after.get(number, frozenset())
        seen |= found


PAIRED = [path for path in PATHS if expected(path).together]


@pytest.mark.slow
@pytest.mark.parametrize("path", PAIRED, ids=lambda path: path.stem)
def test_together_they_breach_what_neither_does_alone(path: Path) -> None:
    """The property is breached by both changes, and by neither of the two by itself."""
    for name, wanted in expected(path).together.items():
        pair = sorted((path, path.parent / name))
        first, steps = done(*pair)
        circuit = changed(first, steps, {}).circuit
        assert newly_breached(worked(path), circuit, wanted) == wanted
        for alone in pair:
            first, steps = done(alone)
            circuit = changed(first, steps, {}).circuit
            assert newly_breached(worked(path), circuit, wanted) == set()
