"""Starts, and what may move in no time."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.conditions import NO, YES, At, Condition, GoneTo, Not
from airproof.circuit.kinds import (
    Circuit,
    Interlock,
    RangeControl,
    Standing,
    Timer,
)
from airproof.circuit.properties import Assumption, KeptRule, SupplyRule
from airproof.circuit.state import Step
from airproof.circuit.switching import Moved
from circuit.small import (
    Thing,
    band,
    circuit,
    control,
    hand,
    is_,
    rules,
    state,
    supply,
    valve,
    volume,
)
from circuit.small import (
    switch_broken as refused,
)


def lock(rule: str, position: str, condition: Condition, name: str = "lock") -> Interlock:
    return Interlock(name, name, "lever", rule, position, condition)  # type: ignore[arg-type]


# ---- starts

YARD = circuit(
    supply(),
    volume("pipe", starts=band(2, 3)),
    replace(control("lever", "off", "on"), starts=("off",)),
    control("cock", "shut", "open", sealed="open"),
    replace(valve("gate", is_("pipe", ">=", 5), is_("pipe", "<=", 4)), starts_called=True),
    Timer("bell", YES, band(1, 2)),
    Assumption("enough", "Enough", SupplyRule((is_("main", ">=", 4),))),
    Standing("charged", {"gate": "shut", "lever": "on"}, {"pipe": Fraction(6)}),
)
GOOD = state(YARD, {"cock": "open"}, {"main": 6, "pipe": 2})


def test_a_start_within_all_bands_is_allowed() -> None:
    """Stated positions and values, all at rest: the circuit starts so."""
    assert Behaviour(YARD).start_refusals(GOOD) == ()


@pytest.mark.parametrize(
    ("change", "rule"),
    [
        ({"positions": {**GOOD.positions, "lever": "on"}}, "start position"),
        ({"positions": {**GOOD.positions, "cock": "shut"}}, "start position"),
        ({"values": {**GOOD.values, "pipe": Fraction(4)}}, "start value"),
        ({"values": {**GOOD.values, "main": Fraction(3)}}, "supply rule"),
        ({"positions": {**GOOD.positions, "gate": "open"}}, "start called"),
        ({"timers": {"bell": "running"}}, "start memory"),
        ({"fresh": frozenset({"lever"})}, "start memory"),
        ({"rested": False}, "start memory"),
        ({"leaving": {"gate": "open"}}, "start memory"),
        ({"values": {"main": Fraction(6)}}, "names"),
        ({"positions": {**GOOD.positions, "lever": "half"}}, "names"),
    ],
)
def test_what_a_start_is_refused_for(change: dict[str, object], rule: str) -> None:
    """Each departure from the stated start is refused by its own rule and no other."""
    start = replace(GOOD, **change)  # type: ignore[arg-type]
    assert rules(Behaviour(YARD).start_refusals(start)) == {rule}


def test_a_start_on_the_setting_is_not_called() -> None:
    """Only what must move keeps a device from starting there."""
    gate = replace(valve("gate", is_("pipe", ">=", 5), NO), starts_called=True)
    of = circuit(volume("pipe"), gate)
    assert Behaviour(of).start_refusals(state(of, values={"pipe": 5})) == ()
    assert rules(Behaviour(of).start_refusals(state(of, values={"pipe": "5.1"}))) == {
        "start called"
    }


def test_a_standing_state_replaces_what_it_pins_and_no_device_is_asked() -> None:
    """From the standing state the gate may stand shut at a pressure that calls it open."""
    pinned = state(YARD, {"cock": "open", "lever": "on"}, {"main": 6, "pipe": 6})
    assert Behaviour(YARD).start_refusals(pinned, "charged") == ()
    off = state(YARD, {"cock": "open"}, {"main": 6, "pipe": 6})
    assert rules(Behaviour(YARD).start_refusals(off, "charged")) == {"start position"}
    other = state(YARD, {"cock": "open", "lever": "on"}, {"main": 6, "pipe": 2})
    assert rules(Behaviour(YARD).start_refusals(other, "charged")) == {"start value"}


# ---- controls

BENCH = circuit(
    supply(),
    control("lever", "off", "on"),
    control("selector", "low", "middle", "high", ordered=True),
    control("cock", "shut", "open", sealed="shut"),
    RangeControl("handle", band(0, 5), band(0, 5)),
)
REST = state(BENCH)


def test_controls_move_together_or_alone() -> None:
    """Any set of controls may move in one step, one move each."""
    assert refused(BENCH, REST, hand(BENCH, REST, lever="on")) == set()
    assert refused(BENCH, REST, hand(BENCH, REST, lever="on", selector="middle")) == set()


def test_something_must_move() -> None:
    """A switch step in which nothing moves is none."""
    assert refused(BENCH, REST, replace(REST, rested=False)) == {"nothing moves"}


def test_an_ordered_control_goes_one_place_at_a_time() -> None:
    """From low to high it stops at middle."""
    assert refused(BENCH, REST, hand(BENCH, REST, selector="high")) == {"not a neighbour"}


def test_a_sealed_control_never_moves() -> None:
    """Nobody opens a sealed cock."""
    assert refused(BENCH, REST, hand(BENCH, REST, cock="open")) == {"sealed"}


def test_nobody_moves_a_control_twice_in_no_time() -> None:
    """Back again needs time in between; another control may follow at once."""
    once = hand(BENCH, REST, lever="on")
    assert refused(BENCH, once, hand(BENCH, once, lever="off")) == {"twice in no time"}
    assert refused(BENCH, once, hand(BENCH, once, selector="middle")) == set()
    later = replace(once, rested=True)
    assert refused(BENCH, later, hand(BENCH, later, lever="off")) == set()


def test_fresh_gathers_within_an_instant_and_begins_anew_after_time() -> None:
    """Moves of one instant add up; the first step after time forgets the earlier ones."""
    once = hand(BENCH, REST, lever="on")
    twice = hand(BENCH, once, selector="middle")
    assert twice.fresh == {"lever", "selector"}
    forgetful = replace(twice, fresh=frozenset({"selector"}))
    assert refused(BENCH, once, forgetful) == {"memory"}
    later = replace(once, rested=True)
    assert hand(BENCH, later, selector="middle").fresh == {"selector"}
    remembering = replace(hand(BENCH, later, selector="middle"), fresh=twice.fresh)
    assert refused(BENCH, later, remembering) == {"memory"}


def test_only_range_controls_change_a_value_in_no_time() -> None:
    """A handle may be set anew within its range, a supply stays."""
    behaviour = Behaviour(BENCH)
    was = Fraction(0)
    set_to_5 = behaviour.moved(REST, [Moved("range", "handle", was, Fraction(5))])
    assert refused(BENCH, REST, set_to_5) == set()
    again = behaviour.moved(set_to_5, [Moved("range", "handle", Fraction(5), was)])
    assert refused(BENCH, set_to_5, again) == {"twice in no time"}
    beyond = behaviour.moved(REST, [Moved("range", "handle", was, Fraction(6))])
    assert refused(BENCH, REST, beyond) == {"range"}
    jumped = hand(BENCH, REST, lever="on")
    jumped = replace(jumped, values={**jumped.values, "main": Fraction(1)})
    assert refused(BENCH, REST, jumped) == {"value changed"}


def test_a_switch_step_takes_no_time_and_moves_no_air() -> None:
    """A duration or an amount on a switch step is refused."""
    after = hand(BENCH, REST, lever="on")
    behaviour = Behaviour(BENCH)
    assert behaviour.step_refusals(REST, Step("switch", after, duration=Fraction(0)), ()) == ()
    slow = Step("switch", after, duration=Fraction(1))
    assert rules(behaviour.step_refusals(REST, slow, ())) == {"takes no time"}
    blown = Step("switch", after, amounts={"feed": Fraction(1)})
    assert rules(behaviour.step_refusals(REST, blown, ())) == {"takes no time"}


# ---- interlocks

FENCE = (control("lever", "off", "on"), control("rope", "tight", "slack"))


def fenced(*interlocks: Thing) -> Circuit:
    return circuit(*FENCE, volume("pipe"), *interlocks)


def test_moves_to_only_while() -> None:
    """The lever goes on with a tight rope, not with a slack one, and goes off freely."""
    of = fenced(lock("only", "on", At("rope", "tight")))
    tight, slack = state(of), state(of, {"rope": "slack"})
    assert refused(of, tight, hand(of, tight, lever="on")) == set()
    assert refused(of, slack, hand(of, slack, lever="on")) == {"interlock"}
    on = state(of, {"rope": "slack", "lever": "on"})
    assert refused(of, on, hand(of, on, lever="off")) == set()


def test_an_interlock_asks_before_and_with_all_else_moved() -> None:
    """A rope that goes slack, or tight, in the same instant does not open the gap."""
    of = fenced(lock("only", "on", At("rope", "tight")))
    tight, slack = state(of), state(of, {"rope": "slack"})
    assert refused(of, tight, hand(of, tight, lever="on", rope="slack")) == {"interlock"}
    assert refused(of, slack, hand(of, slack, lever="on", rope="tight")) == {"interlock"}


def test_an_interlock_does_not_see_its_own_control_moved() -> None:
    """The state with all else moved has the control itself, and its freshness, as before."""
    itself = fenced(lock("only", "on", At("lever", "off")))
    start = state(itself)
    assert refused(itself, start, hand(itself, start, lever="on")) == set()
    gone = fenced(lock("only", "on", Not(GoneTo("lever", "off"))))
    assert refused(gone, state(gone), hand(gone, state(gone), lever="on")) == set()


def test_locked_while() -> None:
    """It cannot leave the position; elsewhere the lock has no effect."""
    of = fenced(lock("locked", "on", At("rope", "slack")))
    on = state(of, {"lever": "on", "rope": "slack"})
    assert refused(of, on, hand(of, on, lever="off")) == {"interlock"}
    off = state(of, {"rope": "slack"})
    assert refused(of, off, hand(of, off, lever="on")) == set()


def test_at_a_landmark_an_interlock_lets_go() -> None:
    """What may count as true opens `only`, what may count as false opens `locked`."""
    only = fenced(lock("only", "on", is_("pipe", ">=", 5, "1/10")))
    edge = state(only, values={"pipe": "4.9"})
    assert refused(only, edge, hand(only, edge, lever="on")) == set()
    below = state(only, values={"pipe": "4.8"})
    assert refused(only, below, hand(only, below, lever="on")) == {"interlock"}
    locked = fenced(lock("locked", "off", is_("pipe", ">=", 5, "1/10")))
    inside = state(locked, values={"pipe": "5.1"})
    assert refused(locked, inside, hand(locked, inside, lever="on")) == set()
    above = state(locked, values={"pipe": "5.2"})
    assert refused(locked, above, hand(locked, above, lever="on")) == {"interlock"}


def test_forced_to_and_nowhere_else() -> None:
    """While it is forced on, the lever may go on but not off."""
    of = fenced(lock("forced", "on", At("rope", "slack")))
    off, on = state(of, {"rope": "slack"}), state(of, {"rope": "slack", "lever": "on"})
    assert refused(of, off, hand(of, off, lever="on")) == set()
    assert refused(of, on, hand(of, on, lever="off")) == {"interlock"}


def test_a_forced_move_may_follow_a_move_of_the_same_instant() -> None:
    """Who has just put the lever off cannot keep the spring from putting it on."""
    of = fenced(lock("forced", "on", At("rope", "slack")))
    just_off = state(of, {"rope": "slack"}, fresh=frozenset({"lever"}), rested=False)
    assert refused(of, just_off, hand(of, just_off, lever="on")) == set()
    tight = replace(just_off, positions={**just_off.positions, "rope": "tight"})
    assert refused(of, tight, hand(of, tight, lever="on")) == {"twice in no time"}


def test_other_rules_bind_a_forced_move() -> None:
    """Forced on and locked off at once: a clash, and nothing moves."""
    of = fenced(lock("forced", "on", YES), lock("locked", "off", YES, name="other"))
    assert refused(of, state(of), hand(of, state(of), lever="on")) == {"interlock"}


def test_an_ordered_control_is_forced_place_by_place() -> None:
    """One place nearer is the forced direction, one place farther is not."""
    lever = control("lever", "a", "b", "c", "d", ordered=True)
    of = circuit(lever, lock("forced", "d", YES))
    at_b = state(of, {"lever": "b"})
    assert refused(of, at_b, hand(of, at_b, lever="c")) == set()
    assert refused(of, at_b, hand(of, at_b, lever="a")) == {"interlock"}


def test_a_kept_rule_binds_like_an_interlock() -> None:
    """People who keep a rule are as good as a lock."""
    kept = Assumption("kept", "Kept", KeptRule("lever", "only", "on", At("rope", "tight")))
    of = fenced(kept)
    slack = state(of, {"rope": "slack"})
    assert refused(of, state(of), hand(of, state(of), lever="on")) == set()
    assert refused(of, slack, hand(of, slack, lever="on")) == {"interlock"}
