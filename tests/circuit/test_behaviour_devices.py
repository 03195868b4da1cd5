"""What devices and timers do in no time, and the moves that a state offers."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.conditions import NO, At
from airproof.circuit.kinds import (
    Circuit,
    Device,
    Interlock,
    Move,
    Timer,
)
from airproof.circuit.state import State, TimerState
from airproof.circuit.switching import Moved
from circuit.small import (
    apart,
    band,
    circuit,
    control,
    hand,
    is_,
    state,
    valve,
    volume,
)
from circuit.small import (
    switch_broken as refused,
)

# ---- devices and timers

AT_ONCE = circuit(volume("pipe"), valve("gate", is_("pipe", ">=", 5, "1/10"), is_("pipe", "<=", 4)))
SLOW = circuit(
    control("lever", "off", "on"),
    Device(
        "gate",
        "valve",
        ("shut", "half", "open"),
        (
            Move("open", At("lever", "on")),
            Move("half", At("lever", "on")),
            Move("shut", At("lever", "off")),
        ),
        ("shut",),
        moving=band(1, 2),
    ),
)


def put(of: Circuit, before: State, gate: str, left: str | None = None) -> State:
    """The state after the gate alone was changed, with no age."""
    return replace(
        before,
        positions={**before.positions, "gate": gate},
        leaving={"gate": left} if left else {},
        aged=frozenset(),
        rested=False,
    )


def test_a_device_moves_from_its_near_edge_on() -> None:
    """Below the near edge nothing calls it."""
    for value, rule in (("4.9", set()), ("4.8", {"not called"})):
        before = state(AT_ONCE, values={"pipe": value})
        assert refused(AT_ONCE, before, put(AT_ONCE, before, "open")) == rule


def test_a_device_without_moving_time_is_never_on_the_way() -> None:
    """It is here or there."""
    before = state(AT_ONCE, values={"pipe": 6})
    assert "no such move" in refused(AT_ONCE, before, put(AT_ONCE, before, "open", "shut"))


def test_devices_read_the_state_before() -> None:
    """Two cross-coupled relays may leave together; a follower is one step behind."""
    of = circuit(
        valve("one", At("two", "shut"), At("two", "open")),
        valve("two", At("one", "shut"), At("one", "open")),
    )
    both = replace(state(of), positions={"one": "open", "two": "open"}, rested=False)
    assert refused(of, state(of), both) == set()
    chain = circuit(control("lever", "off", "on"), valve("gate", At("lever", "on"), NO))
    together = hand(chain, state(chain), lever="on")
    together = replace(together, positions={"lever": "on", "gate": "open"})
    assert refused(chain, state(chain), together) == {"not called"}


def test_setting_off_and_arriving_take_two_steps_with_time_between() -> None:
    """It sets off when called and arrives once it is aged."""
    on = state(SLOW, {"lever": "on"})
    off_it_goes = put(SLOW, on, "open", "shut")
    assert refused(SLOW, on, off_it_goes) == set()
    assert "no such move" in refused(SLOW, on, put(SLOW, on, "open"))
    assert refused(SLOW, off_it_goes, put(SLOW, off_it_goes, "open")) == {"not aged"}
    aged = replace(off_it_goes, aged=frozenset({"gate"}))
    assert refused(SLOW, aged, put(SLOW, aged, "open")) == set()


def test_arriving_and_setting_off_again_are_two_steps() -> None:
    """In one step it does not pass through a position."""
    aged = state(SLOW, {"gate": "open"}, leaving={"gate": "shut"}, aged=frozenset({"gate"}))
    assert "no such move" in refused(SLOW, aged, put(SLOW, aged, "shut", "shut"))


def test_turning_round() -> None:
    """Called back it comes from where it was bound for; called on, from where it left."""
    back = state(SLOW, {"gate": "open"}, leaving={"gate": "shut"})
    assert refused(SLOW, back, put(SLOW, back, "shut", "open")) == set()
    assert refused(SLOW, back, put(SLOW, back, "half", "shut")) == {"not called"}
    onward = state(SLOW, {"gate": "open", "lever": "on"}, leaving={"gate": "shut"})
    assert refused(SLOW, onward, put(SLOW, onward, "half", "shut")) == set()
    assert "no such move" in refused(SLOW, onward, put(SLOW, onward, "half", "open"))
    assert refused(SLOW, onward, put(SLOW, onward, "shut", "open")) == {"not called"}


def test_the_others_keep_their_age() -> None:
    """While a lever moves, a device on the way neither ages nor grows young."""
    going = state(SLOW, {"gate": "open"}, leaving={"gate": "shut"}, aged=frozenset({"gate"}))
    kept = hand(SLOW, going, lever="on")
    assert refused(SLOW, going, kept) == set()
    assert refused(SLOW, going, replace(kept, aged=frozenset())) == {"no such move"}


TIMED = circuit(control("lever", "off", "on"), Timer("bell", At("lever", "on"), band(1, 2)))


@pytest.mark.parametrize(
    ("lever", "was", "now", "rule"),
    [
        ("on", "running", "expired", set()),
        ("off", "running", "expired", set()),
        ("off", "idle", "expired", {"timer"}),
        ("off", "running", "idle", set()),
        ("off", "expired", "idle", set()),
        ("on", "running", "idle", {"timer"}),
        ("on", "expired", "idle", {"timer"}),
    ],
)
def test_timers_in_no_time(lever: str, was: TimerState, now: TimerState, rule: set[str]) -> None:
    """A running timer may expire at any moment; it is reset only where it need not run."""
    before = state(TIMED, {"lever": lever}, timers={"bell": was})
    after = replace(before, timers={"bell": now}, rested=False)
    assert refused(TIMED, before, after) == rule


def test_in_an_instant_a_timer_on_its_setting_may_be_reset_or_not() -> None:
    """What may count as false lets a timer go."""
    of = circuit(volume("pipe"), Timer("bell", is_("pipe", ">=", 5), band(1, 2)))
    for pipe, rule in (("5", set()), ("5.1", {"timer"})):
        before = state(of, values={"pipe": pipe}, timers={"bell": "running"})
        after = replace(before, timers={"bell": "idle"}, rested=False)
        assert refused(of, before, after) == rule


@pytest.mark.parametrize("was", ["idle", "expired"])
def test_no_timer_starts_in_no_time(was: TimerState) -> None:
    """It takes time to run."""
    before = state(TIMED, {"lever": "on"}, timers={"bell": was})
    after = replace(before, timers={"bell": "running"}, rested=False)
    assert "timer" in refused(TIMED, before, after)


# ---- moves and options


def test_moves_made_names_each_move() -> None:
    """What was, what is, and how."""
    behaviour = Behaviour(SLOW)
    on = state(SLOW, {"lever": "on"})
    going = put(SLOW, on, "open", "shut")
    assert behaviour.moves_made(on, going) == (Moved("sets off", "gate", "shut", "open"),)
    assert behaviour.moves_made(going, put(SLOW, going, "shut", "open")) == (
        Moved("turns round", "gate", "open", "shut"),
    )
    aged = replace(going, aged=frozenset({"gate"}))
    assert behaviour.moves_made(aged, put(SLOW, aged, "open")) == (
        Moved("arrives", "gate", "shut", "open"),
    )


def test_every_option_leads_where_it_says() -> None:
    """What is offered is allowed, made into a state, and read back out of it as the same move."""
    behaviour = Behaviour(SLOW)
    for lever, left in product(("off", "on"), (None, "shut", "half")):
        for aged in (frozenset[str](), frozenset({"gate"})) if left else (frozenset[str](),):
            leaving = {"gate": left} if left else {}
            before = state(SLOW, {"lever": lever, "gate": "open"}, leaving=leaving, aged=aged)
            options = behaviour.options(before)
            assert options
            for move in options:
                after = behaviour.moved(before, [move])
                assert refused(SLOW, before, after) == set(), move
                assert behaviour.moves_made(before, after) == (move,)


def test_options_are_the_single_moves() -> None:
    """A running timer may expire, a lever go back; nothing else is on offer."""
    running = state(TIMED, {"lever": "on"}, timers={"bell": "running"})
    assert set(Behaviour(TIMED).options(running)) == {
        Moved("control", "lever", "on", "off"),
        Moved("timer expires", "bell", "running", "expired"),
    }


def test_what_a_rule_forbids_is_no_option() -> None:
    """A lever that a pin holds is not on offer, the pin is."""
    of = circuit(
        control("lever", "off", "on"),
        control("pin", "out", "in"),
        Interlock("pinned", "The pin holds the lever", "lever", "locked", "off", At("pin", "in")),
    )
    held = state(of, {"pin": "in"})
    assert Behaviour(of).options(held) == (Moved("control", "pin", "in", "out"),)


def test_differences_call_devices_too() -> None:
    """A differential piston moves on the difference alone."""
    of = circuit(volume("pipe"), volume("tee"), valve("gate", apart("pipe", "tee", ">", 1), NO))
    for pipe, rule in ((4, set()), (3, {"not called"})):
        before = state(of, values={"pipe": pipe, "tee": "2.5"})
        assert refused(of, before, put(of, before, "open")) == rule
