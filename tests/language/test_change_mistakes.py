"""Every row of `grammar/change_mistakes.toml`: where the markers stand and what is said."""

from __future__ import annotations

import re
import tomllib
from typing import Any

import pytest

from airproof.base.diagnostics import Rejected
from airproof.base.source import SourceText
from airproof.base.wording_change import CHANGE
from airproof.base.wording_circuit import CIRCUIT
from airproof.base.wording_text import TEXT
from airproof.language.changing.applying import Original, applied, changed
from airproof.language.changing.reading import parse_change
from language.trees import ROOT

TABLE: dict[str, Any] = tomllib.loads(
    (ROOT / "grammar" / "change_mistakes.toml").read_text(encoding="utf-8")
)
ROWS: list[dict[str, Any]] = TABLE["mistake"]
YARD = Original(TABLE["circuit"], "yard.circuit", None)


def refused(text: str) -> Rejected:
    """Why the change is not accepted for the circuit of the table."""
    sources = {"a.change": SourceText("a.change", text)}
    with pytest.raises(Rejected) as caught:
        changed(YARD, applied(YARD, [parse_change(text, "a.change")], sources), sources)
    return caught.value


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_mistake(row: dict[str, Any]) -> None:
    """The first problem stands at the place of the row and says what the row wants."""
    rejected = refused(row["text"])
    first, *others = rejected.problems
    assert first.span is not None
    assert (first.span.path, first.span.line) == ("a.change", row["line"])
    assert first.span.column == row["column"]
    assert row["says"]
    for fragment in row["says"]:
        assert fragment in first.message
    if "here" in row:
        places = [one.span.line for one in others if one.span and "yard" in one.span.path]
        assert places[:1] == [row["here"]]


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_lines_are_quoted_and_nothing_raw_is_shown(row: dict[str, Any]) -> None:
    """Each problem quotes its line with a marker; no name of the grammar's own is shown."""
    rejected = refused(row["text"])
    assert str(rejected).count("^") >= len(rejected.problems)
    for problem in rejected.problems:
        assert not re.search(r"\b[A-Z]+_[A-Z_]+\b|__ANON|\$END|\{\w+\}", problem.message)


def test_every_sentence_is_shown_by_a_row() -> None:
    """Each sentence about changes is the answer to some row, or is tested elsewhere."""
    said = {problem.code for row in ROWS for problem in refused(row["text"]).problems}
    assert set(CHANGE) - said == {"step_included"}
    assert not set(CHANGE) & (set(TEXT) | set(CIRCUIT))
    assert len({row["id"] for row in ROWS}) == len(ROWS)


def test_every_wrong_step_is_told_at_once() -> None:
    """Three steps that do not apply are three answers, each with its place in the circuit."""
    text = (
        'change "A" to "yard.circuit"\n'
        "step 1: remove safe\nstep 2: fix lever at up\nstep 3: set lift: choke 3 mm\n"
        "step 4: set lift from 9 mm to 4 mm\n"
    )
    codes = [problem.code for problem in refused(text).problems]
    assert codes == [
        "step_property",
        "step_here",
        "step_no_position",
        "step_here",
        "step_no_value",
        "step_here",
    ]


def test_a_later_step_quotes_the_text_as_it_is_by_then() -> None:
    """The second place names the step after which the circuit's text was so."""
    text = 'change "A" to "yard.circuit"\nstep 1: remove poor\nstep 2: fix drain at ajar\n'
    *_, here = refused(text).problems
    assert here.span is not None
    assert here.span.path == "yard.circuit (after step 1 of a.change)"
    assert "isolating cock drain" in str(refused(text))
