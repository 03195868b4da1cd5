"""A question that was too hard, put again with all that is far from the property at rest."""

from __future__ import annotations

import pytest
import z3

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.kinds import Circuit
from airproof.engines.budget import Budget
from airproof.engines.search import Outcome, Search
from airproof.engines.staying import far_from
from airproof.engines.unrolling import Answer, Unrolling
from airproof.language import load_text
from airproof.transition.encode import encode
from airproof.transition.slicing import reads
from airproof.transition.system import System, memory_of

# Two tanks that have nothing to do with each other, and a row of three in which
# the last is filled through the others.
SCENE = """
circuit yard "Two tanks and a row"
supply main: 6 bar .. 8 bar, starts 7 bar
control near: shut, open; starts shut
pipe tank: starts 0 bar
flow fills: main -> tank while near is open, one way
control far: shut, open; starts shut
pipe other: starts 0 bar
flow fills_other: main -> other while far is open, one way
control cock: shut, open; starts shut
pipe first: starts 0 bar
flow one: main -> first while cock is open, one way
valve second: shut, open; starts shut
    moves to open when first >= 3 bar
    moves to shut when first <= 1 bar
pipe middle: starts 0 bar
flow two: first -> middle while second is open, one way
valve third: shut, open; starts shut
    moves to open when middle >= 3 bar
    moves to shut when middle <= 1 bar
pipe last: starts 0 bar
flow three: middle -> last while third is open, one way
property tank_empty "The tank stays empty"
    never tank >= 2 bar
property row_empty "The last of the row stays empty"
    never last >= 2 bar
"""


@pytest.fixture(name="yard")
def _yard() -> Circuit:
    return load_text(SCENE, "yard").circuit


def system_of(yard: Circuit, name: str) -> System:
    return encode(yard, yard.properties[name], z3.Context())


def far(yard: Circuit, name: str) -> frozenset[str]:
    system = system_of(yard, name)
    return far_from(memory_of(system), system, reads(system))


def hunted(yard: Circuit, name: str, monkeypatch: pytest.MonkeyPatch, hard: int) -> Outcome:
    """What a search finds that gets no answer for sequences of `hard` steps."""
    ask = Unrolling.stubborn

    def stubborn(self: Unrolling, budget: Budget, *assumptions: z3.BoolRef) -> Answer:
        if self.steps >= hard:
            return Answer("unknown", "solver limit")
        return ask(self, budget, *assumptions)

    monkeypatch.setattr(Unrolling, "stubborn", stubborn)
    search = Search(yard, yard.properties[name], Budget())
    return search.deepen(hard, units=10_000_000)


def test_what_is_far(yard: Circuit) -> None:
    """Places and values only, and none that the property's own may depend on in a few steps."""
    tank = far(yard, "tank_empty")
    assert {"value other", "position far", "value last", "position third"} <= tank
    assert tank.isdisjoint({"value tank", "position near", "value main"})
    assert not [key for key in tank if not key.startswith(("position ", "value "))]
    row = far(yard, "row_empty")
    assert {"value tank", "value other", "position cock"} <= row
    assert row.isdisjoint({"value last", "position third", "value middle"})


def test_a_breach_nearby_is_found(yard: Circuit, monkeypatch: pytest.MonkeyPatch) -> None:
    """The account without a solver follows it, nothing far moves, and fewer steps do not do."""
    outcome = hunted(yard, "tank_empty", monkeypatch, hard=3)
    run = outcome.sequence
    assert run is not None
    prop = yard.properties["tank_empty"]
    replay = Behaviour(yard).replay(prop, run.start, run.steps)
    assert replay.accepted
    assert replay.decided == len(run.steps) - 1
    assert outcome.steps == len(run.steps) - 1 == 2
    for step in run.steps:
        assert step.after.values["other"] == step.after.values["last"] == 0
        assert step.after.positions["far"] == step.after.positions["third"] == "shut"


def test_none_nearby_says_what_stopped_it(yard: Circuit, monkeypatch: pytest.MonkeyPatch) -> None:
    """With the cock at rest the row stays empty: nothing follows, and nothing is claimed."""
    outcome = hunted(yard, "row_empty", monkeypatch, hard=9)
    assert (outcome.sequence, outcome.why, outcome.steps) == (None, "solver limit", 8)


def test_the_search_goes_on_where_it_was(yard: Circuit, monkeypatch: pytest.MonkeyPatch) -> None:
    """What was at rest for one question is not for the next: in nine steps the row is filled."""
    search = Search(yard, yard.properties["row_empty"], Budget())
    with monkeypatch.context() as patch:
        answer = Answer("unknown", "solver limit")
        search.deepen(8)
        patch.setattr(Unrolling, "stubborn", lambda *_: answer)
        assert search.deepen(9, units=10_000_000).sequence is None
    outcome = search.deepen(9)
    assert outcome.sequence is not None
    assert (len(outcome.sequence.steps), outcome.steps) == (9, 8)


def test_what_stops_it_is_said(yard: Circuit, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C, or the end of the time, while all that is far is at rest."""
    budget = Budget()
    search = Search(yard, yard.properties["row_empty"], budget)
    search.deepen(4)

    def stubborn(self: Unrolling, budget: Budget, *assumptions: z3.BoolRef) -> Answer:
        budget.cancelled.set()
        return Answer("unknown", "solver limit")

    monkeypatch.setattr(Unrolling, "stubborn", stubborn)
    outcome = search.deepen(9, units=10_000_000)
    assert (outcome.sequence, outcome.why, outcome.steps) == (None, "interrupted", 4)


def test_it_costs_no_more_than_is_left(yard: Circuit, monkeypatch: pytest.MonkeyPatch) -> None:
    """The whole budget counts, not only a turn's share."""
    search = Search(yard, yard.properties["tank_empty"], Budget())
    search.deepen(2)
    search.budget = Budget(resource=search.unrolling.effort.units)
    monkeypatch.setattr(Unrolling, "stubborn", lambda *_: Answer("unknown", "solver limit"))
    assert search.deepen(3, units=10_000_000).sequence is None


def test_no_answer_is_none(yard: Circuit, monkeypatch: pytest.MonkeyPatch) -> None:
    """A solver that says neither yes nor no has found nothing."""
    first = iter([True])  # whether there is a start at all
    ask = Unrolling.check

    def check(self: Unrolling, budget: Budget, *assumptions: z3.BoolRef) -> Answer:
        if next(first, False):
            return ask(self, budget, *assumptions)
        return Answer("unknown", "solver limit")

    monkeypatch.setattr(Unrolling, "check", check)
    outcome = hunted(yard, "tank_empty", monkeypatch, hard=1)
    assert (outcome.sequence, outcome.why) == (None, "solver limit")
