"""Far states found from waypoint to waypoint."""

from __future__ import annotations

import pytest

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.kinds import Circuit
from airproof.engines import strategy, walking
from airproof.engines.budget import Budget
from airproof.engines.prover import Prover
from airproof.engines.search import Known, Outcome
from airproof.engines.strategy import Turn
from airproof.engines.walking import walked
from airproof.language import load_text
from airproof.transition.literals import Bit, Edge, Literal
from airproof.transition.system import System

# Three pilots in a row, each opened by air that the one before lets in.
SCENE = """
circuit row "Three pilots in a row"
supply main: 6 bar .. 8 bar, starts 7 bar
control cock: shut, open; starts shut
pipe first: starts 0 bar
pipe second: starts 0 bar
pipe third: starts 0 bar
flow one: main -> first while cock is open, one way
valve two: shut, open; starts shut
    moves to open when first >= 3 bar
    moves to shut when first <= 1 bar
flow two_air: first -> second while two is open, one way
valve three: shut, open; starts shut
    moves to open when second >= 3 bar
    moves to shut when second <= 1 bar
flow three_air: second -> third while three is open, one way
control vent: shut, open; starts shut
flow away: third -> atmosphere while vent is open
property dry "The third pipe stays empty"
    never third >= 2 bar
property bursts "The third pipe never bursts"
    never third >= 9 bar
"""
REST = ["position vent"]
FAR = ["position cock", "position two", "position three", "monitor breached"]


@pytest.fixture(name="row")
def _row() -> Circuit:
    return load_text(SCENE, "row").circuit


def prover(row: Circuit, name: str) -> Prover:
    found = Prover(row, row.properties[name], Budget())
    found.facts()
    return found


def walk(row: Circuit, waypoints: list[Literal], steps: int = 30) -> Outcome | None:
    proof = prover(row, "dry")
    known = Known(proof.system, proof.literals)
    return walked(row, row.properties["dry"], known, waypoints, Budget(steps=steps))


def test_waypoints_come_in_the_order_in_which_they_can(row: Circuit) -> None:
    """The pilots open one after the other, each after its pressure."""
    points = prover(row, "dry").waypoints()
    bits = [point.rung.key for point in points if isinstance(point.rung, Bit)]
    assert [bit for bit in bits if bit in FAR] == FAR
    edges = [name for p in points if isinstance(p.rung, Edge) for name, _ in p.rung.terms]
    assert edges.index("first") < edges.index("second") < edges.index("third")


def test_what_never_comes_about_has_none(row: Circuit) -> None:
    assert prover(row, "bursts").waypoints() == []


def test_a_walk_is_a_run(row: Circuit) -> None:
    """The account without a solver follows it to the breach, which is in its last step."""
    outcome = walk(row, prover(row, "dry").waypoints())
    assert outcome is not None
    run = outcome.sequence
    assert run is not None
    replay = Behaviour(row).replay(row.properties["dry"], run.start, run.steps)
    assert replay.accepted
    assert replay.decided == len(run.steps) - 1
    assert not outcome.shortest


def test_where_what_is_far_must_move_it_does(row: Circuit, monkeypatch: pytest.MonkeyPatch) -> None:
    """With everything called far nothing comes about at rest, and the walk is made all the same."""
    points, tried = prover(row, "dry").waypoints(), list[str]()
    makes = walking._Walk._makes

    def spied(self: walking._Walk, waypoint: Literal, steps: int, still: frozenset[str]) -> str:
        word = makes(self, waypoint, steps, still)
        tried.extend([word] if still else [])
        return word

    monkeypatch.setattr(walking._Walk, "_makes", spied)
    monkeypatch.setattr(walking, "far_from", lambda keys, system, known: _places(system))
    outcome = walk(row, [point for point in points if isinstance(point.rung, Bit)])
    assert outcome is not None
    assert outcome.sequence is not None
    assert "unsat" in tried
    assert "sat" not in tried


def test_what_is_far_rests_where_it_may(row: Circuit, monkeypatch: pytest.MonkeyPatch) -> None:
    """The vent, which nothing on the way depends on, stays as it is in every leg but the first."""
    points, moved = prover(row, "dry").waypoints(), list[bool]()
    makes = walking._Walk._makes

    def spied(self: walking._Walk, waypoint: Literal, steps: int, still: frozenset[str]) -> str:
        before = dict(self.here or {})
        word = makes(self, waypoint, steps, still)
        if word == "sat" and still and self.here is not None:
            moved.extend(before[key] != self.here[key] for key in still)
        return word

    monkeypatch.setattr(walking._Walk, "_makes", spied)
    monkeypatch.setattr(walking, "far_from", lambda keys, system, known: frozenset(REST))
    assert walk(row, points) is not None
    assert moved
    assert not any(moved)


def _places(system: System) -> frozenset[str]:
    return frozenset(v.key for v in system.variables if v.key.startswith(("position ", "value ")))


def test_waypoints_that_cannot_be_got_to_are_left_out(row: Circuit) -> None:
    """A wrong hint costs time, never a wrong run; without the last one nothing was found."""
    points = prover(row, "dry").waypoints()
    both = [Literal(Bit("position vent"), True), *points]
    outcome = walk(row, both)
    assert outcome is None or outcome.sequence is not None
    never = [Literal(Bit("position cock"), True), Literal(Bit("rested"), False)]
    assert walk(row, [*never, Literal(Bit("position two"), True)][:1]) is not None
    assert walk(row, []) is None


def test_a_walk_longer_than_allowed_is_none(row: Circuit) -> None:
    assert walk(row, prover(row, "dry").waypoints(), steps=3) is None


def test_the_verdict_says_that_it_may_not_be_the_shortest(
    row: Circuit, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With next to nothing for the search, the walk finds it; where it stopped is what is clear."""
    turns = (Turn(30_000, 0, ()), Turn(1, 0, (), walk=True))
    monkeypatch.setattr(strategy, "SAFETY", turns)
    verdict = strategy.prove(row, "dry", Budget())
    assert verdict.word == "breached"
    assert verdict.notes == ("a shorter sequence not ruled out",)
    assert verdict.sequence is not None
    assert verdict.depth < len(verdict.sequence.steps) - 1


def test_a_walk_may_go_farther_than_the_search(
    row: Circuit, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where nobody said how long a sequence may be; else it is left alone."""
    turns = (Turn(1_000_000, 0, ()), Turn(1, 0, (), walk=True))
    monkeypatch.setattr(strategy, "SAFETY", turns)
    far = strategy.prove(row, "dry", Budget(steps=3, farthest=20))
    assert far.word == "breached"
    assert far.sequence is not None
    assert len(far.sequence.steps) > far.depth == 3
    near = strategy.prove(row, "dry", Budget(steps=3))
    assert (near.word, near.reason) == ("undecided", "no breach within")
