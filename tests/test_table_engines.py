"""Every tiny circuit of the table through encoder, behaviour, engines, certify and health."""

from __future__ import annotations

import pytest

from airproof.certify.check import certified
from airproof.certify.obligations import discharge, obligations
from airproof.circuit.behaviour import Behaviour
from airproof.circuit.kinds import Circuit
from airproof.circuit.state import Monitor
from airproof.engines import health, search
from airproof.engines.budget import Budget
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Verdict
from airproof.language import load_text
from airproof.transition.ground import Ground
from judged_once import DEEPEST, SECONDS, of_table
from table_reader import Row, rows

ROWS = rows()
HEALTH = {
    "stopped-time": "stopped time",
    "chatter": "chatter",
    "race": "race",
    "excluded-state": "standing state excluded",
}


def budget() -> Budget:
    return Budget(steps=DEEPEST, seconds=SECONDS)


def said(verdict: Verdict) -> str:
    """The verdict in the table's words."""
    if verdict.word == "undecided":
        return str(verdict.reason).replace(" ", "-")
    if verdict.word == "holds":
        return "possible" if verdict.sequence else "holds"
    return "breached" if verdict.sequence else "impossible"


def followed(circuit: Circuit, name: str, sequence: Sequence) -> bool:
    """The encoding accepts every state and step of the sequence, memory included."""
    ground, behaviour = Ground(circuit, circuit.properties[name]), Behaviour(circuit)
    memory = Monitor()
    if not ground.starts(sequence.start):
        return False
    for before, step in sequence.pairs():
        after = behaviour.next_monitor(circuit.properties[name], memory, before, step)
        if not ground.allows(before, memory, step, after):
            return False
        memory = after
    return memory.breached


def test_the_table_is_there() -> None:
    """The table has more than the sixty circuits it was meant to have."""
    assert len(ROWS) >= 60


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_verdicts_and_lengths(row: Row) -> None:
    """Each property gets the verdict, and each sequence the length, that was worked out by hand."""
    circuit = load_text(row.text, row.name).circuit
    for expected in row.expectations:
        verdict = certified(circuit, of_table(circuit, expected.name), 60)
        wanted = {expected.verdict}
        if expected.length is not None and expected.verdict in ("breached", "needs-sizes"):
            wanted = {"breached", "needs-sizes"}  # by the stated sizes, which come with part two
        assert said(verdict) in wanted, (expected, verdict)
        if verdict.sequence is not None:
            assert verdict.sequence.length == expected.length, expected
            assert followed(circuit, expected.name, verdict.sequence), expected


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_search_alone_agrees(row: Row) -> None:
    """Search finds what is to be found, and nothing where there is nothing by hand."""
    circuit = load_text(row.text, row.name).circuit
    for expected in row.expectations:
        outcome = search.run(circuit, circuit.properties[expected.name], Budget(steps=10))
        assert (outcome.sequence is not None) == (expected.length is not None), expected
        if outcome.sequence is None:
            assert (outcome.why, outcome.steps) == ("deepest", 10), expected


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_health(row: Row) -> None:
    """Errors of health and races are those that the row names; the lack of others is proved."""
    circuit = load_text(row.text, row.name).circuit
    findings = health.examine(circuit, budget())
    found = {f.code for f in findings if f.weight == "error" or f.code == "race"}
    assert found == {HEALTH[word] for word in row.health}
    assert "not examined" not in {f.code for f in findings}


def test_a_spoiled_certificate_is_refused() -> None:
    """An invariant that says nothing is not taken for a proof."""
    row = next(r for r in ROWS if any(e.verdict == "holds" for e in r.expectations))
    circuit = load_text(row.text, row.name).circuit
    name = next(e.name for e in row.expectations if e.verdict == "holds")
    invariant = of_table(circuit, name).certificate
    assert invariant is not None
    empty = type(invariant)(())
    answers = {
        d.answer for d in discharge(obligations(circuit, circuit.properties[name], empty), 60)
    }
    assert "sat" in answers
