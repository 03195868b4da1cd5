"""Every exported obligation is answered `unsat` by a solver that airproof does not use.

With the environment variable AIRPROOF_CERTIFICATES, over every property of the worked circuits.
"""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from airproof.circuit.kinds import Circuit
from airproof.evidence.verdict import Verdict
from airproof.language import load, load_text
from certify.scripts import read
from certify.solvers import cvc5_answer, exported, z3_answer
from judged_once import of_table, of_worked
from table_reader import Row, rows

WORKED = Path(__file__).parents[2] / "models" / "worked"
PROVED = ("holds", "impossible")  # the table's words for what an invariant shows
ROWS = [row for row in rows() if any(e.verdict in PROVED for e in row.expectations)]
QUICK = (
    ("winder", "low_supply"),
    ("railcar", "no_overcharge"),
    ("press", "one_valve_stops"),
    ("tram_door", "egress_air_kept"),
    ("air_start", "no_fuel_slow"),
)
EVERYTHING = "AIRPROOF_CERTIFICATES"


def answered(circuit: Circuit, claim: Verdict) -> tuple[int, float]:
    """Has the files of a proof checked; how many there were, and cvc5's time [s].

    There are none if no invariant was found.
    """
    texts, spent = exported(circuit, claim), 0.0
    for file, text in texts.items():
        read(text)
        began = time.process_time()
        assert cvc5_answer(text) == "unsat", file
        spent += time.process_time() - began
        assert z3_answer(text) == "unsat", file
    return len(texts), spent


def test_the_table_has_proofs_to_check() -> None:
    """Most rows state something that is proved."""
    assert len(ROWS) >= 100


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_table(row: Row) -> None:
    """Each proof of the tiny table is four files of QF_LRA that two solvers call `unsat`."""
    circuit = load_text(row.text, row.name).circuit
    for expected in row.expectations:
        if expected.verdict in PROVED:
            assert answered(circuit, of_table(circuit, expected.name))[0] == 4, expected


@pytest.mark.parametrize(("file", "name"), QUICK, ids=lambda word: word)
def test_worked(file: str, name: str) -> None:
    """Some proofs of each worked circuit, likewise."""
    circuit = load(WORKED / f"{file}.circuit").circuit
    assert answered(circuit, of_worked(circuit, name))[0] == 4


@pytest.mark.skipif(EVERYTHING not in os.environ, reason=f"takes minutes; set {EVERYTHING}")
def test_every_proof_of_the_worked_circuits() -> None:
    """All that is proved of them, with the time that it takes cvc5."""
    properties, files, spent = 0, 0, 0.0
    for path in sorted(WORKED.glob("*.circuit")):
        circuit = load(path).circuit
        for name in circuit.properties:
            count, seconds = answered(circuit, of_worked(circuit, name))
            properties, files, spent = properties + bool(count), files + count, spent + seconds
    print(f"{properties} properties, {files} files, cvc5 {spent:.1f} s")
    assert properties >= 30
    assert files == 4 * properties
