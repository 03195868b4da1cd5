"""Frames on slices that grow by blame alone prove all that the table says holds."""

from __future__ import annotations

import pytest

from airproof.certify.obligations import discharge, obligations
from airproof.engines import growing
from airproof.engines.budget import Budget
from airproof.engines.prover import Prover
from airproof.language import load_text
from table_reader import Row, rows

PROVED = [row for row in rows() if any(e.length is None for e in row.expectations)]


@pytest.mark.parametrize("row", PROVED, ids=lambda row: row.name)
def test_blame_alone_suffices(row: Row, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without any fact to begin with: what a slice lacks is found, and rungs are learnt."""
    monkeypatch.setattr(growing, "SMALL", 0)  # else hardly one of these is sliced
    circuit = load_text(row.text, row.name).circuit
    for expected in row.expectations:
        if expected.length is not None:
            continue
        prop = circuit.properties[expected.name]
        prover = Prover(circuit, prop, Budget())
        prover.words.add(prover.first)
        attempt = prover.frames(20_000_000, ["blame"])
        assert attempt.invariant is not None, (expected, attempt.why)
        answers = discharge(obligations(circuit, prop, attempt.invariant), 60)
        assert {answer.answer for answer in answers} == {"unsat"}, expected
