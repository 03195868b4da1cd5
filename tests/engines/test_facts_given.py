"""Facts shared by properties, and facts that hang on what a property remembers."""

from __future__ import annotations

import pytest
import z3

from airproof.certify.obligations import discharge, obligations
from airproof.circuit.conditions import NO
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Never, Property
from airproof.engines.budget import Budget
from airproof.engines.given import given
from airproof.engines.guarded import pairs_worth_trying
from airproof.engines.prover import NOT_ENOUGH, Prover
from airproof.evidence.certificate import Invariant
from airproof.evidence.given import Given
from airproof.language import load, load_text
from airproof.resources import folder
from airproof.transition.encode import encode
from airproof.transition.system import conjunction
from airproof.transition.translating import translated

GATE = load_text(
    """circuit gate "A gate that opens only once it has been rung for"

control bell: still, rung; starts still; worked by porter
control bar: shut, open; starts shut; worked by porter
timer ringing: runs while bell is rung; expires after 2 s
latch asked: no, yes; starts no
    moves to yes when ringing has expired
    moves to no when bar is open

interlock "The bar is held until somebody has rung"
    bar moves to open only while asked is yes

property rung_first "The bar is open only after the bell has been rung"
    bar is open only after bell is rung
"""
).circuit

WORKED = [load(path).circuit for path in sorted((folder("models") / "worked").glob("*.circuit"))]


@pytest.mark.parametrize("circuit", WORKED, ids=lambda circuit: circuit.name)
def test_given_facts_are_an_invariant(circuit: Circuit) -> None:
    for start in (None, *circuit.standings):
        known = given(circuit, start, Budget())
        assert known.literals
        nothing = Property("nothing", "", Never(NO), start=start)
        invariant = Invariant(tuple((literal,) for literal in known.literals))
        duties = obligations(circuit, nothing, invariant)
        answers = {answer.duty: answer.answer for answer in discharge(duties, 60.0)}
        assert {answers[duty] for duty in ("start", "switch", "elapse")} == {"unsat"}


@pytest.mark.parametrize("circuit", WORKED, ids=lambda circuit: circuit.name)
def test_given_facts_change_no_outcome(circuit: Circuit) -> None:
    known = {start: given(circuit, start, Budget()) for start in (None, *circuit.standings)}
    for prop in list(circuit.properties.values())[::2]:
        alone = Prover(circuit, prop, Budget()).facts()
        helped = Prover(circuit, prop, Budget(), known[prop.start]).facts()
        assert (alone.invariant is None) == (helped.invariant is None)


def test_nothing_is_given_when_the_budget_is_spent() -> None:
    assert given(GATE, None, Budget(resource=0)) == Given()


def test_memory_guards_what_single_facts_cannot_say() -> None:
    prop = GATE.properties["rung_first"]
    proof = Prover(GATE, prop, Budget())
    assert proof.facts().why == NOT_ENOUGH
    attempt = proof.guarded(10_000)
    assert attempt.invariant is not None
    answers = discharge(obligations(GATE, prop, attempt.invariant), 60.0)
    assert [answer.answer for answer in answers] == ["unsat"] * 4


def test_too_many_clauses_are_not_tried() -> None:
    proof = Prover(GATE, GATE.properties["rung_first"], Budget())
    proof.facts()
    pairs = list(pairs_worth_trying(proof.words, proof.known, proof.bad))
    assert proof.guarded(len(pairs) - 1).why == NOT_ENOUGH
    assert proof.guarded(len(pairs)).invariant is not None


def test_a_system_says_the_same_in_another_context() -> None:
    system = encode(GATE, GATE.properties["rung_first"], z3.Context())
    other = translated(system, z3.Context())
    assert other.context != system.context
    for name in ("start", "switch", "elapse"):
        here = conjunction(system.context, getattr(system, name))
        there = conjunction(other.context, getattr(other, name))
        assert here.sexpr() == there.sexpr()
    assert [v.now.ctx for v in other.variables] == [other.context] * len(other.variables)
