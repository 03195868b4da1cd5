"""Lists of views: what all accounts make of them, and random runs against the answers.

With the environment variable AIRPROOF_CIRCUITS, on more circuits.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from random import Random

from airproof.analyses.apart import apart, laid
from airproof.analyses.showing import ASKED, asked, asking, replayed
from airproof.circuit.behaviour import Behaviour
from airproof.circuit.exploring import Explorer
from airproof.circuit.guiding import Guide
from airproof.circuit.kinds import Circuit
from airproof.circuit.readings import Inner
from airproof.circuit.sight import Scene, Sight, scene_of, seen_in, shown, sight_of
from airproof.circuit.state import Monitor, State, Step
from airproof.circuit.tables import tables_of
from airproof.circuit.watches import monitor_of
from airproof.engines.budget import Budget
from airproof.transition.ground import Ground
from cross.changing import changed
from generators import airy, finite

CIRCUITS = int(os.environ.get("AIRPROOF_CIRCUITS", "12"))

Run = tuple[State, tuple[Step, ...]]


def runs(circuit: Circuit, sight: Sight, seed: int, count: int) -> Iterator[Run]:
    """Random runs that cross no landmark of the sight."""
    marked = _marked(circuit, sight)
    explorer = Explorer(marked, None, seed)
    for run in Guide(explorer).runs(count):
        if run.nodes:
            yield explorer.states(run.nodes[-1])


def _marked(circuit: Circuit, sight: Sight) -> Circuit:
    """The circuit with a property that reads every landmark of the sight."""
    low = Scene(tuple(p[0] for p in sight.places.values()), (0,) * len(sight.gauges))
    every = [
        replace(low, cells=tuple(2 * min(at, len(m)) for m in sight.gauges.values()))
        for at in range(1 + max((len(m) for m in sight.gauges.values()), default=0))
    ]
    return asking(circuit, sight, tuple(every))


def made(seed: int) -> Circuit:
    rng = Random(seed)
    circuit = finite(rng, most=120) if seed % 4 == 3 else airy(rng)
    return replace(circuit, properties={}, standings={})


def test_all_accounts_remember_a_list_alike() -> None:
    """On random runs of random circuits, with lists that some of them show and some do not."""
    tally: Counter[str] = Counter()
    for seed in range(CIRCUITS):
        circuit, rng = made(seed), Random(seed)
        sight = sight_of(circuit, circuit)
        told = [*runs(circuit, sight, seed, 6)]
        lists = [shown(sight, *run) for run in told]
        lists = [scenes for scenes in lists if scenes]
        for start, steps in told:
            if not lists:
                break
            scenes = rng.choice([*lists, *filter(None, map(_gapped, lists))])
            scenes = scenes[: rng.randint(1, len(scenes))]
            _followed(circuit, sight, scenes, start, steps)
            is_first = shown(sight, start, steps)[: len(scenes)] == scenes
            assert _completes(circuit, sight, scenes, start, steps) == is_first
            tally["shown" if is_first else "not shown"] += 1
            tally[f"views {min(3, len(scenes))}"] += 1
    for kind in ("shown", "not shown", "views 1", "views 2", "views 3"):
        assert tally[kind] > 3, tally


def _gapped(scenes: tuple[Scene, ...]) -> tuple[Scene, ...] | None:
    """The list without its second view: a run that shows it all strays, and comes back."""
    left = (*scenes[:1], *scenes[2:])
    return left if len(scenes) > 2 and left[0] != left[1] else None


def _followed(
    circuit: Circuit, sight: Sight, scenes: tuple[Scene, ...], start: State, steps: tuple[Step, ...]
) -> None:
    """Step by step the encoding allows just the memory of the solver-free account."""
    there = asking(circuit, sight, scenes)
    prop = there.properties[ASKED]
    behaviour, ground = Behaviour(there), Ground(there, prop)
    before, memory = start, Monitor()
    for step in steps:
        after = behaviour.next_monitor(prop, memory, before, step)
        assert ground.allows(before, memory, step, after)
        for flag in ("strayed", *(f"seen {n}" for n in range(1, len(scenes)))):
            other = replace(after, flags=after.flags ^ {flag})
            assert not ground.allows(before, memory, step, other)
        other = replace(after, breached=not after.breached)
        assert not ground.allows(before, memory, step, other)
        before, memory = step.after, after


def _completes(
    circuit: Circuit, sight: Sight, scenes: tuple[Scene, ...], start: State, steps: tuple[Step, ...]
) -> bool:
    there = asking(circuit, sight, scenes)
    replay = Behaviour(there).replay(there.properties[ASKED], start, steps)
    assert replay.accepted
    return replay.monitor.breached


def test_the_quick_account_remembers_the_same() -> None:
    """What random runs carry along is what the solver-free account works out."""
    compared = 0
    for seed in range(CIRCUITS):
        circuit = made(seed)
        sight = sight_of(circuit, circuit)
        lists = [shown(sight, *run) for run in runs(circuit, sight, seed, 4)]
        for scenes in filter(None, lists):
            there = asking(circuit, sight, scenes)
            explorer, behaviour = Explorer(there, None, seed), Behaviour(there)
            for run in Guide(explorer).runs(4):
                for node in run.nodes:
                    assert node.parent is not None
                    before = explorer.board.state_of(node.parent.spot)
                    was, now = (monitor_of(n.memories[0]) for n in (node.parent, node))
                    step = explorer.step(node)
                    told = behaviour.next_monitor(there.properties[ASKED], was, before, step)
                    assert told == now
                    compared += 1
    assert compared > 300


def test_random_runs_bear_out_what_is_said_of_circuits_with_air() -> None:
    """A run of a circuit that shows nothing new is never refuted; what is never shown never is."""
    tally: Counter[str] = Counter()
    for seed in range(100, 100 + CIRCUITS):
        rng = Random(seed)
        old = replace(airy(rng), properties={}, standings={})
        new = changed(old, rng)
        found = apart(old, new, Budget(seconds=20.0))
        plan = laid(old, new)
        for showing, one, other in (
            (found.new, plan.new, plan.old),
            (found.gone, plan.old, plan.new),
        ):
            tally[f"{showing.word} {showing.means or showing.reason}"] += 1
            assert showing.reason != "defect"
            if showing.word == "nothing":
                for start, steps in runs(one, found.sight, seed, 3):
                    scenes = shown(found.sight, start, steps)[:5]
                    if scenes:
                        less = Budget(seconds=5.0, steps=12)
                        claim = asked(other, found.sight, scenes, less)
                        assert claim.word != "holds"
                        tally[f"shown by the other too: {claim.word}"] += 1
            if showing.sequence is not None:
                assert replayed(one, found.sight, showing.scenes, showing.sequence)
                for start, steps in runs(other, found.sight, seed, 40):
                    told = shown(found.sight, start, steps)
                    assert told[: len(showing.scenes)] != showing.scenes
    print(sorted(tally.items()))
    assert tally["something searched"] > 0, tally
    assert tally["shown by the other too: breached"] > 0, tally


def test_of_all_scenes_just_the_one_that_is_shown_is_so() -> None:
    """As a condition, read as properties read it, in every stretch of random runs."""
    compared = 0
    for seed in range(CIRCUITS):
        circuit = made(seed)
        sight, tables = sight_of(circuit, circuit), tables_of(circuit)
        for start, steps in runs(circuit, sight, seed, 3):
            scenes = dict.fromkeys(shown(sight, start, steps))
            before = start
            for step in steps:
                if step.kind == "elapse":
                    view = Inner(tables, before, step.after)
                    so = [s for s in scenes if view.judged(seen_in(sight, circuit, s))[1]]
                    assert so == [scene_of(sight, before, step.after)]
                    compared += 1
                before = step.after
    assert compared > 100
