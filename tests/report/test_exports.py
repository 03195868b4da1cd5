"""A sequence as CSV and VCD, the verdicts as JUnit XML: read back by parsers that are not ours."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from fractions import Fraction

import junitparser
import pytest

from airproof.circuit.kinds import Circuit
from airproof.circuit.state import State
from airproof.evidence.health import Finding
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Verdict
from airproof.report.junit import HEALTH, to_junit
from airproof.report.results import Results
from airproof.report.table import to_csv
from airproof.report.waves import to_vcd
from report.pusher import pusher, weak_push
from waveforms import VCDVCD

ODD = (
    "a \"quoted\" <b>title</b> & more; $end $var, 'single'",
    "\u202e\u05e2\u05d1\u05e8\u05d9\u05ea \u0639\u0631\u0628\u064a",
    "long " * 4000,
    "]]> -- \\ %s {0} \t tab",
)


def states(sequence: Sequence) -> list[State]:
    return [sequence.start, *(step.after for step in sequence.steps)]


# ---- CSV


def rows(circuit: Circuit, sequence: Sequence) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(to_csv(circuit, sequence))))


def test_the_table_has_every_state_in_full() -> None:
    """Positions, timers and exact values of the start and after each step."""
    circuit, sequence = pusher(), weak_push()
    read = rows(circuit, sequence)
    assert [row["step"] for row in read] == [str(n) for n in range(len(sequence.steps) + 1)]
    assert [row["kind"] for row in read] == ["start", *(step.kind for step in sequence.steps)]
    for row, state in zip(read, states(sequence), strict=True):
        for name, value in state.values.items():
            unit = circuit.quantities[name].unit if name in circuit.quantities else "bar"
            assert Fraction(row[f"{name} {unit}".rstrip()]) == value
        for name, place in state.positions.items():
            left = state.leaving.get(name)
            assert row[name] == (place if left is None else f"{left} -> {place}")
        for name, word in state.timers.items():
            assert row[name] == word


def test_the_table_has_moves_amounts_and_durations() -> None:
    """What moved, what each flow carried, and how long it took where that is known."""
    circuit, sequence = pusher(), weak_push()
    read = rows(circuit, sequence)
    for row, step in zip(read[1:], sequence.steps, strict=True):
        for name in circuit.flows:
            assert Fraction(row[f"{name} bar litre"]) == step.amounts.get(name, 0)
        assert bool(row["moves"]) == (step.kind == "switch")
        lasted = row["duration s"]
        assert (Fraction(lasted) if lasted else None) == step.duration


# ---- VCD


def dumped(circuit: Circuit, sequence: Sequence) -> VCDVCD:
    return VCDVCD(vcd_string=to_vcd(circuit, sequence))


def signal(read: VCDVCD, name: str) -> list[tuple[int, str]]:
    """The signal of that name; the parser adds the width to the names of wires."""
    found = [n for n in read.signals if n.split("[")[0] == f"airproof.{name}"]
    assert len(found) == 1, (name, read.signals)
    return [(at, str(value)) for at, value in read[found[0]].tv]


def value_at(changes: list[tuple[int, str]], moment: int) -> str:
    return [value for at, value in changes if at <= moment][-1]


def test_the_dump_has_every_pressure_as_a_real() -> None:
    """A unit of time is a step; each value is the nearest double."""
    circuit, sequence = pusher(), weak_push()
    read = dumped(circuit, sequence)
    assert sequence.start.values
    for name in sequence.start.values:
        changes = signal(read, f"values.{name}")
        for moment, state in enumerate(states(sequence)):
            assert float(value_at(changes, moment)) == pytest.approx(float(state.values[name]))


def test_the_dump_has_positions_as_wires() -> None:
    """One for each position, high while the thing stands there, none while it is on its way."""
    circuit, sequence = pusher(), weak_push()
    read = dumped(circuit, sequence)
    for name, places in circuit.positions.items():
        for place in places:
            changes = signal(read, f"positions.{name}.{place}")
            for moment, state in enumerate(states(sequence)):
                stands = state.positions[name] == place and name not in state.leaving
                assert value_at(changes, moment) == str(int(stands))


def test_the_dump_has_amounts_timers_and_the_passing_of_time() -> None:
    """Each flow's amount in the step that led to the moment."""
    circuit, sequence = pusher(), weak_push()
    read = dumped(circuit, sequence)
    for number, step in enumerate(sequence.steps, start=1):
        passed = value_at(signal(read, "time_passed"), number)
        assert passed == str(int(step.kind == "elapse"))
        for name in circuit.flows:
            moved = float(value_at(signal(read, f"amounts.{name}"), number))
            assert moved == pytest.approx(float(step.amounts.get(name, 0)))
        for name in circuit.timers:
            for word in ("running", "expired"):
                wire = value_at(signal(read, f"timers.{name}.{word}"), number)
                assert wire == str(int(step.after.timers[name] == word))


def test_names_with_dots_are_scopes_and_clash_with_nothing() -> None:
    """A part's things, beside a thing that is called as the part is."""
    circuit, sequence = pusher(), weak_push()
    volume = circuit.volumes["ram"]
    names = ("cab", "cab.line", "cab.line.end")
    volumes = {**circuit.volumes, **{n: replace(volume, name=n) for n in names}}
    more = {name: Fraction(number) for number, name in enumerate(names)}

    def grown(state: State) -> State:
        return replace(state, values={**state.values, **more})

    longer = Sequence(
        grown(sequence.start), tuple(replace(s, after=grown(s.after)) for s in sequence.steps)
    )
    read = dumped(replace(circuit, volumes=volumes), longer)
    assert [float(value_at(signal(read, f"values.{n}"), 1)) for n in names] == [0.0, 1.0, 2.0]


@pytest.mark.parametrize("title", ODD, ids=["markup", "right to left", "long", "signs"])
def test_a_title_is_text_in_the_dump(title: str) -> None:
    """It neither ends the comment nor becomes a command."""
    circuit, sequence = pusher(title), weak_push()
    text = to_vcd(circuit, sequence)
    plain = to_vcd(pusher(), sequence)
    assert text.split("$end", 1)[1] == plain.split("$end", 1)[1]
    assert dumped(circuit, sequence).signals == dumped(pusher(), sequence).signals
    first = text.split("$end", 1)[0]
    assert title.split()[0].replace("$", "(dollar)") in first


# ---- JUnit

BREACH = Verdict("no_weak_push", "breached", "for some sizes", seconds=0.25, sequence=weak_push())
VERDICTS = (
    BREACH,
    Verdict("can_push", "holds", "any speed", seconds=1.5),
    Verdict("gate_first", "undecided", reason="no breach within", depth=20),
)


def suite(results: Results) -> junitparser.TestSuite:
    (found,) = junitparser.JUnitXml.fromstring(to_junit(results).encode())
    assert isinstance(found, junitparser.TestSuite)
    return found


def results(circuit: Circuit, *findings: Finding) -> Results:
    return Results(circuit, "0" * 64, VERDICTS, findings)


def test_each_property_is_a_case() -> None:
    """Breached fails, undecided is an error, only what holds passes; health is a case too."""
    found = suite(results(pusher()))
    cases = {case.name: case for case in found}
    assert list(cases) == ["no_weak_push", "can_push", "gate_first", HEALTH]
    assert (found.tests, found.failures, found.errors) == (4, 1, 1)
    assert found.time == pytest.approx(1.75)
    (failure,) = cases["no_weak_push"].result
    assert isinstance(failure, junitparser.Failure)
    assert failure.message == "breached, for some sizes"
    assert "1) " in (failure.text or "")
    assert "Breached here" in (failure.text or "")
    (error,) = cases["gate_first"].result
    assert isinstance(error, junitparser.Error)
    assert error.message == "undecided: no breach within 20 steps"
    assert cases["can_push"].is_passed
    assert cases[HEALTH].is_passed


def test_wrong_health_is_an_error_and_a_warning_is_none() -> None:
    """As the exit code has it."""
    wrong = Finding("error", "chatter", ("inlet", "gate"))
    warned = Finding("warning", "position not reached", ("gate is up",))
    assert suite(results(pusher(), warned)).errors == 1
    found = suite(results(pusher(), warned, wrong))
    assert found.errors == 2
    (error,) = next(case for case in found if case.name == HEALTH).result
    assert "never come to rest: inlet, gate" in error.message


@pytest.mark.parametrize(
    "title",
    [*ODD, "a \x00 b \x1b[31m c \ufffe"],
    ids=["markup", "right to left", "long", "signs", "unsayable"],
)
def test_titles_are_text_in_junit(title: str) -> None:
    """Markup is not obeyed; what XML cannot say at all is a question mark."""
    circuit = pusher(title)
    asked = replace(circuit.properties["no_weak_push"], title=title)
    circuit = replace(circuit, properties={**circuit.properties, "no_weak_push": asked})
    found = suite(results(circuit))
    said = "".join("?" if c in "\x00\x1b\ufffe" else c for c in title)
    known = {one.name: one.value for one in found.properties()}  # type: ignore[no-untyped-call]
    assert " ".join(str(known["title"]).split()) == " ".join(said.split())
    (failure,) = next(case for case in found if case.name == "no_weak_push").result
    assert said in (failure.text or "")
