"""The table of tiny circuits against its reader and the language."""

from __future__ import annotations

from pathlib import Path

import pytest

from airproof import language
from table_reader import Row, TableError, row_of, rows

ROWS = rows()
IDS = [row.name for row in ROWS]
PLAIN = '# rule: starts - a lone key\ncircuit one "One"\ncontrol key: away, turned\n'
PROPERTY = 'property kept "Kept"\n    never key is turned\n'


def test_the_table_is_not_short() -> None:
    """The glob finds the table, and no number stands twice."""
    numbers = [int(name.split("_")[0]) for name in IDS]
    assert len(ROWS) >= 66
    assert numbers == sorted(set(numbers))


def test_every_verdict_and_health_is_shown() -> None:
    """No kind of expectation is without a row."""
    verdicts = {expectation.verdict for row in ROWS for expectation in row.expectations}
    assert verdicts == {"breached", "holds", "possible", "impossible", "needs-sizes"}
    assert {word for row in ROWS for word in row.health} == {
        "stopped-time",
        "chatter",
        "race",
        "excluded-state",
    }


@pytest.mark.parametrize("row", ROWS, ids=IDS)
def test_a_row_is_tiny(row: Row) -> None:
    """One to three properties, and a circuit that fits on a screen."""
    assert 1 <= len(row.expectations) <= 3
    assert len(row.text.splitlines()) <= 40


@pytest.mark.parametrize("row", ROWS, ids=IDS)
def test_a_row_loads(row: Row) -> None:
    """The language accepts the row, and finds in it the properties that are expected."""
    circuit = language.load_text(row.text, row.name).circuit
    assert list(circuit.properties) == [expectation.name for expectation in row.expectations]
    assert row.name == f"{row.name[:3]}_{circuit.name}"


@pytest.mark.parametrize("row", ROWS, ids=IDS)
def test_a_tidied_row_is_the_same_circuit(row: Row) -> None:
    """Tidying changes no meaning, keeps the comments, and has nothing left to do on its own."""
    tidied = language.tidy(row.text, row.name)
    same = language.load_text(tidied, row.name).circuit
    assert same == language.load_text(row.text, row.name).circuit
    assert row_of(row.path, tidied).expectations == row.expectations
    assert language.tidy(tidied, row.name) == tidied


@pytest.mark.parametrize(
    "text",
    [
        PLAIN + PROPERTY,
        PLAIN + "# expect: kept holds\n",
        PLAIN + "# expect: other holds\n" + PROPERTY,
        PLAIN + "# expect: kept breached\n" + PROPERTY,
        PLAIN + "# expect: kept holds 2\n" + PROPERTY,
        PLAIN + "# expect: kept likely\n" + PROPERTY,
        "# health: poor\n" + PLAIN + "# expect: kept breached 2\n" + PROPERTY,
        PLAIN.partition("\n")[2] + "# expect: kept breached 2\n" + PROPERTY,
    ],
)
def test_the_reader_refuses_what_it_cannot_read(text: str) -> None:
    """A row that does not say what it shows, or says it wrongly, is no row."""
    with pytest.raises(TableError):
        row_of(Path("row"), text)


def test_the_reader_reads() -> None:
    """The same text with its comments in order is a row."""
    row = row_of(Path("row"), PLAIN + "# expect: kept breached 2\n" + PROPERTY)
    assert [(e.name, e.verdict, e.length) for e in row.expectations] == [("kept", "breached", 2)]
    assert row.health == ()
