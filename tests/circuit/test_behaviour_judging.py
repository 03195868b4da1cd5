"""What each form of property remembers, and when it is breached.

The circuit is three levers a, b and c, each up or down; a run is written as
the levers that are up during each elapse step, `|` where a stretch ends.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from airproof.circuit.behaviour import Behaviour, Replay
from airproof.circuit.conditions import NO, YES, At, Flowing, Not
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import (
    AfterNever,
    Lasts,
    Never,
    OnceLasted,
    OnlyAfter,
    Possible,
    Property,
    Sentence,
    Within,
)
from airproof.circuit.state import Monitor, State, Step
from circuit.small import circuit, control, elapse, flow, is_, rules, state, supply, switch, volume

LEVERS = circuit(*(control(name, "down", "up") for name in "abc"), supply("clock", 0, 9))
A, B, C = (At(name, "up") for name in "abc")


def standing(up: str) -> State:
    return state(LEVERS, {name: "up" if name in up else "down" for name in "abc"})


def judged(sentence: Sentence, instant: bool = False) -> Property:
    return Property("judged", "Judged", sentence, even_for_an_instant=instant)


def run(sentence: Sentence, *stretches: str, instant: bool = False) -> Monitor:
    """The monitor after these stretches, each 1 s: which levers are up; `~` takes no time."""
    behaviour, monitor = Behaviour(LEVERS), Monitor()
    before = standing(stretches[0])
    for up in stretches:
        after = replace(standing(up), rested=False)
        prop = judged(sentence, instant)
        if after.positions != before.positions:
            monitor = behaviour.next_monitor(prop, monitor, before, switch(after))
            before = after
        if "~" not in up:
            step = elapse(replace(before, rested=True))
            monitor = behaviour.next_monitor(prop, monitor, before, step)
            before = step.after
    return monitor


def test_never_is_judged_while_time_passes() -> None:
    """An instant with it is no breach, the shortest time is; and a breach stays one."""
    assert not run(Never(A), "", "a~", "").breached
    assert run(Never(A), "", "a", "").breached


def test_never_even_for_an_instant() -> None:
    """Read after each switch step as well."""
    assert run(Never(A), "", "a~", "", instant=True).breached
    assert not run(Never(A), "", "b~", "", instant=True).breached


def test_possible_is_reached_while_time_passes() -> None:
    """`breached` says reached."""
    assert run(Possible(A), "", "a").breached
    assert not run(Possible(A), "", "a~", "b").breached


@pytest.mark.parametrize(
    ("stretches", "breached"),
    [
        (["a"], True),
        (["ab"], False),
        (["b", "a"], False),
        (["b", "", "a"], False),
        (["b", "c", "a"], True),
        (["bc", "a"], True),
        (["c", "b", "a"], False),
        (["b", "ac"], True),
    ],
)
def test_only_after_since(stretches: list[str], breached: bool) -> None:
    """Leave in the same stretch counts, leave in the stretch of the reset does not."""
    assert run(OnlyAfter(A, B, C), *stretches).breached is breached


def in_one_stretch(sentence: Sentence, *values: str) -> Monitor:
    """Levers are pressures here: a, b, c above 1 in turn, within one stretch."""
    of = circuit(*(supply(name) for name in "abc"))
    behaviour, monitor = Behaviour(of), Monitor()
    before = state(of)
    for high in values:
        middle = state(of, values={name: 2 if name in high else 0 for name in "abc"})
        for step in (elapse(middle), elapse(middle)):
            monitor = behaviour.next_monitor(judged(sentence), monitor, before, step)
            before = step.after
    return monitor


HIGH_A, HIGH_B, HIGH_C = (is_(name, ">=", 1) for name in "abc")


def test_only_after_within_one_stretch() -> None:
    """Leave before the reset, or after it, in the same stretch is lost."""
    sentence = OnlyAfter(HIGH_A, HIGH_B, HIGH_C)
    assert not in_one_stretch(sentence, "b", "a").breached
    assert in_one_stretch(sentence, "b", "c", "a").breached
    assert in_one_stretch(sentence, "c", "b", "a").breached


def test_only_after_without_reset_is_granted_for_good() -> None:
    """Since the start: once is enough."""
    assert not run(OnlyAfter(A, B, None), "b", "c", "", "a").breached
    assert run(OnlyAfter(A, B, None), "", "a", "b").breached


@pytest.mark.parametrize(
    ("stretches", "breached"),
    [
        (["b"], False),
        (["ab"], True),
        (["a", "b"], True),
        (["a", "", "b"], True),
        (["a", "c", "b"], False),
        (["a", "bc"], False),
        (["ac", "b"], True),
        (["b", "a"], False),
        (["a", "c", "a", "b"], True),
    ],
)
def test_after_never_until(stretches: list[str], breached: bool) -> None:
    """Cause and release in one stretch: the cause counts."""
    assert run(AfterNever(A, B, C), *stretches).breached is breached


def test_after_never_within_one_stretch() -> None:
    """Bad before or after the cause in the same stretch is a breach, release or not."""
    sentence = AfterNever(HIGH_A, HIGH_B, HIGH_C)
    assert in_one_stretch(sentence, "b", "a").breached
    assert in_one_stretch(sentence, "a", "c", "b").breached
    assert not in_one_stretch(sentence, "b", "c").breached


def test_bits_of_a_stretch_end_with_it() -> None:
    """The first switch step after time clears them, the second one clears nothing more."""
    monitor = run(OnlyAfter(A, B, C), "c", "b~")
    assert "cleared_here" not in monitor.flags
    kept = run(AfterNever(A, B, C), "b", "a~", "c~", instant=True)
    assert "opened_here" in kept.flags
    assert "struck_here" not in kept.flags


@pytest.mark.parametrize(
    ("stretches", "breached"),
    [
        (["a", "", ""], True),
        (["a", ""], False),
        (["a", "b", "", ""], False),
        (["ab", "", "", ""], False),
        (["a", "a", "a"], True),
        (["", "", "", ""], False),
    ],
)
def test_within(stretches: list[str], breached: bool) -> None:
    """More than 2 s since a cause began, with no answer: a breach; the cause may end."""
    assert run(Within(A, B, Fraction(2)), *stretches).breached is breached


def test_within_even_for_an_instant() -> None:
    """A cause that lasts no time starts the clock, an answer that lasts none stops it."""
    sentence = Within(A, B, Fraction(2))
    assert run(sentence, "", "a~", "", "", "c", instant=True).breached
    assert not run(sentence, "", "a~", "", "b~", "c", "", instant=True).breached
    assert not run(sentence, "", "a~", "", "", "c").breached


@pytest.mark.parametrize(
    ("stretches", "breached"),
    [
        (["a", "a"], False),
        (["a", "a", "a"], True),
        (["a", "a", "ab"], False),
        (["a", "a", "", "a", "a"], False),
        (["ab", "ab", "ab", "a"], True),
    ],
)
def test_once_lasted(stretches: list[str], breached: bool) -> None:
    """The cause without a break for more than 2 s, and no answer then."""
    assert run(OnceLasted(A, B, Fraction(2)), *stretches).breached is breached


@pytest.mark.parametrize(
    ("stretches", "breached"),
    [(["a", "a"], False), (["a", "a", "a"], True), (["a", "a", "", "a"], False)],
)
def test_lasts_at_most(stretches: list[str], breached: bool) -> None:
    """More than 2 s on end is too long."""
    assert run(Lasts(A, "most", Fraction(2)), *stretches).breached is breached


@pytest.mark.parametrize(
    ("stretches", "breached"),
    [(["a", ""], True), (["a", "a", ""], False), (["a"], False), (["", "a", "a", "a", ""], False)],
)
def test_lasts_at_least(stretches: list[str], breached: bool) -> None:
    """It ends before 2 s have passed: too short; what has not ended yet is not judged."""
    assert run(Lasts(A, "least", Fraction(2)), *stretches).breached is breached


# ---- flows in doubt count as whichever breaks the property

DOUBT = circuit(
    supply(), volume("pipe"), flow("feed", "main", "pipe", is_("pipe", "<=", 5)), control("x", "a")
)
RESTING = state(DOUBT, values={"main": 8, "pipe": 5})
FEED = Flowing("feed")


@pytest.mark.parametrize(
    ("sentence", "breached"),
    [
        (Never(FEED), True),
        (Never(Not(FEED)), True),
        (Possible(FEED), False),
        (Possible(Not(FEED)), False),
        (OnlyAfter(FEED, FEED, None), True),
        (OnceLasted(FEED, FEED, Fraction(1, 2)), True),
        (Within(FEED, FEED, Fraction(1, 2)), True),
        (AfterNever(FEED, FEED, None), True),
        (Lasts(FEED, "most", Fraction(1, 2)), True),
    ],
)
def test_doubtful_flows_are_adverse(sentence: Sentence, breached: bool) -> None:
    """The flow rests on its setting: it flows where that helps and not where it would save."""
    monitor = Behaviour(DOUBT).next_monitor(judged(sentence), Monitor(), RESTING, elapse(RESTING))
    assert monitor.breached is breached


@pytest.mark.parametrize(
    ("sentence", "flag"),
    [(AfterNever(NO, YES, FEED), "armed"), (OnlyAfter(YES, NO, FEED), "granted")],
)
def test_a_doubtful_flow_neither_releases_nor_spares_a_reset(sentence: Sentence, flag: str) -> None:
    """What is remembered from before is kept, or lost, as breaks the property."""
    monitor = Monitor(flags=frozenset({flag}))
    behaviour = Behaviour(DOUBT)
    told = behaviour.next_monitor(judged(sentence), monitor, RESTING, elapse(RESTING))
    assert told.breached


def test_a_doubtful_flow_may_have_begun_and_ended() -> None:
    """For `at least` it has begun in the first step and is over in the second."""
    behaviour, monitor = Behaviour(DOUBT), Monitor()
    sentence = judged(Lasts(FEED, "least", Fraction(2)))
    for expected in (False, True):
        monitor = behaviour.next_monitor(sentence, monitor, RESTING, elapse(RESTING))
        assert monitor.breached is expected


@pytest.mark.parametrize(("ahead", "flows"), [(6, True), (5, False)])
@pytest.mark.parametrize("one_way", [True, False])
def test_between_equals_nothing_flows_even_for_an_instant(
    ahead: int, flows: bool, one_way: bool
) -> None:
    """A device may take it for flowing there; a property does not."""
    pipe = circuit(
        supply(), volume("pipe"), flow("feed", "main", "pipe", one_way=one_way), control("x", *"ab")
    )
    before = state(pipe, values={"main": ahead, "pipe": 5})
    moved = switch(replace(before, positions={"x": "b"}, rested=False, fresh=frozenset({"x"})))
    prop = judged(Never(FEED), instant=True)
    assert Behaviour(pipe).next_monitor(prop, Monitor(), before, moved).breached is flows


# ---- replay


def play(of: Circuit, prop: Property, start: State, *steps: Step) -> Replay:
    return Behaviour(of).replay(prop, start, steps)


def test_replay_tells_the_step_that_decides() -> None:
    """A run of allowed steps, breached in the last of them."""
    lifted = replace(standing("a"), rested=False, fresh=frozenset({"a"}))
    told = play(
        LEVERS,
        judged(Never(A)),
        standing(""),
        elapse(standing("")),
        switch(lifted),
        elapse(replace(lifted, rested=True)),
    )
    assert told.accepted
    assert told.decided == 2
    assert told.monitor.breached


def test_replay_refuses_by_index() -> None:
    """The step that is none of the circuit's is named, the others are not."""
    lifted = replace(standing("a"), rested=False)
    told = play(LEVERS, judged(Never(B)), standing(""), elapse(standing("")), switch(lifted))
    assert not told.accepted
    assert told.steps.keys() == {1}
    assert rules(told.steps[1]) == {"memory"}
    assert told.decided is None


def test_replay_refuses_a_start_that_is_none() -> None:
    """Steps that could be taken from there do not make up for it."""
    awake = replace(standing(""), rested=False)
    told = play(LEVERS, judged(Never(A)), awake, elapse(standing("")))
    assert not told.steps
    assert rules(told.start) == {"start memory"}
    assert not told.accepted


def test_replay_asks_for_durations_where_time_is_judged() -> None:
    """Without a time in the property a duration may be left out."""
    step = elapse(standing(""), None)
    assert play(LEVERS, judged(Never(A)), standing(""), step).accepted
    timed = judged(Lasts(A, "most", Fraction(1)))
    assert rules(play(LEVERS, timed, standing(""), step).steps[0]) == {"duration"}
    with pytest.raises(ValueError, match="judged"):
        Behaviour(LEVERS).next_monitor(timed, Monitor(), standing(""), step)


def test_replay_keeps_the_landmarks_of_its_property() -> None:
    """A step past the constant of the judged property is refused, past another one's not."""
    of = circuit(supply())
    low, high = state(of), state(of, values={"main": 6})
    crossing = play(of, judged(Never(is_("main", ">", 5))), low, elapse(high))
    assert rules(crossing.steps[0]) == {"landmark"}
    assert play(of, judged(Never(is_("main", ">", 7))), low, elapse(high)).accepted
