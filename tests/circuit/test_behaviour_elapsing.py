"""What may happen while time passes, what is due, and where the landmarks are."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.conditions import (
    NO,
    YES,
    AllOf,
    AnyOf,
    At,
    Form,
    Not,
)
from airproof.circuit.elapsing import Due
from airproof.circuit.kinds import (
    Change,
    Interlock,
    Quantity,
    RangeControl,
    Standing,
    Timer,
)
from airproof.circuit.landmarks import landmarks
from airproof.circuit.properties import (
    Assumption,
    KeptRule,
    Never,
    OnlyAfter,
    Property,
    SupplyRule,
)
from airproof.circuit.state import TimerState
from circuit.small import (
    Number,
    band,
    circuit,
    control,
    elapse,
    flow,
    is_,
    later,
    state,
    supply,
    valve,
    volume,
)
from circuit.small import (
    elapse_broken as refused,
)

ALONE = {"pipe": Form((("pipe", Fraction(1)),)), "main": Form((("main", Fraction(1)),))}


# ---- landmarks


def test_both_edges_of_a_tolerance_are_landmarks() -> None:
    """A setting without a tolerance has one landmark, one with a tolerance has two."""
    of = circuit(volume("pipe"), valve("gate", is_("pipe", ">=", 5, "1/10"), is_("pipe", "<", 4)))
    assert landmarks(of, None) == {
        (ALONE["pipe"], Fraction("4.9")),
        (ALONE["pipe"], Fraction("5.1")),
        (ALONE["pipe"], Fraction(4)),
    }


def test_landmarks_hide_behind_no_connective() -> None:
    """Under `not`, `and` and `or` the settings are landmarks as well."""
    when = AnyOf(
        (Not(is_("pipe", ">=", 5)), AllOf((is_("pipe", "<", 4), Not(is_("pipe", ">", 1)))))
    )
    of = circuit(volume("pipe"), valve("gate", when, NO))
    assert landmarks(of, None) == {(ALONE["pipe"], Fraction(n)) for n in (1, 4, 5)}


def test_landmarks_of_flows() -> None:
    """Upstream minus downstream against the opening; atmosphere is 0 and never named."""
    of = circuit(
        supply(),
        volume("pipe"),
        flow("feed", "main", "pipe", one_way=True, opening=Fraction(1)),
        flow("leak", "atmosphere", "pipe"),
        flow("nowhere", "atmosphere", "atmosphere"),
    )
    difference = Form((("main", Fraction(1)), ("pipe", Fraction(-1))))
    assert landmarks(of, None) == {(difference, Fraction(1)), (ALONE["pipe"], Fraction(0))}


def test_a_landmark_is_the_same_whichever_way_a_flow_leads() -> None:
    """Normalised: from tee to pipe and from pipe to tee meet at the same difference."""
    there = circuit(volume("pipe"), volume("tee"), flow("join", "pipe", "tee"))
    back = circuit(volume("pipe"), volume("tee"), flow("join", "tee", "pipe"))
    assert landmarks(there, None) == landmarks(back, None)


def test_every_reader_brings_its_landmarks() -> None:
    """Timers, quantities, interlocks, kept rules and the property; not the rest."""
    of = circuit(
        supply(),
        control("lever", "off", "on"),
        Timer("bell", is_("main", ">=", 1), band(1, 2)),
        Quantity("level", "mm", band(0, 1), (Change(band(1, 1), is_("main", ">=", 2)),)),
        Interlock("lock", "Lock", "lever", "only", "on", is_("main", ">=", 3)),
        Assumption("kept", "Kept", KeptRule("lever", "locked", "on", is_("main", ">=", 4))),
        Assumption("low", "Low", SupplyRule((is_("main", "<=", 5),))),
        Property("other", "Other", Never(is_("main", ">", 6))),
        Standing("full", {}, {"main": Fraction(7)}),
    )
    read = {(ALONE["main"], Fraction(n)) for n in (1, 2, 3, 4)}
    assert landmarks(of, None) == read
    judged = OnlyAfter(is_("main", ">", 7), is_("main", "<", 8), None)
    assert landmarks(of, judged) == read | {(ALONE["main"], Fraction(n)) for n in (7, 8)}


TANK = circuit(supply(), valve("gate", is_("main", ">=", 5), NO))


@pytest.mark.parametrize(
    ("first", "last", "rule"),
    [(4, 5, set()), (5, 4, set()), (4, 6, {"landmark"}), (6, 4, {"landmark"})],
)
def test_no_landmark_is_crossed(first: int, last: int, rule: set[str]) -> None:
    """One may reach a setting, and leave it, but not pass it in one step."""
    before = state(TANK, {"gate": "open"}, {"main": first})
    assert refused(TANK, before, elapse(later(before, main=last))) == rule


def test_a_crossed_landmark_is_named() -> None:
    """The refusal carries the form and the constant."""
    before = state(TANK, {"gate": "open"}, {"main": 4})
    marks = landmarks(TANK, None)
    (refusal,) = Behaviour(TANK).elapse_refusals(before, elapse(later(before, main=6)), marks)
    assert refusal.mark == (ALONE["main"], Fraction(5))


# ---- what stays, and what is due


def test_nothing_moves_while_time_passes() -> None:
    """Positions, handles and freshness stay; time makes rested and ages what is on the way."""
    of = circuit(control("lever", "off", "on"), RangeControl("handle", band(0, 5), band(0, 5)))
    before = state(of, fresh=frozenset({"lever"}), rested=False)
    assert refused(of, before, elapse(later(before))) == set()
    assert refused(of, before, elapse(later(before, handle=1))) == {"moved"}
    gone = replace(later(before), positions={"lever": "on"})
    assert refused(of, before, elapse(gone)) == {"moved"}
    assert refused(of, before, elapse(replace(later(before), fresh=frozenset()))) == {"memory"}
    assert refused(of, before, elapse(replace(later(before), rested=False))) == {"memory"}


def test_time_ages_what_is_on_the_way() -> None:
    """After any time whatever is on the way may arrive; a device on the way is never due."""
    of = circuit(valve("gate", YES, YES, moving=band(1, 2)))
    before = state(of, {"gate": "open"}, leaving={"gate": "shut"})
    assert refused(of, before, elapse(later(before))) == set()
    young = replace(later(before), aged=frozenset())
    assert refused(of, before, elapse(young)) == {"memory"}


SAFETY = circuit(
    supply(),
    volume("pipe"),
    valve("gate", is_("pipe", ">=", 5, "1/10"), is_("pipe", "<=", 4)),
    flow("feed", "main", "pipe"),
)


@pytest.mark.parametrize(
    ("first", "last", "rule"),
    [
        (5, 5, set()),
        ("5.1", "5.1", set()),
        ("5.1", "5.2", {"due"}),
        ("5.2", "5.2", {"due"}),
        ("5.2", "5.1", {"due"}),
    ],
)
def test_a_device_is_due_beyond_its_far_edge(first: Number, last: Number, rule: set[str]) -> None:
    """Inside the band it may wait, resting on the far edge it may wait, above it must go."""
    low_supply = "0" if Fraction(last) < Fraction(first) else "8"
    before = state(SAFETY, values={"main": low_supply, "pipe": first})
    assert refused(SAFETY, before, elapse(later(before, pipe=last))) == rule


def test_due_names_what_must_move_and_where_to() -> None:
    """A shut gate above its setting is due to open; an open one is not."""
    behaviour = Behaviour(SAFETY)
    assert behaviour.due_now(state(SAFETY, values={"pipe": 6})) == (Due("device", "gate", "open"),)
    assert behaviour.due_now(state(SAFETY, {"gate": "open"}, {"pipe": 6})) == ()


def test_a_device_called_where_it_stands_is_not_due() -> None:
    """A move to its own position asks nothing."""
    of = circuit(valve("gate", NO, YES))
    assert Behaviour(of).due_now(state(of, {"gate": "shut"})) == ()
    assert Behaviour(of).due_now(state(of, {"gate": "open"})) != ()


@pytest.mark.parametrize("sealed", [None, "off"])
def test_a_forced_control_is_due(sealed: str | None) -> None:
    """Off its forced position a control stops time, even a sealed one."""
    of = circuit(
        control("lever", "off", "on", sealed=sealed),
        Interlock("spring", "Spring", "lever", "forced", "on", YES),
    )
    assert Behaviour(of).due_now(state(of)) == (Due("control", "lever", "on"),)
    assert Behaviour(of).due_now(state(of, {"lever": "on"})) == ()


def test_a_force_that_rests_on_its_setting_is_not_due() -> None:
    """Only what must be so obliges; above the setting it does."""
    spring = Interlock("spring", "Spring", "lever", "forced", "on", is_("pipe", ">=", 5))
    of = circuit(volume("pipe"), control("lever", "off", "on"), spring)
    assert Behaviour(of).due_now(state(of, values={"pipe": 5})) == ()
    assert Behaviour(of).due_now(state(of, values={"pipe": 6})) != ()


def test_a_timer_is_due_to_be_reset() -> None:
    """Expired and surely not called to run any longer: reset first."""
    of = circuit(control("lever", "off", "on"), Timer("bell", At("lever", "on"), band(1, 2)))
    off = state(of, timers={"bell": "expired"})
    assert Behaviour(of).due_now(off) == (Due("timer", "bell", "idle"),)
    on = state(of, {"lever": "on"}, timers={"bell": "expired"})
    assert Behaviour(of).due_now(on) == ()


WORDS: tuple[TimerState, ...] = ("idle", "running", "expired")
BELL = circuit(supply(), volume("pipe"), Timer("bell", is_("pipe", ">=", 5), band(1, 2)))


@pytest.mark.parametrize(
    ("pipe", "was", "allowed"),
    [
        (6, "idle", {"running"}),
        (6, "running", {"running"}),
        (6, "expired", {"expired"}),
        (4, "idle", {"idle"}),
        (4, "running", {"idle"}),
        (4, "expired", set()),
        (5, "idle", {"idle", "running"}),
        (5, "running", {"idle", "running"}),
        (5, "expired", {"expired"}),
    ],
)
def test_timers_while_time_passes(pipe: int, was: TimerState, allowed: set[str]) -> None:
    """It runs while its condition must be so, stops while it cannot be, in doubt does either."""
    before = state(BELL, values={"pipe": pipe}, timers={"bell": was})
    found = {
        now
        for now in WORDS
        if not refused(BELL, before, elapse(replace(later(before), timers={"bell": now})))
    }
    assert found == allowed


def test_supplies_wander_within_their_range_and_rules() -> None:
    """Any jump within the range is allowed at any speed, none beyond it or against a rule."""
    of = circuit(supply(), Assumption("enough", "Enough", SupplyRule((is_("main", ">=", 4),))))
    before = state(of, values={"main": 6})
    assert refused(of, before, elapse(later(before, main=8))) == set()
    assert refused(of, before, elapse(later(before, main=9))) == {"range"}
    assert refused(of, before, elapse(later(before, main=3))) == {"supply rule"}
    free = circuit(supply())
    assert refused(free, state(free), elapse(later(state(free), main=-1))) == {"range"}


def test_every_comparison_of_a_supply_rule_counts() -> None:
    """Between two bounds both are kept."""
    rule = SupplyRule((is_("main", ">=", 4), is_("main", "<=", 7)))
    of = circuit(supply(), Assumption("steady", "Steady", rule))
    before = state(of, values={"main": 6})
    assert refused(of, before, elapse(later(before, main=7))) == set()
    assert refused(of, before, elapse(later(before, main=8))) == {"supply rule"}
    assert refused(of, before, elapse(later(before, main=3))) == {"supply rule"}


@pytest.mark.parametrize(
    ("duration", "rule"), [(1, set()), (None, set()), (0, {"duration"}), (-1, {"duration"})]
)
def test_time_passes_forwards(duration: int | None, rule: set[str]) -> None:
    """A duration is above 0, or left out."""
    before = state(TANK)
    assert refused(TANK, before, elapse(later(before), duration)) == rule
