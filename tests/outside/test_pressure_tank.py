"""The pressure tank of W.E. Vesely and others, Fault Tree Handbook, NUREG-0492, 1981, ch. VIII.

The system and its modes are told from memory and paraphrased.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from airproof.circuit.kinds import Circuit
from airproof.circuit.state import State
from airproof.engines import strategy
from airproof.engines.budget import Budget
from airproof.evidence.verdict import Verdict
from airproof.language.load import load

TANK = Path(__file__).parent / "pressure_tank.circuit"
EXPECTED = {
    "dormant": "holds",
    "startup": "holds",
    "pumping": "holds",
    "ready": "holds",
    "shutdown": "holds",
    "once_only": "breached",
    "opened_by_hand": "breached",
    "button_bypasses": "breached",
    "starts_by_hand": "holds",
    "full_stops": "holds",
    "stays_shut_down": "holds",
    "needs_emptying": "holds",
}


@pytest.fixture(scope="module")
def tank() -> Circuit:
    return load(TANK).circuit


def prove(tank: Circuit, name: str) -> Verdict:
    return strategy.prove(tank, name, Budget(steps=14, seconds=60))


def visited(verdict: Verdict) -> list[State]:
    assert verdict.sequence is not None
    return [verdict.sequence.start, *(step.after for step in verdict.sequence.steps)]


def test_every_property_of_the_file_is_expected_here(tank: Circuit) -> None:
    """No property of the circuit goes unread."""
    assert list(tank.properties) == list(EXPECTED)


@pytest.mark.parametrize("name", EXPECTED)
def test_the_working_cycle_is_as_the_handbook_tells_it(tank: Circuit, name: str) -> None:
    """Each mode is possible, the cycle repeats, and what it never does is proved at any speed."""
    verdict = prove(tank, name)
    assert verdict.word == EXPECTED[name], verdict
    assert (verdict.sequence is None) == (verdict.strength == "any speed")


def test_a_full_tank_stops_the_pump_while_k1_stays_latched(tank: Circuit) -> None:
    """Ready: the switch is open, k2 dropped, k1 picked, the button long released."""
    last = visited(prove(tank, "ready"))[-1]
    places = {"button": "released", "pressure_switch": "open", "k1": "picked", "k2": "dropped"}
    assert places.items() <= last.positions.items()
    assert last.values["tank"] >= 6


def test_the_timer_drops_both_relays_and_its_contacts_stay_open(tank: Circuit) -> None:
    """Emergency shutdown: k1 drops because the timer ran out, with the tank not full."""
    states = visited(prove(tank, "shutdown"))
    assert any(state.timers["pumping_time"] == "expired" for state in states)
    last = states[-1].positions
    assert (last["timer_contacts"], last["k1"], last["k2"]) == ("open", "dropped", "dropped")


def test_the_cycle_repeats_without_the_button(tank: Circuit) -> None:
    """The emptied tank starts the pump again, k1 latched all the while: one press in all."""
    states = visited(prove(tank, "once_only"))
    presses = sum(
        now.positions["button"] == "pressed" != before.positions["button"]
        for before, now in pairwise(states)
    )
    assert presses == 1
