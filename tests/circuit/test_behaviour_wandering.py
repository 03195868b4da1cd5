"""Random runs: what is drawn is allowed, and what is allowed keeps to the plain facts of air."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from functools import cache
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.conditions import NO, YES, AllOf, AnyOf, At, Expired, Flowing, GoneTo, Not
from airproof.circuit.kinds import (
    Change,
    Control,
    Device,
    Interlock,
    Move,
    Quantity,
    RangeControl,
    Standing,
    Timer,
)
from airproof.circuit.landmarks import Mark, landmarks
from airproof.circuit.properties import Assumption, KeptRule, SupplyRule
from airproof.circuit.readings import value_of
from airproof.circuit.state import State, Step, TimerState
from circuit.small import apart, band, circuit, control, elapse, flow, is_, state, supply, valve
from circuit.small import volume as tank

SIZED = "a dredger's spud clamp, all volumes stated"
OPEN = "a sluice with one pipe of no stated volume, a pump and a range control"
SCENES = (SIZED, OPEN)
WORDS: tuple[TimerState, ...] = ("idle", "running", "expired")

SEEDS = st.integers(min_value=0, max_value=10**6)
calmly = settings(derandomize=True, deadline=None, max_examples=25)


@cache
def behaviour(scene: str) -> Behaviour:
    return Behaviour(
        circuit(
            supply("main", 0, 8),
            control("lever", "hold", "drop", "lift", ordered=True),
            control("rope", "tight", "slack"),
            tank("pipe", band(3, 3), band(0, 2)),
            tank("clamp", band(12, 12), band(0, 6)),
            valve("guard", is_("pipe", ">=", 5, "1/10"), is_("pipe", "<=", 4), starts_called=True),
            valve("slide", At("lever", "lift"), Not(At("lever", "lift")), moving=band(1, 2)),
            Timer("notice", At("rope", "slack"), band(1, 2)),
            Interlock("slack", "Slack", "lever", "only", "lift", At("rope", "tight")),
            Interlock("late", "Late", "lever", "forced", "hold", Expired("notice")),
            flow("feed", "main", "pipe", one_way=True, opening=Fraction(1, 2)),
            flow("join", "pipe", "clamp", AllOf((At("slide", "open"), At("guard", "open")))),
            flow("fall", "clamp", "atmosphere", At("lever", "drop")),
        )
        if scene == SIZED
        else circuit(
            supply("main", 2, 8),
            supply("spare", 0, 8),
            Assumption("higher", "Higher", SupplyRule((apart("main", "spare", ">=", 0),))),
            Assumption("kept", "Kept", KeptRule("cock", "locked", "open", GoneTo("mode", "auto"))),
            RangeControl("handle", band(0, 5), band(0, 5)),
            control("cock", "shut", "open"),
            control("mode", "hand", "auto"),
            tank("tee"),
            tank("float", band(2, 3), band(0, 1)),
            Device(
                "shuttle",
                "valve",
                ("left", "middle", "right"),
                (
                    Move("left", apart("tee", "handle", ">", 1)),
                    Move("right", apart("handle", "tee", ">", 1)),
                    Move("middle", apart("handle", "tee", "<=", "1/2")),
                ),
                ("middle",),
                moving=band(1, 2),
                on_the_way="closed",
            ),
            valve("whistle", Flowing("spill"), Not(Flowing("spill"))),
            flow("feed", "main", "tee", At("shuttle", "right")),
            flow("vent", "tee", "atmosphere", AnyOf((At("shuttle", "left"), At("cock", "open")))),
            flow("spill", "tee", "float", is_("tee", ">=", 3, "1/5"), one_way=True),
            flow("back", "float", "spare", At("mode", "auto")),
            Quantity(
                "level",
                "mm",
                band(0, 1),
                (Change(band(1, 2), At("mode", "auto")), Change(band(-1, 0), is_("tee", ">", 2))),
            ),
            Standing("raised", {"mode": "auto"}, {"level": Fraction(5), "tee": Fraction(4)}),
        )
    )


@cache
def marks_of(scene: str) -> frozenset[Mark]:
    return landmarks(behaviour(scene).circuit, None)


def wander(scene: str, seed: int, length: int = 30) -> Iterator[tuple[State, Step]]:
    """A random run, each step with the state before it."""
    rng, walker, marks = Random(seed), behaviour(scene), marks_of(scene)
    before = walker.random_start(marks, rng)
    assert before is not None
    assert walker.start_refusals(before) == ()
    for _ in range(length):
        step = walker.random_elapse(before, marks, rng) if rng.random() < 0.6 else None
        step = step or walker.random_switch(before, rng)
        if step is not None:
            yield before, step
            before = step.after


@pytest.mark.parametrize("scene", SCENES)
@calmly
@given(seed=SEEDS)
def test_what_is_drawn_is_allowed(scene: str, seed: int) -> None:
    """Every start and every step of a random run passes the rules."""
    for before, step in wander(scene, seed):
        assert behaviour(scene).step_refusals(before, step, marks_of(scene)) == ()


@pytest.mark.parametrize("scene", SCENES)
def test_random_runs_go_everywhere(scene: str) -> None:
    """Each kind of move, each position, each flow, and resting and moving on landmarks."""
    walker, seen = behaviour(scene), Counter[object]()
    for seed in range(60):
        for before, step in wander(scene, seed):
            seen.update(m.kind for m in walker.moves_made(before, step.after))
            seen.update(step.after.positions.items())
            seen.update(name for name, amount in step.amounts.items() if amount)
            for form, constant in marks_of(scene):
                if value_of(form, step.after.values) == constant:
                    seen["still" if step.after.values == before.values else "met"] += 1
    of = walker.circuit
    kinds = {"control", "device", "sets off", "arrives", "turns round", "still", "met"}
    kinds |= {"timer expires", "timer reset"} if of.timers else {"range"}
    placed: list[Control | Device] = [*of.controls.values(), *of.devices.values()]
    everywhere = {(thing.name, position) for thing in placed for position in thing.positions}
    assert {*kinds, *of.flows, *everywhere} - seen.keys() == set()


@calmly
@given(seed=SEEDS)
def test_the_same_seed_draws_the_same_run(seed: int) -> None:
    """Nothing depends on the order of a set."""
    assert list(wander(SIZED, seed, 15)) == list(wander(SIZED, seed, 15))


@pytest.mark.parametrize("scene", SCENES)
@calmly
@given(seed=SEEDS)
def test_air_never_rises_above_where_it_comes_from(scene: str, seed: int) -> None:
    """No volume exceeds the highest supply or start, none falls below the atmosphere."""
    of = behaviour(scene).circuit
    for _, step in wander(scene, seed):
        for name in of.volumes:
            assert 0 <= step.after.values[name] <= 8


@calmly
@given(seed=SEEDS)
def test_air_is_neither_made_nor_lost(seed: int) -> None:
    """In exact volumes the stored air changes by what was fed and what was let go."""
    volumes = behaviour(SIZED).circuit.volumes
    size = {name: volume.size.low for name, volume in volumes.items() if volume.size}
    for before, step in wander(SIZED, seed):
        stored = sum(v * (step.after.values[n] - before.values[n]) for n, v in size.items())
        assert stored == step.amounts.get("feed", 0) - step.amounts.get("fall", 0)


@calmly
@given(seed=SEEDS, change=st.fractions(max_denominator=20).filter(bool))
def test_a_changed_pressure_is_refused(seed: int, change: Fraction) -> None:
    """With the same amounts a stated volume cannot end anywhere else."""
    for before, step in wander(SIZED, seed, 10):
        if step.kind == "elapse":
            values = {**step.after.values, "clamp": step.after.values["clamp"] + change}
            forged = replace(step, after=replace(step.after, values=values))
            refusals = behaviour(SIZED).elapse_refusals(before, forged, marks_of(SIZED))
            assert "air balance" in {refusal.rule for refusal in refusals}


@pytest.mark.parametrize("scene", SCENES)
@calmly
@given(seed=SEEDS)
def test_time_may_pass_wherever_nothing_is_due(scene: str, seed: int) -> None:
    """With no value changing and some choice of timers; and not where something is due."""
    walker = behaviour(scene)
    for before, _ in wander(scene, seed, 15):
        after = replace(before, rested=True, aged=frozenset(before.leaving))
        afters = [replace(after, timers=dict.fromkeys(after.timers, word)) for word in WORDS]
        allowed = any(
            walker.elapse_refusals(before, elapse(one), marks_of(scene)) == () for one in afters
        )
        assert allowed == (walker.due_now(before) == ())


@pytest.mark.parametrize("scene", SCENES)
@calmly
@given(seed=SEEDS)
def test_options_are_all_the_moves_there_are(scene: str, seed: int) -> None:
    """Of all places a device could be put, exactly those on offer are allowed."""
    walker = behaviour(scene)
    for before, _ in wander(scene, seed, 10):
        offered = [walker.moved(before, [move]) for move in walker.options(before)]
        for device in walker.circuit.devices.values():
            for after in _places(before, device):
                allowed = walker.switch_refusals(before, after) == ()
                assert allowed == (after in offered)


def _places(before: State, device: Device) -> Iterator[State]:
    fresh = frozenset() if before.rested else before.fresh
    others = {name: left for name, left in before.leaving.items() if name != device.name}
    for position in device.positions:
        for left in (None, *device.positions):
            for aged in (False, True) if left else (False,):
                yield replace(
                    before,
                    positions={**before.positions, device.name: position},
                    leaving={**others, device.name: left} if left else others,
                    aged=(before.aged - {device.name}) | ({device.name} if aged else set()),
                    fresh=fresh,
                    rested=False,
                )


def test_random_starts_from_a_standing_state() -> None:
    """What it pins is pinned, the rest is as the circuit starts."""
    for seed in range(10):
        start = behaviour(OPEN).random_start(marks_of(OPEN), Random(seed), "raised")
        assert start is not None
        assert start.values["level"] == 5
        assert behaviour(OPEN).start_refusals(start, "raised") == ()


def test_random_drawing_says_when_there_is_nothing() -> None:
    """No start, no move, no elapse step: None, and nothing made up."""
    nowhere = circuit(supply(), Assumption("no", "No", SupplyRule((is_("main", ">", 8),))))
    assert Behaviour(nowhere).random_start((), Random(1)) is None
    still = circuit(tank("pipe"))
    assert Behaviour(still).random_switch(state(still), Random(1)) is None
    stuck = circuit(valve("gate", YES, NO))
    assert Behaviour(stuck).random_elapse(state(stuck), (), Random(1)) is None
