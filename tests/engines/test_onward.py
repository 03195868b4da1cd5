"""Runs of properties with a time in them, gone on with from a run that is known."""

from __future__ import annotations

import pytest
import z3

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.kinds import Circuit
from airproof.circuit.leading import leader
from airproof.engines import search, strategy
from airproof.engines.budget import Budget
from airproof.engines.onward import onward
from airproof.evidence.given import Led
from airproof.evidence.sequence import Sequence
from airproof.language import load_text
from airproof.transition.encode import encode

# A tank that is filled by hand; the leak has a landmark of its own at 3 bar.
SCENE = """
circuit tank "A tank that is filled by hand"
supply main: 6 bar .. 8 bar, starts 7 bar
reservoir tank: 10 litre, starts 0 bar
control cock: shut, open; starts shut
flow fill: main -> tank while cock is open, choke 2 mm, one way
flow leak: tank -> atmosphere while tank >= 4 bar, choke 1 mm
state full: tank = 5 bar
property fills "The tank can be filled"
    possible tank >= 5 bar
property fills_again "From full it can be filled further"
    possible tank >= 6 bar
    from full
property empties "What is above 3 bar is gone in a second"
    whenever tank >= 3 bar, tank <= 1 bar within 1 s
property empties_from_full "The same from full"
    whenever tank >= 3 bar, tank <= 1 bar within 1 s
    from full
property quick "Once the cock is open it is full in a second"
    whenever cock is open, tank >= 5 bar within 1 s
property never_bursts "It is never above the supply"
    always tank <= 8 bar
"""


@pytest.fixture(name="tank")
def _tank() -> Circuit:
    return load_text(SCENE, "tank").circuit


@pytest.fixture(name="filled")
def _filled(tank: Circuit) -> Sequence:
    found = strategy.prove(tank, "fills", Budget(steps=12)).sequence
    assert found is not None
    return found


def went_on(
    tank: Circuit, run: Sequence, steps: int = 30, name: str = "empties"
) -> search.Outcome | None:
    prop = tank.properties[name]
    known = search.Known(encode(tank, prop, z3.Context()))
    return onward(tank, prop, known, run, Budget(steps=steps))


def test_who_leads(tank: Circuit) -> None:
    """The first that is to be possible from the same start; only where there is a time."""
    asked = {name: leader(tank, prop) for name, prop in tank.properties.items()}
    assert asked == {
        "fills": None,
        "fills_again": None,
        "empties": "fills",
        "empties_from_full": "fills_again",
        "quick": "fills",
        "never_bursts": None,
    }


def test_a_run_is_gone_on_with(tank: Circuit, filled: Sequence) -> None:
    """What comes out begins like the run, cut at 3 bar, and is followed by the second account."""
    outcome = went_on(tank, filled)
    assert outcome is not None
    assert outcome.sequence is not None
    run = outcome.sequence
    assert run.start == filled.start
    replay = Behaviour(tank).replay(tank.properties["empties"], run.start, run.steps)
    assert replay.accepted
    assert replay.decided == len(run.steps) - 1
    at_rest = {step.after.values["tank"] for step in filled.steps}
    assert at_rest & {step.after.values["tank"] for step in run.steps} == at_rest
    assert 3 in {step.after.values["tank"] for step in run.steps}
    assert not outcome.shortest


def test_a_breach_within_the_run_ends_it(tank: Circuit, filled: Sequence) -> None:
    """It is over a second before the tank is full, if so much air takes so long."""
    outcome = went_on(tank, filled, name="quick")
    assert outcome is not None
    run = outcome.sequence
    assert run is not None
    assert len(run.steps) < len(filled.steps)
    replay = Behaviour(tank).replay(tank.properties["quick"], run.start, run.steps)
    assert replay.decided == len(run.steps) - 1


def test_a_run_longer_than_allowed_is_not_taken(tank: Circuit, filled: Sequence) -> None:
    assert went_on(tank, filled, steps=len(filled.steps) - 1) is None


def test_a_run_that_is_none_leads_nowhere(tank: Circuit, filled: Sequence) -> None:
    """A run of something else contradicts the system: nothing is found, nothing is claimed."""
    assert went_on(tank, Sequence(filled.start, filled.steps[1:])) is None


def test_the_verdict_is_the_same_who_ever_found_the_run(tank: Circuit, filled: Sequence) -> None:
    alone = strategy.prove(tank, "empties", Budget(steps=12))
    led = strategy.prove(tank, "empties", Budget(steps=12), led=Led(filled))
    assert (alone.word, alone.reason, alone.sequence) == (led.word, led.reason, led.sequence)
