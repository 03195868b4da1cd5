"""Air and quantities while time passes: flows, volumes with and without a size."""

from __future__ import annotations

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
    compare,
    form_of,
)
from airproof.circuit.kinds import (
    Change,
    Circuit,
    Quantity,
)
from circuit.small import (
    Number,
    apart,
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
