"""The reference: every example is read and resolved, and nothing is left out of it."""

from __future__ import annotations

import re

import pytest

from airproof.base.quantities import find_unit, unit_names
from airproof.language import load_text, parse, syntax
from airproof.language.clauses import spoken_clauses
from airproof.language.words import HEADS, RESERVED
from language.trees import ROOT

PAGE = (ROOT / "grammar" / "LANGUAGE.md").read_text(encoding="utf-8")
EXAMPLES = re.findall(r"^```circuit\n(.*?)^```$", PAGE, re.DOTALL | re.MULTILINE)


def statements() -> list[syntax.Statement]:
    """Every statement of every example, those in parts included."""
    found: list[syntax.Statement] = []
    for example in EXAMPLES:
        for statement in parse(example, "example").statements:
            found.append(statement)
            if isinstance(statement, syntax.Part):
                found += statement.body
    return found


def test_examples_are_there() -> None:
    """The page has an example for every section on statements, each a circuit of its own."""
    names = [re.match(r"circuit (\w+)", example) for example in EXAMPLES]
    assert len(EXAMPLES) >= 10
    assert all(names)
    assert len({name.group(1) for name in names if name}) == len(EXAMPLES)


@pytest.mark.parametrize("example", EXAMPLES, ids=[e.split()[1] for e in EXAMPLES])
def test_example_is_read_and_resolved(example: str) -> None:
    """The example means what the page says it is: a circuit."""
    assert load_text(example).circuit.name == example.split()[1]


def test_every_statement_and_sentence_has_an_example() -> None:
    """Only `include` has none, because it needs a second file."""
    shown = {type(statement) for statement in statements()}
    assert set(syntax.Statement.__args__) - shown == {syntax.Include}
    sentences = {type(s.sentence) for s in statements() if isinstance(s, syntax.Property)}
    assert sentences == set(syntax.Sentence.__args__)


def test_every_word_is_explained() -> None:
    """Heads, clauses, units and kept words all stand on the page."""
    flat = re.sub(r"\s+", " ", PAGE)
    for head in HEADS:
        assert re.search(rf"`(?:\w+ )*{head}\b", flat), head
        for clause in spoken_clauses(head):
            assert clause.split(" PLACE")[0].removeprefix("PORT ") in flat, clause
    for unit in unit_names():
        if unit not in ("cubic inches",):
            assert f"`{unit}`" in flat, unit
    kept = re.search(r"only these words are kept: `([^`]*)`", flat)
    assert kept is not None
    assert set(kept.group(1).split()) == RESERVED


def test_ratios_on_the_page_are_units() -> None:
    """Every ratio in backquotes on the page is a unit of the language."""
    table = PAGE.split("## 3.")[1].split("## 4.")[0]
    ratios = re.findall(r"`([A-Za-z.]+/[a-z()\s]+)`", table)
    assert len(ratios) >= 4
    assert all(find_unit(ratio) for ratio in ratios)
