"""Frames and facts on circuits without numbers, where counting knows the answer."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from random import Random
from typing import get_args

import pytest
import z3

from airproof.certify.obligations import discharge, obligations
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import TIMED, Property
from airproof.engines import growing
from airproof.engines.budget import Budget
from airproof.engines.facts import facts
from airproof.engines.frames import AbstractSequence, Frames, Proof
from airproof.engines.given import given
from airproof.engines.prover import Prover, Way
from airproof.engines.slices import Solvers
from airproof.engines.unrolling import Effort
from airproof.engines.vocabulary import Vocabulary
from airproof.evidence.certificate import Invariant
from airproof.language import load_text
from airproof.transition.encode import encode, layout_of
from airproof.transition.literals import Bit, Edge, Literal
from airproof.transition.system import conjunction
from cross.explicit import Machine
from cross.watching import lengths
from generators import finite
from table_reader import rows

CIRCUITS = 60
MOST = 60  # states of one circuit
DEEPEST = 60  # frames, more than any of these needs


@dataclass(frozen=True, slots=True)
class Scene:
    """One circuit and property, laid out for frames, and what counting knows of it."""

    seed: int
    circuit: Circuit
    asked: Property
    words: Vocabulary
    whole: Solvers
    bad: int
    reached: bool


def scenes(*, coarse: bool = False) -> Iterator[Scene]:
    """Circuits with a property that has no time in it; `coarse`: cubes tell of half of the bits."""
    for seed in range(CIRCUITS):
        circuit = finite(Random(seed), most=MOST)
        (asked,) = circuit.properties.values()
        if isinstance(asked.sentence, TIMED):
            continue
        system = encode(circuit, asked, z3.Context())
        words = Vocabulary(layout_of(system, circuit))
        whole = Solvers(system, Budget(seconds=20), Effort())
        rungs = words.add(Bit(v.key) for v in system.variables)
        bad = words.numbers[Bit(str(system.breached))]
        whole.add_rungs(rungs, {n for n in rungs if n % 2 == 0 or n == bad} if coarse else None)
        length, _ = lengths(Machine(circuit), asked)
        yield Scene(seed, circuit, asked, words, whole, bad, length is not None)


def broken(scene: Scene, invariant: Invariant) -> set[str]:
    """The obligations that the invariant does not meet."""
    duties = obligations(scene.circuit, scene.asked, invariant)
    return {answer.duty for answer in discharge(duties, 60) if answer.answer != "unsat"}


def test_frames_decide_what_has_no_numbers() -> None:
    """Over every boolean of the whole the abstraction is exact: a proof, or a breach, and right."""
    found: set[type] = set()
    for scene in scenes():
        frames = Frames(scene.whole.start, scene.whole.kinds, scene.words.rungs, [[]])
        outcome = frames.run((scene.bad,), DEEPEST)
        assert isinstance(outcome, AbstractSequence if scene.reached else Proof), scene.seed
        if isinstance(outcome, Proof):
            assert not broken(scene, scene.words.invariant(outcome.cubes)), scene.seed
        found.add(type(outcome))
    assert found == {AbstractSequence, Proof}


def test_an_abstract_sequence_leads_from_a_start_to_the_breach() -> None:
    """Its first cube touches the start, its last is the breach, each is one step from the next."""
    for scene in scenes():
        frames = Frames(scene.whole.start, scene.whole.kinds, scene.words.rungs, [[]])
        outcome = frames.run((scene.bad,), DEEPEST)
        if isinstance(outcome, AbstractSequence):
            assert outcome.cubes[-1] == (scene.bad,)
            assert scene.whole.start.touches(outcome.cubes[0])


def test_what_coarse_cubes_prove_holds_at_the_start() -> None:
    """Where they touch the start by what they do not tell, a sequence is all that can be said."""
    found: set[type] = set()
    for scene in scenes(coarse=True):
        frames = Frames(scene.whole.start, scene.whole.kinds, scene.words.rungs, [[]])
        outcome = frames.run((scene.bad,), DEEPEST)
        if isinstance(outcome, Proof):
            assert not broken(scene, scene.words.invariant(outcome.cubes)), scene.seed
        found.add(type(outcome))
    assert found == {AbstractSequence, Proof}


def test_facts_hold_at_the_start_and_are_kept() -> None:
    """Together they are an invariant, whatever it is good for."""
    for scene in scenes():
        kept = facts(scene.whole.start, scene.whole.kinds)
        invariant = scene.words.invariant((-literal,) for literal in kept)
        assert broken(scene, invariant) <= {"safe"}, scene.seed
        assert not (scene.reached and -scene.bad in kept), scene.seed


def greatest(scene: Scene) -> set[int]:
    """The same set of literals, by asking about one after the other."""
    system = encode(scene.circuit, scene.asked, z3.Context())
    words = Vocabulary(layout_of(system, scene.circuit))
    words.add(scene.words.rungs.values())
    solver = z3.Solver(ctx=system.context)

    def so(literal: int, *, after: bool) -> z3.BoolRef:
        spoken = words.spoken[abs(literal)]
        term = spoken.then if after else spoken.now
        return term if literal > 0 else z3.Not(term)

    def can(*terms: z3.BoolRef) -> bool:
        solver.push()
        solver.add(*terms)
        answer = solver.check()
        solver.pop()
        assert answer != z3.unknown
        return bool(answer == z3.sat)

    every = [x for n in words.rungs for x in (n, -n)]
    start = conjunction(system.context, system.start)
    kept = {x for x in every if not can(start, so(-x, after=False))}
    steps = [conjunction(system.context, step) for step in (system.switch, system.elapse)]
    while True:
        held = [so(x, after=False) for x in kept]
        lost = {x for x in kept for step in steps if can(step, *held, so(-x, after=True))}
        if not lost:
            return kept
        kept -= lost


def test_no_fact_is_missed() -> None:
    """They are the most that hold together, and some of them lean on others."""
    compared = 0
    for scene in scenes():
        if scene.seed < 25:
            kept = facts(scene.whole.start, scene.whole.kinds)
            assert set(kept) == greatest(scene), scene.seed
            compared += bool(kept)
    assert compared >= 5


def test_facts_of_a_standing_state_are_its_own() -> None:
    """Charged, the pipe is at 5 bar; the circuit starts with it empty, and it never fills."""
    row = next(row for row in rows() if row.name == "105_standing_state")
    circuit = load_text(row.text, row.name).circuit
    full = Literal(Edge((("line", Fraction(1)),), "<=", Fraction(0)))
    assert full in given(circuit, None, Budget()).literals
    known = given(circuit, "charged", Budget()).literals
    assert known
    assert full not in known


@pytest.mark.parametrize("way", get_args(Way))
def test_slices_prove_only_what_is_so(way: Way, monkeypatch: pytest.MonkeyPatch) -> None:
    """A proof on a slice is one of the whole; what counting reaches is never proved."""
    monkeypatch.setattr(growing, "SMALL", 0)  # else none of these is sliced
    proved = 0
    for scene in scenes():
        prover = Prover(scene.circuit, scene.asked, Budget())
        prover.words.add(prover.first)
        attempt = prover.frames(None, [way])
        if attempt.invariant is not None:
            assert not scene.reached, scene.seed
            assert not broken(scene, attempt.invariant), scene.seed
            proved += 1
        else:
            assert scene.reached, (scene.seed, attempt)
    assert proved
