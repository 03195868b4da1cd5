"""The part that a property depends on does all that the whole does."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from random import Random

import pytest

from airproof.circuit import cone as cutting
from airproof.circuit.behaviour import Behaviour
from airproof.circuit.cone import ELSEWHERE, cone
from airproof.circuit.kinds import Circuit
from airproof.circuit.landmarks import landmarks
from airproof.circuit.properties import Assumption, Never, Property, SupplyRule
from airproof.circuit.state import State, Step
from circuit.small import circuit as assembled
from circuit.small import is_, supply
from cross.explicit import Machine
from cross.watching import lengths
from generators import airy, finite

COUNTED = 150  # circuits whose states are counted
MOST = 100  # states of one of them
ASKED = 5  # properties of each
WALKED = 150  # circuits of each kind in which random runs are followed
STEPS = 12  # of one run


@pytest.fixture(autouse=True)
def _cut_off_however_little(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cutting, "MOST", 1)


def smaller(part: Circuit, whole: Circuit) -> bool:
    """Something is outside, not only what stands for it."""
    return len(part.positions) - 1 < len(whole.positions) or any(
        len(mine) < len(every)
        for mine, every in (
            (part.timers, whole.timers),
            (part.value_starts, whole.value_starts),
            (part.flows, whole.flows),
        )
    )


def test_no_breach_of_the_whole_is_missed_in_a_part() -> None:
    """What a run of the whole comes to, a run of the part comes to in as few steps or fewer."""
    compared = breached = 0
    for seed in range(COUNTED):
        circuit = finite(Random(seed), most=MOST, asked=ASKED)
        machine = Machine(circuit)
        for prop in circuit.properties.values():
            part = cone(circuit, prop)
            if not smaller(part, circuit):
                continue
            length, _ = lengths(machine, prop)
            compared += 1
            if length is not None:
                found, _ = lengths(Machine(part), prop)
                assert found is not None, (seed, prop)
                assert found <= length, (seed, prop)
                breached += 1
    assert compared >= COUNTED
    assert breached >= COUNTED / 3


# ---- random runs of the whole, seen on the part


def seen(part: Circuit, state: State, elsewhere: str, fresh: bool) -> State:
    """The state of the part that a state of the whole is."""
    placed = {n: p for n, p in state.positions.items() if n in part.positions}
    hands = {n for n in state.fresh if n in part.controls or n in part.range_controls}
    return replace(
        state,
        positions={**placed, ELSEWHERE: elsewhere},
        values={n: v for n, v in state.values.items() if n in part.value_starts},
        leaving={n: p for n, p in state.leaving.items() if n in part.devices},
        aged=state.aged & part.devices.keys(),
        timers={n: t for n, t in state.timers.items() if n in part.timers},
        fresh=frozenset({*hands, *((ELSEWHERE,) if fresh else ())}),
    )


def walk(circuit: Circuit, prop: Property, rng: Random) -> Iterator[tuple[State, Step]]:
    """The steps of a random run, each with the state before it."""
    behaviour, marks = Behaviour(circuit), landmarks(circuit, prop.sentence)
    state = behaviour.random_start(marks, rng, prop.start)
    for _ in range(STEPS if state else 0):
        assert state is not None
        if rng.randrange(2):
            step = behaviour.random_switch(state, rng)
        else:
            step = behaviour.random_elapse(state, marks, rng)
        if step is not None:
            yield state, step
            state = step.after


def follow(part: Circuit, prop: Property, run: Iterator[tuple[State, Step]]) -> int:
    """Follows a run of the whole on the part; how many of its steps move something there."""
    behaviour, marks = Behaviour(part), landmarks(part, prop.sentence)
    place, fresh, followed = "here", False, 0
    for index, (before, step) in enumerate(run):
        was = seen(part, before, place, fresh)
        if index == 0:
            assert behaviour.start_refusals(was, prop.start) == ()
        now = seen(part, step.after, place, fresh)
        if step.kind == "switch" and before.rested:
            fresh = not behaviour.moves_made(was, now)
            place = {"here": "there", "there": "here"}[place] if fresh else place
            now = seen(part, step.after, place, fresh)
        elif step.kind == "switch" and not behaviour.moves_made(was, now):
            continue  # once more somewhere else in the same instant
        amounts = {n: a for n, a in step.amounts.items() if n in part.flows}
        here = Step(step.kind, now, amounts, step.duration)
        assert behaviour.step_refusals(was, here, marks) == (), (was, here)
        followed += 1
    return followed


@pytest.mark.parametrize("make", [finite, airy])
def test_a_run_of_the_whole_is_one_of_the_part(make: Callable[[Random], Circuit]) -> None:
    """What happens outside only begins a new stretch, or is nothing at all."""
    followed = 0
    for seed in range(WALKED):
        rng = Random(seed)
        circuit = make(rng)
        (prop,) = circuit.properties.values()
        part = cone(circuit, prop)
        if smaller(part, circuit):
            followed += follow(part, prop, walk(circuit, prop, rng))
    assert followed >= WALKED


def test_what_is_granted_of_a_supply_is_granted_in_the_part() -> None:
    """A rule on the supplies of the part comes along, one on others does not."""
    never = Property("low", "Never low", Never(is_("main", "<", 4)))
    granted = Assumption("kept", "Main is kept up", SupplyRule((is_("main", ">=", 4),)))
    foreign = Assumption("other", "So is the other", SupplyRule((is_("spare", ">=", 1),)))
    circuit = assembled(supply(), supply("spare"), granted, foreign, never)
    assert cone(circuit, never).assumptions == {"kept": granted}
