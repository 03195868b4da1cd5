"""The search on the encoding, held against plain counting of states with networkx.

Run as a script, or with the environment variable AIRPROOF_CIRCUITS, for more circuits.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import product
from random import Random

import pytest

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.kinds import Circuit, Control, Device
from airproof.circuit.properties import (
    TIMED,
    AfterNever,
    Lasts,
    Never,
    OnceLasted,
    OnlyAfter,
    Possible,
    Property,
    Within,
)
from airproof.circuit.state import State
from airproof.circuit.switching import Moved
from airproof.engines import health, search, strategy
from airproof.engines.budget import Budget
from cross.explicit import Machine, Node
from cross.watching import lengths
from generators import finite

CIRCUITS = int(os.environ.get("AIRPROOF_CIRCUITS", "400"))
SIZES = (40, 40, 120, 120, 400, 2000)  # upper bounds on the states of a circuit
PROVED = 120  # circuits that are proved
DEEPEST = 9  # longer sequences are only shown to be longer than this
FEW = 60  # states, up to which the solver-free account is explored as well


@dataclass
class Tally:
    """What has been compared so far: circuits by the length of their breach."""

    lengths: Counter[int | None] = field(default_factory=Counter)
    forms: Counter[tuple[str, bool]] = field(default_factory=Counter)
    explored: int = 0

    @property
    def circuits(self) -> int:
        return self.lengths.total()

    def __str__(self) -> str:
        by_length = sorted(self.lengths.items(), key=lambda pair: pair[0] or 0)
        told = ", ".join(f"{'never' if n is None else n}: {count}" for n, count in by_length)
        return f"{self.circuits} circuits, {self.explored} explored twice; lengths {told}"


def farthest(circuit: Circuit, machine: Machine) -> tuple[Property, int | None, int]:
    """The property whose breach lies farthest, its length, and how far any state of it lies."""
    known = [(p, *lengths(machine, p)) for p in circuit.properties.values()]
    return max(known, key=lambda found: (found[1] or 0, found[2]))


def compare_search(circuit: Circuit, machine: Machine, tally: Tally) -> None:
    """The search finds a breach exactly as long as counting says, or none that deep."""
    asked, length, deepest = farthest(circuit, machine)
    steps = min(DEEPEST, length if length is not None else deepest + 1)
    found = search.run(circuit, asked, Budget(steps=steps))
    told = found.sequence.length if found.sequence else None
    assert told == (length if length is not None and length <= steps else None), (asked, length)
    if told is None:
        begins = any(machine.starts(asked.start))
        assert found.why == ("deepest" if begins else "no start"), asked
    tally.lengths[length] += 1
    tally.forms[type(asked.sentence).__name__, length is not None] += 1


# ---- the solver-free account, explored


def explored(circuit: Circuit, starts: Iterator[State]) -> set[Node]:
    """Every state that the solver-free account reaches, by trying all moves together."""
    behaviour, rng = Behaviour(circuit), Random(0)
    found = {_node(circuit, state): state for state in starts}
    waiting = list(found.values())
    while waiting:
        state = waiting.pop()
        passed = behaviour.random_elapse(state, (), rng)
        for after in (*([passed.after] if passed else ()), *_switched(behaviour, state)):
            if (node := _node(circuit, after)) not in found:
                found[node] = after
                waiting.append(after)
    return set(found)


def _switched(behaviour: Behaviour, state: State) -> Iterator[State]:
    choices: list[list[Moved | None]] = []
    for name, control in behaviour.circuit.controls.items():
        here = state.positions[name]
        choices.append(
            [None, *(Moved("control", name, here, p) for p in control.positions if p != here)]
        )
    things = [move for move in behaviour.options(state) if move.kind != "control"]
    for name in dict.fromkeys(move.name for move in things):
        choices.append([None, *(move for move in things if move.name == name)])
    for moves in product(*choices):
        after = behaviour.moved(state, [move for move in moves if move])
        if not behaviour.switch_refusals(state, after):
            yield after


def _node(circuit: Circuit, state: State) -> Node:
    names = [*circuit.controls, *circuit.devices]
    return Node(
        tuple(state.positions[name] for name in names),
        tuple(state.leaving.get(name) for name in names),
        state.aged,
        tuple(state.timers[name] for name in circuit.timers),
        state.fresh,
        state.rested,
    )


def _beginnings(circuit: Circuit) -> Iterator[State]:
    """Every start, found by asking for each combination of places."""
    behaviour = Behaviour(circuit)
    things: list[Control | Device] = [*circuit.controls.values(), *circuit.devices.values()]
    for places in product(*(thing.positions for thing in things)):
        at = {thing.name: place for thing, place in zip(things, places, strict=True)}
        state = State(at, {}, timers=dict.fromkeys(circuit.timers, "idle"))
        if not behaviour.start_refusals(state):
            yield state


def compare(circuits: int) -> Tally:
    """Compares so many circuits; raises AssertionError where the accounts part."""
    tally = Tally()
    for seed in range(circuits):
        rng = Random(seed)
        circuit = finite(rng, most=rng.choice(SIZES), asked=rng.choice((1, 6, 6)))
        machine = Machine(circuit)
        try:
            compare_search(circuit, machine, tally)
            reached = machine.reachable() if seed % 4 == 0 else set()
            if 0 < len(reached) <= FEW:
                assert explored(circuit, _beginnings(circuit)) == reached
                tally.explored += 1
        except AssertionError as parting:
            raise AssertionError(f"seed {seed}: the accounts disagree") from parting
    return tally


@pytest.fixture(scope="module")
def tally() -> Tally:
    return compare(CIRCUITS)


def test_the_search_finds_what_counting_finds(tally: Tally) -> None:
    """For every circuit the same length, or nothing down to the same depth; same states too."""
    print(tally)
    assert tally.circuits >= CIRCUITS
    assert tally.explored >= CIRCUITS / 20


def test_the_lengths_are_of_every_kind(tally: Tally) -> None:
    """Breaches near and far, and circuits without any, are all well represented."""
    far = sum(count for n, count in tally.lengths.items() if n is not None and n >= 4)
    assert far >= tally.circuits / 10, str(tally)
    assert tally.lengths[None] >= tally.circuits / 20, str(tally)


def test_every_form_of_property_is_met_breached_and_unbreached(tally: Tally) -> None:
    """No form's monitor escapes the comparison."""
    forms = [Never, OnlyAfter, AfterNever, Within, OnceLasted, Lasts, Possible]
    both = [(form.__name__, breached) for form in forms for breached in (True, False)]
    assert all(tally.forms[pair] for pair in both), tally.forms


def test_every_healthy_finite_circuit_is_decided_as_counting_has_it() -> None:
    """Both ways, however deep: proved if no run gets there, else found."""
    told = decided(range(PROVED))
    print(told)
    assert told.right >= PROVED / 2
    assert told.sick <= PROVED / 4


@dataclass
class Decided:
    """What became of random circuits: decided rightly, or sick, so that nothing is to be said."""

    right: int = 0
    sick: int = 0


def decided(seeds: Iterable[int]) -> Decided:
    """Proves each and compares; a breach that takes a time is one only once sizes are judged."""
    told = Decided()
    for seed in seeds:
        rng = Random(seed)
        circuit = finite(rng, most=rng.choice(SIZES[:-1]))
        (asked,) = circuit.properties.values()
        found = lengths(Machine(circuit), asked)[0] is not None
        right = "holds" if found == isinstance(asked.sentence, Possible) else "breached"
        verdict = strategy.prove(circuit, asked.name, Budget())
        needs_sizes = found and isinstance(asked.sentence, TIMED)
        if verdict.word == right or (needs_sizes and verdict.reason == "needs sizes"):
            told.right += 1
            continue
        assert verdict.word == "undecided", (seed, verdict)
        findings = health.examine(circuit, Budget())
        assert any(finding.weight == "error" for finding in findings), (seed, verdict)
        told.sick += 1
    return told


if __name__ == "__main__":
    MANY = int(os.environ.get("AIRPROOF_CIRCUITS", "20000"))
    print(compare(MANY), decided(range(MANY)), sep="\n")
