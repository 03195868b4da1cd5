"""What a comparison says of slow devices and of instants, where something was asked or was not."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from fractions import Fraction

import jsonschema
import pytest
from rich.console import Console

from airproof.circuit.kinds import Circuit
from airproof.circuit.state import State
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Retried, Verdict
from airproof.language import load_text
from airproof.report.compared import outcome_of, show_comparison
from airproof.report.comparison import Comparison, Entry
from airproof.report.comparison_data import comparison_json, comparison_schema
from airproof.report.pack import ComparisonPack, render_comparison
from airproof.report.results import Results
from airproof.report.slowed import slow_lines

TEXT = """circuit yard
supply main: 0 bar .. 8 bar
control lever: off, on; starts off
relay call: on while lever is on, off otherwise
relay bell: on while call is on, off otherwise
property quiet "The bell is never on"
    never bell is on
property rings "It can ring"
    possible bell is on
"""
STRICT = TEXT.replace("never bell is on", "never bell is on\n    even for an instant")
LINE = "relay bell: on while call is on, off otherwise\n"
FIXED = TEXT.replace(LINE, "control bell: on, off; starts off; sealed off\n")
CONTROL = TEXT.replace(LINE, "control bell: on, off; starts off\n")
TIMED = TEXT.replace(LINE, f"{LINE}    moving takes 1 s\n")
QUICK = Retried("bell", "breached")
RUN = Sequence(State({"lever": "off", "call": "off", "bell": "off"}, {"main": Fraction(0)}), ())
SLOW = Retried("bell", "holds")
DOUBT = Retried("bell", "undecided", "time limit")
INSTANT = Retried(None, "breached")


def held(*retried: Retried, name: str = "quiet") -> Verdict:
    return Verdict(name, "holds", "any speed", retried=retried)


def compared(
    before: tuple[str, Verdict | None], after: tuple[str, Verdict | None], *more: Verdict
) -> Comparison:
    was, now = (_results(text, verdict, more) for text, verdict in (before, after))
    return Comparison(was, now, (), None, "-a\n+b\n", slowly=True)


def _results(text: str, verdict: Verdict | None, more: tuple[Verdict, ...]) -> Results:
    circuit: Circuit = load_text(text).circuit
    if verdict is None:
        kept = {name: one for name, one in circuit.properties.items() if name != "quiet"}
        circuit = replace(circuit, properties=kept)
    return Results(circuit, "0" * 64, (*((verdict,) if verdict else ()), *more), ())


def told(comparison: Comparison) -> list[str]:
    return [line.text for line in slow_lines(comparison)]


@pytest.mark.parametrize(
    ("before", "after", "line"),
    [
        (
            (STRICT, held()),
            (TEXT, held(INSTANT)),
            "newly breached in an instant; before the change: holds, judged in instants anyway",
        ),
        (
            (TEXT, held(INSTANT)),
            (STRICT, held()),
            "no longer breached in an instant; after the change: holds, judged in instants anyway",
        ),
        (
            (TEXT, held(QUICK)),
            (TEXT, None),
            "was breached with bell slow; after the change: withdrawn",
        ),
        (
            (TEXT, None),
            (TEXT, held(QUICK)),
            "breached with bell slow; before the change: not asked",
        ),
        (
            (TEXT, held(QUICK)),
            (FIXED, held()),
            "no longer breached with bell slow; after the change: holds, for bell is fixed at off",
        ),
        (
            (TEXT, held(QUICK)),
            (CONTROL, held()),
            "no longer breached with bell slow; after the change: holds; bell is no device",
        ),
        (
            (TIMED, held()),
            (TEXT, held(QUICK)),
            "newly breached with bell slow; "
            "before the change: holds, with the time that bell takes to move",
        ),
        (
            (TEXT, held(QUICK)),
            (TEXT, held(DOUBT)),
            "was breached with bell slow; after the change: "
            "undecided (the time for these questions ran out)",
        ),
        (
            (TEXT, held(DOUBT)),
            (TEXT, held(QUICK)),
            "breached with bell slow; before the change: "
            "undecided (the time for these questions ran out)",
        ),
        (
            (TEXT, Verdict("quiet", "breached", "any speed")),
            (TEXT, held(QUICK)),
            "breached with bell slow; before the change: breached anyway",
        ),
        (
            (TEXT, held(SLOW)),
            (TEXT, held(QUICK)),
            "newly breached with bell slow; before the change: holds",
        ),
    ],
)
def test_newly_and_no_longer_are_said_of_what_is_known(
    before: tuple[str, Verdict | None], after: tuple[str, Verdict | None], line: str
) -> None:
    """On either side it must hold so, asked or for a reason that is told."""
    assert told(compared(before, after)) == [f"quiet: {line}"]


def test_nothing_is_named_as_asked_that_was_not() -> None:
    """A `possible` is not asked again, on the terminal and on the page."""
    shown = held(name="rings")
    comparison = compared((TEXT, held(SLOW)), (TEXT, held(SLOW)), shown)
    page = render_comparison(ComparisonPack(comparison, ("a", "b"), "2026-11-28"))
    stream = io.StringIO()
    show_comparison(comparison, Console(file=stream, width=100))
    for text in (stream.getvalue(), page):
        said = " ".join(text.split()).lower()
        assert "holds so too, wherever that was asked: quiet" in said
        assert "not asked so, being `possible`: rings" in said
        assert "everything that holds" not in said
    stream = io.StringIO()
    show_comparison(compared((TEXT, None), (TEXT, None), shown), Console(file=stream, width=100))
    assert "there was nothing to ask again" in stream.getvalue()


def test_what_was_undecided_before_is_not_newly_conditional() -> None:
    """Nor is what nobody asked before the same as what was decided."""
    never = held(SLOW, Retried(None, "holds"))
    assert outcome_of(Entry("a", "", never, held(QUICK))) == "newly conditional"
    assert outcome_of(Entry("a", "", held(DOUBT), held(QUICK))) == "conditional, before undecided"
    assert outcome_of(Entry("a", "", held(DOUBT), held(QUICK, INSTANT))) == "newly conditional"
    assert outcome_of(Entry("a", "", held(QUICK), held(QUICK))) == "same"
    assert outcome_of(Entry("a", "", held(DOUBT), held(SLOW))) == "same"


def test_an_instant_that_makes_it_conditional_is_in_the_data() -> None:
    """Beside the devices, which are none."""
    comparison = compared((STRICT, held()), (TEXT, held(replace(INSTANT, sequence=RUN))))
    found = json.loads(comparison_json(comparison))
    jsonschema.validate(found, comparison_schema())
    (entry,) = found["properties"]
    assert entry["outcome"] == "newly conditional"
    causes = [
        (entry[side]["only_if_at_once"], entry[side]["fails_in_an_instant"])
        for side in ("before", "after")
    ]
    assert causes == [([], False), ([], True)]
    doubted = compared((TEXT, held(DOUBT)), (TEXT, held(replace(QUICK, sequence=RUN))))
    found = json.loads(comparison_json(doubted))
    jsonschema.validate(found, comparison_schema())
    assert found["properties"][0]["outcome"] == "conditional, before undecided"
