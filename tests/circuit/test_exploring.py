"""The quick account that random runs step on says what `Behaviour` says."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from itertools import pairwise
from pathlib import Path
from random import Random

import pytest

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.exploring import Explorer, Node
from airproof.circuit.guiding import Guide
from airproof.circuit.kinds import Circuit
from airproof.circuit.passing import Mood
from airproof.circuit.state import State
from airproof.circuit.watches import monitor_of
from airproof.language import load, load_text
from generators import airy, finite
from table_reader import rows

WORKED = sorted((Path(__file__).parents[2] / "models" / "worked").glob("*.circuit"))
DRAWN = 60  # random circuits
WILD = 14  # steps of a run in which anything is moved
GUIDED = 5  # guided runs of one circuit


@cache
def drawn(seed: int) -> Circuit:
    rng = Random(seed)
    return finite(rng) if seed % 4 == 3 else airy(rng)


@cache
def written() -> tuple[Circuit, ...]:
    """Every circuit of the table, and the worked ones."""
    return (
        *(load_text(row.text, row.path.name).circuit for row in rows()),
        *(load(path).circuit for path in WORKED),
    )


def wildly(explorer: Explorer) -> Iterator[Node]:
    """A run of any moves at all, some of them together."""
    rng, node = explorer.rng, explorer.start()
    mood = Mood(greed=rng.choice((0.2, 0.5, 0.9)), stir=0.8)
    if node is None:
        return
    yield node
    for _ in range(WILD):
        after = _wild_step(explorer, node, mood)
        if after is not None:
            yield after
            node = after


def _wild_step(explorer: Explorer, node: Node, mood: Mood) -> Node | None:
    rng, facts = explorer.rng, node.spot.facts
    if rng.random() < 0.5:
        return explorer.passed(node, mood)
    if explorer.circuit.range_controls and rng.random() < 0.3:
        return explorer.turned(node, rng.choice(list(explorer.circuit.range_controls)))
    offers = [*explorer.offers.by_hand(facts), *explorer.offers.by_itself(facts)]
    chosen = rng.sample(offers, min(len(offers), rng.choice((1, 1, 2, 3))))
    return explorer.switched(node, list({o.name: o for o in chosen}.values())) if chosen else None


def assert_followed(explorer: Explorer, nodes: list[Node]) -> int:
    """`Behaviour` follows the run, step by step, and remembers the same; how many steps."""
    behaviour = Behaviour(explorer.circuit)
    before = explorer.board.state_of(nodes[0].spot)
    if nodes[0].parent is None:
        assert behaviour.start_refusals(before, explorer.standing) == ()
    for earlier, node in pairwise(nodes):
        step = explorer.step(node)
        assert behaviour.step_refusals(before, step, explorer.marks) == (), step
        assert explorer.board.spot(step.after).facts == node.spot.facts
        for watch, then, now in zip(explorer.watches, earlier.memories, node.memories, strict=True):
            told = behaviour.next_monitor(watch.property, monitor_of(then), before, step)
            assert told == monitor_of(now), (watch.property, step)
        before = step.after
    return len(nodes) - 1


@pytest.mark.parametrize("seed", range(DRAWN))
def test_behaviour_follows_wild_runs_of_random_circuits(seed: int) -> None:
    """Starts, steps and what properties remember are the same, from each start there is."""
    circuit = drawn(seed)
    for standing in (None, *circuit.standings):
        nodes = list(wildly(Explorer(circuit, standing, seed)))
        if nodes:
            assert_followed(Explorer(circuit, standing, seed), nodes)


@pytest.mark.parametrize("at", range(len(rows()) + len(WORKED)))
def test_behaviour_follows_guided_runs(at: int) -> None:
    """No step of a guided run is refused, in the table or in the worked circuits."""
    circuit = written()[at]
    for standing in dict.fromkeys(p.start for p in circuit.properties.values()):
        explorer = Explorer(circuit, standing, 1)
        runs = list(Guide(explorer).runs(GUIDED))
        assert runs or explorer.start() is None
        for run in runs:
            assert_followed(explorer, [run.origin, *run.nodes])


@pytest.mark.parametrize("seed", range(DRAWN))
def test_the_same_single_moves_are_on_offer(seed: int) -> None:
    """Each of them leads to the same state as one of Behaviour's options, and the other way."""
    circuit = drawn(seed)
    explorer, behaviour = Explorer(circuit, None, seed), Behaviour(circuit)
    for node in wildly(explorer):
        state, facts = explorer.board.state_of(node.spot), node.spot.facts
        offers = [*explorer.offers.by_hand(facts), *explorer.offers.by_itself(facts)]
        afters = [after for o in offers if (after := explorer.switched(node, [o])) is not None]
        quick = [explorer.board.state_of(after.spot) for after in afters]
        plain = [behaviour.moved(state, [move]) for move in behaviour.options(state)]
        assert all(after in plain for after in quick)
        assert all(after in quick for after in plain)


@pytest.mark.parametrize("seed", range(DRAWN))
def test_the_same_things_are_due(seed: int) -> None:
    """Where `Behaviour` says that something is due if no value changes, and only there."""
    circuit = drawn(seed)
    explorer, behaviour = Explorer(circuit, None, seed), Behaviour(circuit)
    for node in wildly(explorer):
        state = explorer.board.state_of(node.spot)
        assert explorer.offers.due(node.spot.facts) == bool(behaviour.due_now(state))


@pytest.mark.parametrize("seed", range(0, DRAWN, 5))
def test_a_state_survives_the_board(seed: int) -> None:
    """To the board and back it is the same state."""
    explorer = Explorer(drawn(seed), None, seed)
    for node in wildly(explorer):
        state = explorer.board.state_of(node.spot)
        assert explorer.board.state_of(explorer.board.spot(state)) == state


def trail(circuit: Circuit, seed: int) -> list[tuple[State, ...]]:
    explorer = Explorer(circuit, None, seed)
    return [
        tuple(explorer.board.state_of(node.spot) for node in (run.origin, *run.nodes))
        for run in Guide(explorer).runs(30)
    ]


def test_the_same_seed_draws_the_same_runs() -> None:
    """And another seed draws others."""
    circuit = load(WORKED[0]).circuit
    assert trail(circuit, 1) == trail(circuit, 1)
    assert trail(circuit, 1) != trail(circuit, 2)
