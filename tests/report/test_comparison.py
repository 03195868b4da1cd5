"""What a comparison says of each property, of stages and of what can be reached."""

from __future__ import annotations

import io
import json
from dataclasses import replace

import jsonschema
import pytest
from rich.console import Console

from airproof.circuit.renamed import Renaming
from airproof.evidence.difference import Shift
from airproof.evidence.health import Finding
from airproof.evidence.verdict import Retried, Verdict, Word
from airproof.language import load_text
from airproof.language.changing.nodes import Change
from airproof.language.changing.reading import parse_change
from airproof.report.compared import outcome_of, show_comparison, show_comparison_briefly
from airproof.report.comparison import Comparison, Entry, Outcome, Stage
from airproof.report.comparison_data import comparison_json, comparison_schema
from airproof.report.results import Results

TEXT = """circuit yard
supply main: 0 bar .. 8 bar
control lever: off, on; starts off
relay call: on while lever is on, off otherwise
property first "First"
    never call is on
property second "Second"
    possible call is on
"""
CHANGE = """change "A" to "yard.circuit"
step 1: set main: starts 0 bar
step 2: withdraw second because "it was asked once"
step 3: add
    property second "Second anew"
        possible call is off
"""


def results(
    *words: Word, findings: tuple[Finding, ...] = (), names: str = "first second"
) -> Results:
    circuit = load_text(TEXT).circuit
    verdicts = tuple(
        Verdict(name, word, "any speed" if word != "undecided" else None)
        for name, word in zip(names.split(), words, strict=False)
    )
    return Results(circuit, "0" * 64, verdicts, findings)


def compared(before: Results, after: Results, *changes: Change) -> Comparison:
    return Comparison(before, after, changes, None, "-a\n+b\n")


def said(comparison: Comparison, *, briefly: bool = False) -> str:
    stream = io.StringIO()
    console = Console(file=stream, width=100)
    (show_comparison_briefly if briefly else show_comparison)(comparison, console)
    return " ".join(stream.getvalue().split())


def valid(comparison: Comparison) -> dict[str, object]:
    found: dict[str, object] = json.loads(comparison_json(comparison))
    jsonschema.validate(found, comparison_schema())
    return found


@pytest.mark.parametrize(
    ("before", "after", "outcome"),
    [
        ("holds", "holds", "same"),
        ("breached", "breached", "same"),
        ("holds", "breached", "newly breached"),
        ("undecided", "breached", "newly breached"),
        ("breached", "holds", "no longer breached"),
        ("breached", "undecided", "no longer breached"),
        ("holds", "undecided", "no longer shown"),
        ("undecided", "holds", "now shown"),
        (None, "holds", "added"),
        ("holds", None, "withdrawn"),
    ],
)
def test_the_outcome_of_each_pair(
    before: Word | None, after: Word | None, outcome: Outcome
) -> None:
    """What becomes of the word is told by one word or two."""
    first, second = (Verdict("p", word) if word else None for word in (before, after))
    assert Entry("p", "P", first, second).outcome == outcome


def test_a_withdrawal_is_shown_though_another_of_that_name_was_added() -> None:
    """Nobody exchanges a property for an easier one unseen."""
    change = parse_change(CHANGE, "a.change")
    comparison = compared(results("holds", "holds"), results("holds", "holds"), change)
    for briefly in (False, True):
        told = said(comparison, briefly=briefly)
        assert (
            'second: was withdrawn, because "it was asked once", and another of this name' in told
        )
    entries = valid(comparison)["properties"]
    assert isinstance(entries, list)
    assert [one["withdrawn_because"] for one in entries] == [None, "it was asked once"]


def test_a_property_that_means_something_else_is_named() -> None:
    """Each kind of shift has its sentence, and is in the JSON."""
    shifts = (
        Shift("sentence", "poor"),
        Shift("instants", "poor"),
        Shift("signal", "poor"),
        Shift("thing", "poor"),
        Shift("start", "poor"),
        Shift("state", "poor"),
    )
    comparison = replace(compared(results("holds"), results("holds")), shifts={"first": shifts})
    told = said(comparison)
    assert "first: asks something else now, for the signal poor was changed" in told
    assert "first: speaks of poor, which was changed" in told
    assert told.count("first: ") == len(shifts)
    assert "meaning" in json.dumps(valid(comparison))


def test_what_can_be_reached_is_told_only_of_what_both_have() -> None:
    """New and gone, each with what is proved of the other circuit."""
    gone = Finding("warning", "position not reached", ("call is on",), proved=True)
    new = Finding("warning", "position not reached", ("lever is on",))
    other = Finding("warning", "flow not open", ("nowhere",))
    comparison = compared(results(findings=(new, other)), results(findings=(gone,)))
    assert list(comparison.reach()) == [
        ("new", "position not reached", "lever is on", False),
        ("gone", "position not reached", "call is on", True),
    ]
    told = said(comparison)
    assert "lever is on: newly reached; before no run that was found did" in told
    assert "call is on: no longer reached; after the change no run does" in told
    valid(comparison)
    unseen = Finding("warning", "not examined", ("what is not reached",))
    assert list(compared(results(findings=(unseen,)), results(findings=(gone,))).reach()) == []


def test_stages_and_sets_say_what_is_newly_breached() -> None:
    """What was breached before is not new; a stage that is no circuit shows why."""
    before = results("holds", "breached")
    step = parse_change(CHANGE, "a.change").steps[0]
    stages = (
        Stage(("a.change",), step, results("breached", "breached")),
        Stage(("a.change",), step, None, "yard.circuit:3:1: nothing here is called `x`"),
    )
    comparison = replace(compared(before, before, parse_change(CHANGE, "a.change")), stages=stages)
    assert [comparison.new_at(stage) for stage in stages] == [("first",), ()]
    told = said(comparison)
    assert "after step 1: breaches first" in told
    assert "nothing here is called `x`" in told
    valid(comparison)


def test_the_smallest_sets_are_all_of_the_least_size() -> None:
    """Two of three do it alone; the sets of two that hold one of them do not count."""
    sets = (("a",), ("b",), ("c",), ("a", "b"), ("a", "c"), ("b", "c"))
    stages = tuple(
        Stage(one, None, results("breached" if {"a", "c"} & set(one) else "holds", "holds"))
        for one in sets
    )
    comparison = replace(compared(results("holds", "holds"), results("breached")), subsets=stages)
    assert {
        name: [stage.changes for stage in found] for name, found in comparison.smallest().items()
    } == {"first": [("a",), ("c",)]}
    valid(comparison)


def test_the_smallest_set_knows_a_property_by_its_new_name() -> None:
    """One change breaches it, another calls it otherwise: the one alone is the smallest."""
    named = Renaming(properties={"first": "foremost"})
    before = results("holds", "holds")
    one = Stage(("a",), None, results("breached", "holds"))
    both = Stage(("a", "b"), None, results("breached", "holds", names="foremost second"))
    both = replace(both, renaming=named)
    told = Comparison(before, before, (), None, "", subsets=(one, both), renaming=named)
    assert {name: [s.changes for s in sets] for name, sets in told.smallest().items()} == {
        "foremost": [("a",)]
    }


def test_what_is_not_decided_with_a_slow_device_is_not_simply_the_same() -> None:
    """Neither called newly conditional nor left without a word."""
    holds = Verdict("a", "holds", "any speed", retried=(Retried("call", "holds"),))
    doubt = replace(holds, retried=(Retried("call", "undecided", "time limit"),))
    assert outcome_of(Entry("a", "", holds, holds)) == "same"
    assert outcome_of(Entry("a", "", holds, doubt)) == "same, but slow devices not all decided"
