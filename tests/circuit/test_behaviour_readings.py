"""How conditions are read: in an instant, over an elapse step, and by a property."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from airproof.circuit.conditions import (
    AllOf,
    AnyOf,
    At,
    Condition,
    Expired,
    Flowing,
    GoneTo,
    Not,
    OnTheWay,
    Order,
    Truth,
)
from airproof.circuit.kinds import Circuit, RangeControl, Timer
from airproof.circuit.readings import NOT_SO, PERHAPS, SURELY, Inner, Instant, Truths
from airproof.circuit.state import TimerState
from airproof.circuit.tables import tables_of
from circuit.small import Number, apart, band, circuit, control, flow, is_, state, supply, valve
from circuit.small import volume as tank

ORDERS: tuple[Order, ...] = (">=", ">", "<=", "<")
SCENE = circuit(supply(), tank("pipe"), RangeControl("handle", band(0, 5), band(0, 5)))


def instant(condition: Condition, of: Circuit = SCENE, **values: Number) -> Truths:
    return Instant(tables_of(of), state(of, values=values)).plain(condition)


def inner(condition: Condition, first: Number, last: Number, name: str = "pipe") -> Truths:
    ends = (state(SCENE, values={name: value}) for value in (first, last))
    return Inner(tables_of(SCENE), *ends).plain(condition)


@pytest.mark.parametrize("order", ORDERS)
def test_at_its_constant_a_comparison_counts_as_both_in_an_instant(order: Order) -> None:
    """At a landmark every order may be true and may be false, its strictness aside."""
    assert instant(is_("pipe", order, 5), pipe=5) == PERHAPS


@pytest.mark.parametrize("name", ["main", "handle"])
def test_supplies_and_range_controls_count_as_both_in_an_instant_too(name: str) -> None:
    """Only over time is a form of supplies and fixed values read as written."""
    assert instant(is_(name, ">=", 5), main=5, handle=5) == PERHAPS


@pytest.mark.parametrize(
    ("order", "value", "truths"),
    [
        (">=", "4.8", NOT_SO),
        (">=", "4.9", PERHAPS),
        (">=", "5.1", PERHAPS),
        (">", "5.2", SURELY),
        ("<=", "5.2", NOT_SO),
        ("<=", "5.1", PERHAPS),
        ("<", "4.9", PERHAPS),
        ("<", "4.8", SURELY),
    ],
)
def test_edges_in_an_instant(order: Order, value: str, truths: Truths) -> None:
    """True from the near edge on, edge included; surely only beyond the far edge."""
    assert instant(is_("pipe", order, 5, "1/10"), pipe=value) == truths


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize("value", ["4.8", "4.9", "5", "5.1", "5.2"])
def test_not_swaps_can_and_must(order: Order, value: str) -> None:
    """What may be false is exactly what is not surely true, at each edge."""
    condition = is_("pipe", order, 5, "1/10")
    can, must = instant(condition, pipe=value)
    assert instant(Not(condition), pipe=value) == (not must, not can)


def test_all_and_any_join_the_truths() -> None:
    """One doubtful member makes a whole doubtful unless another one decides it."""
    doubtful = is_("pipe", ">=", 5)
    assert instant(AllOf((Truth(True), doubtful)), pipe=5) == PERHAPS
    assert instant(AllOf((Truth(False), doubtful)), pipe=5) == NOT_SO
    assert instant(AnyOf((Truth(True), doubtful)), pipe=5) == SURELY
    assert instant(AnyOf((Truth(False), doubtful)), pipe=5) == PERHAPS


@pytest.mark.parametrize(
    ("order", "first", "last", "truths"),
    [
        (">=", 5, 6, SURELY),
        (">=", 4, 5, NOT_SO),
        (">", 5, 6, SURELY),
        (">", 4, 5, NOT_SO),
        ("<=", 4, 5, SURELY),
        ("<=", 5, 6, NOT_SO),
        ("<", 5, 4, SURELY),
        ("<", 6, 5, NOT_SO),
    ],
)
def test_inner_truth(order: Order, first: int, last: int, truths: Truths) -> None:
    """Touching the constant at one end decides nothing: the inside of the step does."""
    assert inner(is_("pipe", order, 5), first, last) == truths


@pytest.mark.parametrize("order", ORDERS)
def test_resting_on_the_constant_counts_as_both(order: Order) -> None:
    """A pressure that stays on its setting leaves what reads it in doubt."""
    assert inner(is_("pipe", order, 5), 5, 5) == PERHAPS


@pytest.mark.parametrize("name", ["main", "handle"])
def test_exact_forms_do_not_rest(name: str) -> None:
    """A supply or a range control on its setting is read as written."""
    assert inner(is_(name, ">=", 5), 5, 5, name) == SURELY
    assert inner(is_(name, ">", 5), 5, 5, name) == NOT_SO


@pytest.mark.parametrize("order", ORDERS)
def test_resting_counts_at_each_edge_of_a_tolerance(order: Order) -> None:
    """On the near edge it may begin to be true, on the far edge it may still be false."""
    condition = is_("pipe", order, 5, "1/10")
    assert inner(condition, "4.9", "4.9") == PERHAPS
    assert inner(condition, "5.1", "5.1") == PERHAPS


def test_leaving_an_edge_of_a_tolerance_is_no_resting() -> None:
    """A step that goes on from the far edge is beyond it, one that ends on the near edge before."""
    condition = is_("pipe", ">=", 5, "1/10")
    assert inner(condition, "5.1", "5.2") == SURELY
    assert inner(condition, "4.8", "4.9") == NOT_SO


def test_the_other_members_of_a_condition_keep_their_truth() -> None:
    """Resting excuses that comparison alone."""
    resting = is_("pipe", ">=", 5)
    assert inner(AllOf((resting, is_("pipe", ">=", 6))), 5, 5) == NOT_SO
    assert inner(AnyOf((resting, is_("pipe", ">=", 4))), 5, 5) == SURELY


PLACES = circuit(
    control("lever", "off", "on"),
    valve("gate", is_("pipe", ">=", 5), is_("pipe", "<=", 4), moving=band(1, 2)),
    tank("pipe"),
)


def test_at_and_on_the_way() -> None:
    """A device on the way is at neither end, for all but flows; resting it is where it is."""
    going = state(PLACES, {"gate": "open"}, leaving={"gate": "shut"})
    view = Instant(tables_of(PLACES), going)
    assert view.plain(At("gate", "open")) == NOT_SO
    assert view.plain(At("gate", "shut")) == NOT_SO
    assert view.plain(OnTheWay("gate")) == SURELY
    there = Instant(tables_of(PLACES), state(PLACES, {"gate": "open"}))
    assert there.plain(At("gate", "open")) == SURELY
    assert there.plain(OnTheWay("gate")) == NOT_SO


def test_gone_to_needs_a_move_in_this_stretch() -> None:
    """A lever that has been on for long has not gone there."""
    gone = Instant(tables_of(PLACES), state(PLACES, {"lever": "on"}, fresh=frozenset({"lever"})))
    assert gone.plain(GoneTo("lever", "on")) == SURELY
    assert gone.plain(GoneTo("lever", "off")) == NOT_SO
    there = Instant(tables_of(PLACES), state(PLACES, {"lever": "on"}))
    assert there.plain(GoneTo("lever", "on")) == NOT_SO


@pytest.mark.parametrize(("word", "truths"), [("expired", SURELY), ("running", NOT_SO)])
def test_expired(word: TimerState, truths: Truths) -> None:
    """A running timer has not expired."""
    timed = circuit(Timer("bell", Truth(True), band(1, 2)))
    view = Instant(tables_of(timed), state(timed, timers={"bell": word}))
    assert view.plain(Expired("bell")) == truths


# ---- flows


def passing(on_the_way: str, wanted: str) -> Truths:
    """How a flow that needs `gate is wanted` reads a gate between shut and open."""
    gate = valve("gate", Truth(True), Truth(False), moving=band(1, 2), on_the_way=on_the_way)
    of = circuit(gate, tank("pipe"), flow("leak", "pipe", "atmosphere", At("gate", wanted)))
    going = state(of, {"gate": "open"}, {"pipe": 3}, leaving={"gate": "shut"})
    return Inner(tables_of(of), going, going).plain(Flowing("leak"))


@pytest.mark.parametrize(
    ("on_the_way", "truths"), [("any", PERHAPS), ("closed", NOT_SO), ("joined", SURELY)]
)
@pytest.mark.parametrize("wanted", ["shut", "open"])
def test_a_flow_reads_a_device_on_the_way_as_stated(
    on_the_way: str, truths: Truths, wanted: str
) -> None:
    """Both the position left and the one ahead count as the device says."""
    assert passing(on_the_way, wanted) == truths


def test_a_flow_reads_a_third_position_as_false_on_the_way() -> None:
    """A device that goes from one end to the other is never at a third place."""
    assert passing("joined", "elsewhere") == NOT_SO


FLOWS = circuit(
    supply(),
    tank("pipe"),
    tank("tee"),
    flow("feed", "main", "pipe", is_("pipe", "<=", 5), one_way=True, opening=Fraction(1)),
    flow("join", "pipe", "tee"),
)


def over(first: dict[str, Number], last: dict[str, Number]) -> Callable[[Condition], Truths]:
    ends = (state(FLOWS, values=values) for values in (first, last))
    return Inner(tables_of(FLOWS), *ends).plain


def test_flowing_needs_more_than_the_opening_pressure_inside_the_step() -> None:
    """At exactly the opening pressure nothing flows, and resting there excuses nothing."""
    assert over({"main": 3, "pipe": 2}, {"main": 3, "pipe": 2})(Flowing("feed")) == NOT_SO
    assert over({"main": 3, "pipe": 2}, {"main": 4, "pipe": 2})(Flowing("feed")) == SURELY
    assert over({"main": 7, "pipe": 5}, {"main": 7, "pipe": 5})(Flowing("feed")) == PERHAPS


def test_a_two_way_flow_flows_either_way() -> None:
    """Unequal at one end of the step is enough."""
    assert over({"pipe": 2}, {"pipe": 2})(Flowing("join")) == SURELY
    assert over({"tee": 2}, {"tee": 1})(Flowing("join")) == SURELY
    assert over({"pipe": 2, "tee": 2}, {"pipe": 2, "tee": 1})(Flowing("join")) == SURELY
    assert over({"pipe": 2, "tee": 2}, {"pipe": 2, "tee": 2})(Flowing("join")) == NOT_SO


def test_flowing_in_an_instant() -> None:
    """At the opening pressure, or level for a two-way flow, it counts as both."""
    assert instant(Flowing("feed"), FLOWS, main=3, pipe=2) == PERHAPS
    assert instant(Flowing("feed"), FLOWS, main=2, pipe=2) == NOT_SO
    assert instant(Flowing("feed"), FLOWS, main=4, pipe=2) == SURELY
    assert instant(Flowing("join"), FLOWS, pipe=2, tee=2) == PERHAPS
    assert instant(Flowing("join"), FLOWS, pipe=1, tee=2) == SURELY


# ---- properties


def test_a_property_keeps_inner_truth_where_a_device_would_be_excused() -> None:
    """Resting on the constant, `at least` is so and `more than` is not."""
    rest = state(SCENE, values={"pipe": 5})
    view = Inner(tables_of(SCENE), rest, rest)
    assert view.judged(is_("pipe", ">=", 5)) == SURELY
    assert view.judged(is_("pipe", ">", 5)) == NOT_SO


def test_a_property_reads_one_instant_as_written() -> None:
    """After a switch step a comparison of a property is one plain comparison."""
    view = Instant(tables_of(SCENE), state(SCENE, values={"pipe": 5}))
    assert view.judged(is_("pipe", ">=", 5)) == SURELY
    assert view.judged(is_("pipe", "<", 5)) == NOT_SO


def test_a_property_reads_flowing_as_whichever_breaks_it() -> None:
    """A flow whose condition is in doubt may flow where that helps and not where it hinders."""
    rest = state(FLOWS, values={"main": 7, "pipe": 5})
    for view in (Inner(tables_of(FLOWS), rest, rest), Instant(tables_of(FLOWS), rest)):
        assert view.judged(Flowing("feed")) == PERHAPS
        assert view.judged(Not(Flowing("feed"))) == PERHAPS


def test_a_property_sees_no_flow_at_equality_even_in_an_instant() -> None:
    """The comparison of pressures is strict in every judged reading."""
    view = Instant(tables_of(FLOWS), state(FLOWS, values={"main": 3, "pipe": 2, "tee": 2}))
    assert view.judged(Flowing("feed")) == NOT_SO
    assert view.judged(Flowing("join")) == NOT_SO


def test_weighted_forms() -> None:
    """A difference of two is read like a single pressure."""
    assert over({"pipe": 3, "tee": 2}, {"pipe": 4, "tee": 2})(apart("pipe", "tee", ">=", 1)) == (
        SURELY
    )
    assert over({"pipe": 2, "tee": 2}, {"pipe": 3, "tee": 2})(apart("pipe", "tee", ">=", 1)) == (
        NOT_SO
    )
