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
    At,
    Condition,
    Flowing,
    Form,
    compare,
    form_of,
)
from airproof.circuit.elapsing import Due
from airproof.circuit.kinds import (
    Change,
    Circuit,
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
from airproof.circuit.state import State, Step, TimerState
from circuit.small import (
    Number,
    apart,
    band,
    circuit,
    control,
    elapse,
    flow,
    is_,
    rules,
    state,
    supply,
    valve,
    volume,
)

ALONE = {"pipe": Form((("pipe", Fraction(1)),)), "main": Form((("main", Fraction(1)),))}


def refused(of: Circuit, before: State, step: Step) -> set[str]:
    return rules(Behaviour(of).elapse_refusals(before, step, landmarks(of, None)))


def later(before: State, **values: Number) -> State:
    """The state after time has passed and these values changed."""
    changed = {name: Fraction(value) for name, value in values.items()}
    return replace(
        before,
        values={**before.values, **changed},
        rested=True,
        aged=frozenset(before.leaving),
    )


# ---- landmarks


def test_both_edges_of_a_tolerance_are_landmarks() -> None:
    """A setting without a tolerance has one landmark, one with a tolerance has two."""
    of = circuit(volume("pipe"), valve("gate", is_("pipe", ">=", 5, "1/10"), is_("pipe", "<", 4)))
    assert landmarks(of, None) == {
        (ALONE["pipe"], Fraction("4.9")),
        (ALONE["pipe"], Fraction("5.1")),
        (ALONE["pipe"], Fraction(4)),
    }


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


@pytest.mark.parametrize(
    ("duration", "rule"), [(1, set()), (None, set()), (0, {"duration"}), (-1, {"duration"})]
)
def test_time_passes_forwards(duration: int | None, rule: set[str]) -> None:
    """A duration is above 0, or left out."""
    before = state(TANK)
    assert refused(TANK, before, elapse(later(before), duration)) == rule


# ---- flows


def pair(one_way: bool = False, opening: Number = 0, condition: Condition = YES) -> Circuit:
    """Two reservoirs of 1 and 2 litre and what joins them."""
    return circuit(
        volume("pipe", band(1, 1)),
        volume("tee", band(2, 2)),
        flow("join", "pipe", "tee", condition, one_way=one_way, opening=Fraction(opening)),
    )


def test_air_runs_downhill_as_far_as_equality() -> None:
    """6 bar in 1 litre and 0 bar in 2 litre meet at 2 bar and not beyond."""
    of = pair()
    before = state(of, values={"pipe": 6})
    level = later(before, pipe=2, tee=2)
    assert refused(of, before, elapse(level, join=4)) == set()
    beyond = later(before, pipe=0, tee=3)
    assert refused(of, before, elapse(beyond, join=6)) == {"landmark", "uphill"}


def test_air_runs_back_through_a_two_way_flow_only() -> None:
    """A negative amount goes from target to source."""
    after = {"pipe": 2, "tee": 2}
    for of, rule in ((pair(), set()), (pair(one_way=True), {"uphill"})):
        before = state(of, values={"tee": 3})
        assert refused(of, before, elapse(later(before, **after), join=-2)) == rule


def test_nothing_passes_below_the_opening_pressure() -> None:
    """A check valve lets air through as long as upstream is the opening above downstream."""
    of = pair(one_way=True, opening=3)
    before = state(of, values={"pipe": 6})
    assert refused(of, before, elapse(later(before, pipe=4, tee=1), join=2)) == set()
    beyond = later(before, pipe="3.8", tee="1.1")
    assert refused(of, before, elapse(beyond, join="2.2")) == {"landmark", "uphill"}


def test_nothing_passes_a_shut_flow() -> None:
    """The condition of the flow must be such that it may count as true."""
    after = {"pipe": 2, "tee": 2}
    for condition, rule in ((YES, set()), (NO, {"flow shut"})):
        of = pair(condition=condition)
        before = state(of, values={"pipe": 6})
        assert refused(of, before, elapse(later(before, **after), join=4)) == rule


def test_a_flow_may_pass_air_while_its_condition_rests() -> None:
    """A reservoir that rests on the setting of a flow leaves it to pass air or not."""
    of = circuit(
        supply(),
        volume("pipe", band(1, 1)),
        volume("tee", band(2, 2)),
        flow("feed", "main", "pipe"),
        flow("spill", "pipe", "tee", is_("pipe", ">", 5)),
    )
    before = state(of, values={"main": 8, "pipe": 5})
    spilling = later(before, tee=1)
    assert refused(of, before, elapse(spilling, feed=2, spill=2)) == set()
    lower = later(before, pipe=4, tee="1/2")
    assert refused(of, before, elapse(lower, spill=1)) == {"flow shut"}


def test_an_unknown_flow_is_refused() -> None:
    """Amounts belong to flows of the circuit."""
    of = pair()
    assert refused(of, state(of), elapse(later(state(of)), elsewhere=1)) == {"no such flow"}


# ---- volumes


def test_air_is_conserved_in_a_stated_volume() -> None:
    """What comes in shows as pressure, in proportion to the volume, and not without."""
    of = pair()
    before = state(of, values={"pipe": 6})
    assert refused(of, before, elapse(later(before, pipe=4, tee=1), join=2)) == set()
    assert refused(of, before, elapse(later(before, pipe=4, tee=2), join=2)) == {"air balance"}
    assert refused(of, before, elapse(later(before, pipe=4, tee=1))) == {"air balance"}
    assert refused(of, before, elapse(later(before), join=2)) == {"air balance"}


def test_a_tolerance_on_a_volume_is_a_band() -> None:
    """1 bar in 2 .. 3 litre takes 2 .. 3 bar litre, and never the other sign."""
    of = circuit(supply(), volume("pipe", band(2, 3)), flow("feed", "main", "pipe"))
    before = state(of, values={"main": 8})
    for amount, rule in (
        ("2", set()),
        ("3", set()),
        ("1.9", {"air balance"}),
        ("3.1", {"air balance"}),
    ):
        assert refused(of, before, elapse(later(before, pipe=1), feed=amount)) == rule
    full = state(of, values={"main": 8, "pipe": 4})
    assert refused(of, full, elapse(later(full, pipe=3), feed=2)) == {"air balance"}


def test_equal_flows_in_and_out_leave_a_volume_still() -> None:
    """Fed and drained alike it keeps its pressure."""
    of = circuit(
        supply(),
        volume("pipe", band(1, 2)),
        flow("feed", "main", "pipe"),
        flow("leak", "pipe", "atmosphere"),
    )
    before = state(of, values={"main": 8, "pipe": 3})
    assert refused(of, before, elapse(later(before), feed=5, leak=5)) == set()
    assert refused(of, before, elapse(later(before), feed=5, leak=4)) == {"air balance"}


OPEN_PIPE = circuit(
    supply(),
    volume("pipe"),
    control("cock", "shut", "open"),
    flow("feed", "main", "pipe", At("cock", "open")),
    flow("leak", "pipe", "atmosphere", At("cock", "shut")),
)


@pytest.mark.parametrize(
    ("cock", "main", "pipe", "to", "rule"),
    [
        ("open", 8, 3, 4, set()),
        ("open", 8, 3, 8, set()),
        ("open", 8, 3, 2, {"not drained"}),
        ("open", 3, 3, 4, {"not filled"}),
        ("open", 2, 3, 2, set()),
        ("shut", 8, 3, 4, {"not filled"}),
        ("shut", 8, 3, 0, set()),
    ],
)
def test_a_volume_without_a_size_needs_a_way(
    cock: str, main: int, pipe: int, to: int, rule: set[str]
) -> None:
    """It rises only with an open way from above, falls only with one to below."""
    before = state(OPEN_PIPE, {"cock": cock}, {"main": main, "pipe": pipe})
    assert refused(OPEN_PIPE, before, elapse(later(before, pipe=to))) == rule


def test_strictly_above_at_one_end_is_enough() -> None:
    """Level at the end, or at the start with both rising, it still has been fed."""
    before = state(OPEN_PIPE, {"cock": "open"}, {"main": 3, "pipe": 3})
    rising = later(before, main=5, pipe=4)
    assert refused(OPEN_PIPE, before, elapse(rising)) == set()
    together = later(before, main=5, pipe=5)
    assert refused(OPEN_PIPE, before, elapse(together)) == {"not filled"}


def test_a_one_way_flow_never_drains_its_target() -> None:
    """No air runs back through a check valve."""
    for one_way, rule in ((False, set()), (True, {"not drained"})):
        of = circuit(supply(), volume("pipe"), flow("feed", "main", "pipe", one_way=one_way))
        before = state(of, values={"pipe": 3})
        assert refused(of, before, elapse(later(before, pipe=2))) == rule


def test_amounts_at_a_volume_without_a_size_are_free() -> None:
    """It balances nothing, but each flow still obeys its own rules."""
    before = state(OPEN_PIPE, {"cock": "open"}, {"main": 8, "pipe": 3})
    assert refused(OPEN_PIPE, before, elapse(later(before), feed=9)) == set()
    assert refused(OPEN_PIPE, before, elapse(later(before), leak=9)) == {"flow shut"}


# ---- quantities


@pytest.mark.parametrize(
    ("low", "high", "on", "to", "rule"),
    [
        (1, 2, True, 4, set()),
        (1, 2, True, 2, {"quantity"}),
        (-2, -1, True, 2, set()),
        (-2, -1, True, 4, {"quantity"}),
        (-1, 1, True, 4, set()),
        (-1, 1, True, 2, set()),
        (-1, 1, False, 4, {"quantity"}),
        (0, 0, True, 4, {"quantity"}),
    ],
)
def test_a_quantity_goes_where_a_speed_leads(
    low: int, high: int, on: bool, to: int, rule: set[str]
) -> None:
    """Up with a speed above 0, down with one below, and only while its condition may hold."""
    change = Change(band(low, high), At("pump", "on"))
    of = circuit(control("pump", "off", "on"), Quantity("level", "mm", band(0, 9), (change,)))
    before = state(of, {"pump": "on" if on else "off"}, {"level": 3})
    assert refused(of, before, elapse(later(before, level=to))) == rule


def test_devices_may_read_a_flow() -> None:
    """A whistle on a flow is due to sound while air passes and not at equality."""
    whistle = valve("whistle", AllOf((Flowing("feed"), YES)), NO)
    of = circuit(supply(), volume("pipe"), flow("feed", "main", "pipe"), whistle)
    assert Behaviour(of).due_now(state(of, values={"main": 8})) != ()
    assert Behaviour(of).due_now(state(of, values={"main": 8, "pipe": 8})) == ()


def test_weighted_landmarks() -> None:
    """A differential form is a landmark as a whole: its parts may move past any number."""
    weights = {"pipe": Fraction(5, 2), "main": Fraction(-1)}
    piston = compare(form_of(weights), ">=", Fraction(0))
    of = circuit(
        supply(),
        volume("pipe"),
        valve("gate", piston, NO),
        flow("feed", "main", "pipe"),
    )
    before = state(of, values={"main": 5, "pipe": 1})
    assert refused(of, before, elapse(later(before, pipe=2))) == set()
    assert refused(of, before, elapse(later(before, pipe="2.1"))) == {"landmark"}
    assert apart("pipe", "main", ">", 0) == apart("main", "pipe", "<", 0)
