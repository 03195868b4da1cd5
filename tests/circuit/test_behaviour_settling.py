"""Whether devices left to themselves come to rest."""

from __future__ import annotations

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.conditions import NO, YES, AllOf, At, Expired, Not
from airproof.circuit.kinds import Circuit, Interlock, Timer
from airproof.circuit.settling import Exploration
from airproof.circuit.state import State
from circuit.small import band, circuit, control, is_, state, valve, volume


def explored(of: Circuit, start: State) -> Exploration:
    """What comes out, each step on the way checked."""
    behaviour = Behaviour(of)
    found = behaviour.explore_devices(start)
    for before, after in zip((start, *found.steps), found.steps, strict=False):
        assert behaviour.switch_refusals(before, after) == ()
    for before, after in zip(found.race, found.race[1:], strict=False):
        assert behaviour.switch_refusals(before, after) == ()
    return found


def test_a_settled_state_needs_no_step() -> None:
    """Nothing is due: time may pass at once."""
    of = circuit(volume("pipe"), valve("gate", is_("pipe", ">=", 5), NO))
    found = explored(of, state(of))
    assert (found.outcome, found.steps, found.race) == ("settled", (), ())


def test_a_chain_settles_link_by_link() -> None:
    """Each relay follows the one before it: three steps."""
    of = circuit(
        control("lever", "off", "on"),
        valve("one", At("lever", "on"), NO),
        valve("two", At("one", "open"), NO),
        valve("three", At("two", "open"), NO),
    )
    found = explored(of, state(of, {"lever": "on"}))
    assert found.outcome == "settled"
    assert len(found.steps) == 3
    assert found.race == ()


def test_a_relay_that_breaks_its_own_circuit_chatters() -> None:
    """It picks up because it has dropped, and the other way round: a loop."""
    of = circuit(valve("buzzer", At("buzzer", "shut"), At("buzzer", "open")))
    found = explored(of, state(of))
    assert found.outcome == "loop"
    assert found.race[0].positions == found.race[-1].positions
    assert len(found.race) == 3


def test_chatter_of_two_is_found() -> None:
    """One follows, the other opposes: nothing ever rests, whatever the order."""
    of = circuit(
        valve("one", At("two", "shut"), At("two", "open")),
        valve("two", At("one", "open"), At("one", "shut")),
    )
    assert explored(of, state(of)).outcome == "loop"


def test_cross_coupled_relays_race_and_settle() -> None:
    """Whoever is first holds the other; moving together they may go round for ever."""
    of = circuit(
        valve("one", At("two", "shut"), At("two", "open")),
        valve("two", At("one", "shut"), At("one", "open")),
    )
    found = explored(of, state(of))
    assert found.outcome == "settled"
    assert len(found.steps) == 1
    assert {s.positions["one"] for s in found.race} == {"shut", "open"}


def test_a_device_that_may_wait_does_not_race() -> None:
    """Resting inside its tolerance it may go to and fro, but nothing obliges it."""
    gate = valve("gate", is_("pipe", ">=", 5, "1/10"), is_("pipe", "<=", 5, "1/10"))
    of = circuit(volume("pipe"), gate)
    found = explored(of, state(of, values={"pipe": 5}))
    assert (found.outcome, found.race) == ("settled", ())


def test_a_clash_of_interlocks_stops_time() -> None:
    """Forced on and locked off: due, and no way to go."""
    of = circuit(
        control("lever", "off", "on"),
        Interlock("spring", "Spring", "lever", "forced", "on", YES),
        Interlock("bolt", "Bolt", "lever", "locked", "off", YES),
    )
    assert explored(of, state(of)).outcome == "deadlock"


def test_a_forced_control_moves_by_itself_and_others_do_not() -> None:
    """The spring puts the lever on; nobody moves the key that would let the sealed one be."""
    of = circuit(
        control("lever", "off", "on"),
        Interlock("spring", "Spring", "lever", "forced", "on", YES),
    )
    found = explored(of, state(of))
    assert found.outcome == "settled"
    assert found.steps[0].positions == {"lever": "on"}
    sealed = circuit(
        control("lever", "off", "on", sealed="off"),
        control("key", "in", "out"),
        Interlock("spring", "Spring", "lever", "forced", "on", At("key", "in")),
    )
    assert explored(sealed, state(sealed)).outcome == "deadlock"


def test_timers_are_reset_on_the_way() -> None:
    """A timer that has run out and is called no longer is reset before time passes."""
    of = circuit(control("lever", "off", "on"), Timer("bell", At("lever", "on"), band(1, 2)))
    found = explored(of, state(of, timers={"bell": "expired"}))
    assert found.outcome == "settled"
    assert found.steps[0].timers == {"bell": "idle"}


def test_no_timer_expires_on_the_way() -> None:
    """That a running timer might end just now does not save a chattering relay."""
    runs = Not(Expired("bell"))
    of = circuit(
        valve("buzzer", AllOf((At("buzzer", "shut"), runs)), AllOf((At("buzzer", "open"), runs))),
        Timer("bell", YES, band(1, 2)),
    )
    assert explored(of, state(of, timers={"bell": "running"})).outcome == "loop"
    assert explored(of, state(of, timers={"bell": "expired"})).outcome == "settled"


def test_a_device_on_the_way_lets_time_pass() -> None:
    """With a moving time the buzzer is a slow one, and no chatter."""
    of = circuit(valve("buzzer", At("buzzer", "shut"), At("buzzer", "open"), moving=band(1, 2)))
    found = explored(of, state(of))
    assert found.outcome == "settled"
    assert found.steps[0].leaving == {"buzzer": "shut"}


def test_the_search_says_when_it_gave_up() -> None:
    """More states than allowed: unknown, and not settled or stuck."""
    of = circuit(*(valve(f"v{i}", At(f"v{i}", "shut"), At(f"v{i}", "open")) for i in range(5)))
    assert Behaviour(of).explore_devices(state(of), most=3).outcome == "unknown"
