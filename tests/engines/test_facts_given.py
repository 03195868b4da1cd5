"""Facts shared by properties, and facts that hang on what a property remembers."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

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
from airproof.engines.quick import OutOfBudget
from airproof.engines.stepping import Cube, Rungs, Start
from airproof.evidence.certificate import Invariant
from airproof.evidence.given import Given
from airproof.language import load, load_text
from airproof.resources import folder
from airproof.transition.encode import encode
from airproof.transition.literals import Rung
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


@pytest.mark.parametrize("circuit", WORKED, ids=lambda circuit: circuit.name)
def test_with_given_facts_everything_else_is_still_known(circuit: Circuit) -> None:
    """What is not tried as a fact again is there when memory guards it, and on the way to it."""
    known = {start: given(circuit, start, Budget()) for start in (None, *circuit.standings)}
    for prop in list(circuit.properties.values())[:: 2 if len(circuit.devices) < 10 else 8]:
        alone = Prover(circuit, prop, Budget())
        helped = Prover(circuit, prop, Budget(), known[prop.start])
        for proof in (alone, helped):
            if proof.facts().why == NOT_ENOUGH:
                proof.guarded(100_000)
        assert set(told(alone, alone.clauses)) == set(told(helped, helped.clauses))
        assert bool(alone.waypoints()) == bool(helped.waypoints())


def told(proof: Prover, clauses: Iterable[Cube]) -> Iterator[frozenset[tuple[Rung, bool]]]:
    """The clauses without the numbers that rungs happen to have."""
    return (frozenset((proof.words.rungs[abs(x)], x > 0) for x in clause) for clause in clauses)


def test_naming_that_was_cut_off_is_not_begun_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """Rungs named twice would spoil what is read off a model."""
    prop = GATE.properties["rung_first"]
    proof = Prover(GATE, prop, Budget(), given(GATE, None, Budget()))
    assert proof.facts().why == NOT_ENOUGH
    assert proof.unnamed
    with monkeypatch.context() as patch:
        patch.setattr(Start, "add_rungs", _no_answer)
        assert proof.guarded(10_000).why == "solver failed: once"
    assert proof.waypoints() is not None


def _no_answer(self: Start, rungs: Rungs) -> None:
    raise OutOfBudget("solver failed: once")


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
