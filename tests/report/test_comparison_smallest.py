"""Which of several changes are said to breach a property, and when that they are the fewest."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import jsonschema
import pytest

from airproof.circuit.kinds import Circuit
from airproof.evidence.verdict import Verdict, Word
from airproof.language import load_text
from airproof.report.comparison import Comparison, Stage
from airproof.report.comparison_data import comparison_json, comparison_schema
from airproof.report.pack import ComparisonPack, render_comparison
from airproof.report.results import Results
from airproof.report.smallest import smallest_lines
from report.test_comparison import said

CIRCUIT: Circuit = load_text(
    'circuit yard\ncontrol a: off, on; starts off\nproperty p "P"\n    never a is on\n'
    'property q "Q"\n    never a is on\n'
).circuit
UNTRIED = "of the changes only each by itself and all together were tried"


def results(**words: Word) -> Results:
    verdicts = tuple(
        Verdict(name, "undecided", reason="time limit")
        if word == "undecided"
        else Verdict(name, word, "any speed")
        for name, word in words.items()
    )
    return Results(CIRCUIT, "0" * 64, verdicts, ())


def stage(changes: str, word: Word | None, **more: Any) -> Stage:
    """With these changes, of one letter each; None: it cannot be judged."""
    found = results(p=word) if word else None
    return Stage(tuple(changes), None, found, None if word else "no circuit", **more)


def compared(*stages: Stage, before: Word = "holds", untried: bool = False) -> Comparison:
    plain = Comparison(results(p=before), results(p="breached"), (), None, "", subsets=stages)
    return replace(plain, untried=untried)


def data(comparison: Comparison) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(comparison_json(comparison))
    jsonschema.validate(found, comparison_schema())
    return found


@pytest.mark.parametrize(
    ("one", "other", "before", "line"),
    [
        ("holds", "holds", "holds", "no fewer than a and b"),
        (
            "undecided",
            "holds",
            "holds",
            "a and b; whether fewer are enough is not known: it is undecided with a",
        ),
        (
            "holds",
            None,
            "holds",
            "a and b; whether fewer are enough is not known: it is not to be judged with b",
        ),
        (
            "holds",
            "holds",
            "undecided",
            "a and b; whether fewer are enough is not known: it is undecided before the change",
        ),
        ("breached", "undecided", "holds", "no fewer than a"),
    ],
)
def test_the_fewest_are_named_only_where_fewer_were_tried_and_decided(
    one: Word, other: Word | None, before: Word, line: str
) -> None:
    """Otherwise the reason is, and the data say so."""
    comparison = compared(
        stage("a", one), stage("b", other), stage("ab", "breached"), before=before
    )
    assert [*smallest_lines(comparison)] == [f"p is breached by {line}"]
    found = data(comparison)
    assert found["fewer_ruled_out"] == {"p": line.startswith("no fewer")}
    assert found["every_set_tried"]


def test_a_set_in_which_it_is_not_asked_rules_nothing_out() -> None:
    """One change asks another property by that name."""
    other = replace(stage("a", "holds"), called={})
    whole = replace(stage("ab", "breached"), called={"p": "p"})
    comparison = compared(other, stage("b", "holds"), whole)
    (line,) = smallest_lines(comparison)
    assert line.endswith("whether fewer are enough is not known: it is not asked with a")


def test_many_changes_are_not_called_the_fewest() -> None:
    """Only single ones and all were tried: said on the terminal, in brief, on the page, in data."""
    singles = [stage(one, "holds") for one in "abcde"]
    comparison = compared(*singles, stage("abcde", "breached"), untried=True)
    line = "p is breached by all of them together; which of them are enough was not tried"
    page = render_comparison(ComparisonPack(comparison, ("x",), "2026-11-28"))
    for text in (said(comparison), said(comparison, briefly=True), page):
        assert line in text
        assert UNTRIED in text
        assert "no fewer than" not in text
    found = data(comparison)
    assert (found["fewer_ruled_out"], found["every_set_tried"]) == ({"p": False}, False)
    alone = compared(stage("a", "breached"), *singles[1:], untried=True)
    assert [*smallest_lines(alone)] == ["p is breached by no fewer than a", UNTRIED]


def test_a_property_goes_by_what_asks_the_same_after_the_change() -> None:
    """Also where another one took its name; what nothing asks any more says so."""
    one = replace(stage("a", "breached"), called={"p": "q"})
    whole = Stage(("a", "b"), None, results(q="breached", p="holds"), called={"p": "p", "q": "q"})
    comparison = compared(one, whole)
    assert [*smallest_lines(comparison)] == ["q is breached by no fewer than a"]
    gone = replace(one, called={})
    assert [*smallest_lines(compared(gone, replace(whole, results=results(p="holds"))))] == [
        "p (as asked before) is breached by no fewer than a"
    ]
    otherwise = replace(gone, known={})
    assert compared(otherwise).called_after(otherwise, "p") == "p (asked otherwise)"


def test_without_steps_nothing_is_said_to_have_one() -> None:
    """Two circuits that say the same, also where what they mark as watched differs."""
    comparison = Comparison(results(p="holds"), results(p="holds"), (), None, "", stages=())
    text = said(comparison)
    assert "there are no steps, so nothing lies in between" in text
    assert "one step only" not in text
    assert "The two circuits say the same, statement by statement." in text
    watched = replace(comparison.after, circuit=replace(CIRCUIT, observed=("a",)))
    text = said(replace(comparison, after=watched, text="+observe a\n"))
    assert "But for what they mark with `observe`, the two circuits say the same" in text
    assert "The two circuits say the same, statement by statement." not in text
