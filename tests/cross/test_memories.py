"""What the encoding remembers for a property, step by step, against answers worked out by hand.

Random walks seldom end a clock exactly at its limit, or a step exactly on a
property's constant; these do.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

import pytest

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.conditions import At, Order
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
from airproof.transition.ground import Ground
from circuit.small import circuit, control, elapse, is_, later, state, supply, switch

LEVERS = circuit(*(control(name, "down", "up") for name in "abc"))
A, B, C = (At(name, "up") for name in "abc")
LIMIT = Fraction(2)
GAUGES = circuit(*(supply(name) for name in "abc"))
HIGH_A, HIGH_B, HIGH_C = (is_(name, ">=", 1) for name in "abc")


def remembered(of: Circuit, sentence: Sentence, start: State, steps: Iterator[Step]) -> Monitor:
    """The memory after the steps; the encoding must follow each of them into no other one."""
    prop = Property("judged", "Judged", sentence)
    ground, behaviour = Ground(of, prop), Behaviour(of)
    memory, before = Monitor(), start
    for step in steps:
        after = behaviour.next_monitor(prop, memory, before, step)
        assert ground.allows(before, memory, step, after), (memory, step, after)
        other = replace(after, breached=not after.breached)
        assert not ground.allows(before, memory, step, other), (memory, step)
        memory, before = after, step.after
    return memory


def lifted(*stretches: str) -> Iterator[Step]:
    """Stretches of 1 s, by the levers that are up in each; they all move just before it."""
    here = state(LEVERS)
    for up in stretches:
        places = {name: "up" if name in up else "down" for name in "abc"}
        moved = frozenset(n for n in places if places[n] != here.positions[n])
        if moved:
            here = replace(here, positions=places, fresh=moved, rested=False)
            yield switch(here)
        here = later(here)
        yield elapse(here)


@pytest.mark.parametrize(
    ("sentence", "stretches", "breached"),
    [
        (Within(A, B, LIMIT), ["a", ""], False),
        (Within(A, B, LIMIT), ["a", "", "c"], True),
        (Within(A, B, LIMIT), ["a", "", "b", ""], False),
        (Within(A, B, LIMIT), ["a", "b", "", "c", ""], False),
        (Within(A, B, LIMIT), ["a", "b", "a", "c"], False),
        (Within(A, B, LIMIT), ["a", "b", "a", "c", ""], True),
        (OnceLasted(A, B, LIMIT), ["a", "ac"], False),
        (OnceLasted(A, B, LIMIT), ["a", "ac", "a"], True),
        (OnceLasted(A, B, LIMIT), ["a", "ac", "ab"], False),
        (OnceLasted(A, B, LIMIT), ["a", "ac", "", "a", "ac"], False),
        (Lasts(A, "most", LIMIT), ["a", "ac"], False),
        (Lasts(A, "most", LIMIT), ["a", "ac", "a"], True),
        (Lasts(A, "most", LIMIT), ["a", "ac", "", "a"], False),
        (Lasts(A, "least", LIMIT), ["a", ""], True),
        (Lasts(A, "least", LIMIT), ["a", "ac", ""], False),
        (Lasts(A, "least", LIMIT), ["a", "ac", "", "a", ""], True),
        (OnlyAfter(A, B, C), ["b", "", "a"], False),
        (OnlyAfter(A, B, C), ["b", "c", "a"], True),
        (OnlyAfter(A, B, C), ["bc", "a"], True),
        (OnlyAfter(A, B, C), ["c", "b", "a"], False),
        (AfterNever(A, B, C), ["a", "", "b"], True),
        (AfterNever(A, B, C), ["a", "c", "b"], False),
        (AfterNever(A, B, C), ["a", "bc"], False),
        (AfterNever(A, B, C), ["ac", "b"], True),
        (Never(A), ["b", "a", "b"], True),
        (Possible(A), ["b", "c"], False),
    ],
)
def test_levers_in_turn(sentence: Sentence, stretches: list[str], breached: bool) -> None:
    """2 s are neither more nor less than 2 s; an answer or a break starts the time anew."""
    memory = remembered(LEVERS, sentence, state(LEVERS), lifted(*stretches))
    assert memory.breached is breached


def raised(*highs: str) -> Iterator[Step]:
    """One stretch in which these pressures are above 1 bar in turn."""
    here, before = state(GAUGES), ""
    for high in highs:
        here = later(here, **{n: 1 if n in high + before else 0 for n in "abc"})
        yield elapse(here)
        here = later(here, **{n: 2 if n in high else 0 for n in "abc"})
        yield elapse(here)
        before = high


@pytest.mark.parametrize(
    ("sentence", "highs", "breached"),
    [
        (OnlyAfter(HIGH_A, HIGH_B, HIGH_C), ["b", "a"], False),
        (OnlyAfter(HIGH_A, HIGH_B, HIGH_C), ["b", "c", "a"], True),
        (OnlyAfter(HIGH_A, HIGH_B, HIGH_C), ["c", "b", "a"], True),
        (AfterNever(HIGH_A, HIGH_B, HIGH_C), ["b", "a"], True),
        (AfterNever(HIGH_A, HIGH_B, HIGH_C), ["a", "c", "b"], True),
        (AfterNever(HIGH_A, HIGH_B, HIGH_C), ["b", "c"], False),
    ],
)
def test_within_one_stretch(sentence: Sentence, highs: list[str], breached: bool) -> None:
    """The order inside a stretch does not help: a reset takes it all, a cause strikes it all."""
    memory = remembered(GAUGES, sentence, state(GAUGES), raised(*highs))
    assert memory.breached is breached


@pytest.mark.parametrize(
    ("order", "first", "last", "so"),
    [
        (">", 5, 6, True),
        (">", 6, 5, True),
        (">", 5, 5, False),
        (">", 4, 5, False),
        (">=", 5, 6, True),
        (">=", 5, 5, True),
        (">=", 4, 5, False),
        (">=", 5, 4, False),
        ("<", 5, 4, True),
        ("<", 4, 5, True),
        ("<", 5, 5, False),
        ("<", 5, 6, False),
        ("<=", 5, 4, True),
        ("<=", 5, 5, True),
        ("<=", 5, 6, False),
        ("<=", 6, 5, False),
    ],
)
def test_a_comparison_has_one_truth_inside_a_step(
    order: Order, first: int, last: int, so: bool
) -> None:
    """What counts is how it is between the ends, not at either of them."""
    of = circuit(supply())
    start = state(of, values={"main": first})
    sentence = Never(is_("main", order, 5))
    step = elapse(later(start, main=last))
    assert remembered(of, sentence, start, iter((step,))).breached is so
