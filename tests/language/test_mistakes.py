"""Every row of `grammar/mistakes.toml`: where the marker stands and what is said."""

from __future__ import annotations

import re
import tomllib
from typing import Any

import pytest

from airproof.base.diagnostics import Rejected
from airproof.base.wording_circuit import CIRCUIT
from airproof.base.wording_text import TEXT
from airproof.language import load_text
from language.trees import ROOT

ROWS: list[dict[str, Any]] = tomllib.loads(
    (ROOT / "grammar" / "mistakes.toml").read_text(encoding="utf-8")
)["mistake"]


def test_the_table_is_not_short() -> None:
    """Mistakes of writing and of meaning are both there, each under a name of its own."""
    assert len(ROWS) >= 80
    assert len({row["id"] for row in ROWS}) == len(ROWS)
    assert sum("sentence" in row for row in ROWS) >= 30


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_mistake(row: dict[str, Any]) -> None:
    """The first problem stands at the place of the row and says what the row wants."""
    with pytest.raises(Rejected) as caught:
        load_text(row["text"], row["id"])
    problem = caught.value.problems[0]
    assert problem.span is not None
    assert (problem.span.line, problem.span.column) == (row["line"], row["column"])
    assert row["says"]
    for fragment in row["says"]:
        assert fragment in problem.message
    if "sentence" in row:
        assert problem.code == row["sentence"]


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_no_raw_token_is_shown(row: dict[str, Any]) -> None:
    """Messages hold no names of the grammar's own and no unfilled field."""
    with pytest.raises(Rejected) as caught:
        load_text(row["text"], row["id"])
    for problem in caught.value.problems:
        plain = re.sub(r"`[^`]*`", "", problem.message)
        assert not re.search(r"\b[A-Z]+_[A-Z_]+\b|__ANON|\$END|\{\w+\}", problem.message)
        assert not re.search(r"\b(?:token|terminal|lexer|LPAR|COLON)\b", plain)


def test_the_message_shows_file_line_and_marker() -> None:
    """A refusal quotes the line and marks the place under it."""
    with pytest.raises(Rejected) as caught:
        load_text('circuit c "C"\nresevoir tank: starts 0 bar\n', "yard.circuit")
    assert str(caught.value) == (
        "yard.circuit:2:1: `resevoir` is no kind of statement; did you mean `reservoir`?\n"
        "    resevoir tank: starts 0 bar\n"
        "    ^^^^^^^^"
    )


def test_every_sentence_about_writing_is_shown_by_a_row() -> None:
    """Each sentence of `wording_text` is the answer to some row or to a hostile text."""
    said: set[str] = set()
    for row in ROWS:
        with pytest.raises(Rejected) as caught:
            load_text(row["text"], row["id"])
        said |= {problem.code for problem in caught.value.problems}
    elsewhere = {"too_long", "too_many", "long_statement"}
    assert set(TEXT) - said == elsewhere
    assert not set(TEXT) & set(CIRCUIT)
