"""Another sequence, told apart by what it does: by hand, and counted state by state."""

from __future__ import annotations

import itertools
import os
from collections import Counter
from random import Random

import pytest

from airproof.analyses.others import another
from airproof.circuit.behaviour import Behaviour
from airproof.circuit.cone import cone
from airproof.circuit.deeds import Deed
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.engines import search
from airproof.engines.budget import Budget
from airproof.engines.rivals import done_by, essential
from airproof.evidence.sequence import Sequence
from airproof.language import load_text
from cross.explicit import Machine
from cross.lacking import Refraining, fewest
from cross.watching import lengths
from generators import finite

CIRCUITS = int(os.environ.get("AIRPROOF_CIRCUITS", "50"))
DEEPEST = 8

# Three ways to feed the brake with the gate open; opening the gate belongs to each.  The
# third one takes two moves.  The lamp changes nothing: with it or without it is the same.
WAYS = """\
circuit ways
supply main: 0 bar .. 8 bar, starts 6 bar
cylinder brake: starts 0 bar
control gate: shut, open; starts shut
control one: off, on; starts off
control two: off, on; starts off
control three: off, on; starts off
control four: off, on; starts off
control lamp: off, on; starts off
flow feed: main -> brake while (one is on or two is on or (three is on and four is on)), one way
property gate_open "Never fed while the gate is open"
    never feed is flowing while gate is open
"""


def circuit_of(text: str, name: str) -> tuple[Circuit, Property]:
    circuit = load_text(text).circuit
    return circuit, circuit.properties[name]


def first(circuit: Circuit, prop: Property) -> Sequence:
    sequence = search.run(circuit, prop, Budget(steps=DEEPEST)).sequence
    assert sequence is not None
    return sequence


def core_of(circuit: Circuit, prop: Property, sequence: Sequence) -> frozenset[Deed]:
    done = done_by(circuit, sequence)
    return essential(circuit, prop, done, len(sequence.steps), Budget())


def test_each_further_one_is_another_way() -> None:
    """One control, the other, then the two together; then there is no more."""
    circuit, prop = circuit_of(WAYS, "gate_open")
    known, ways = [first(circuit, prop)], list[set[str]]()
    while True:
        ways.append({deed.name for deed in done_by(circuit, known[-1])} - {"gate"})
        verdict = another(circuit, prop, known, Budget(steps=6))
        if verdict.sequence is None:
            break
        assert (verdict.word, verdict.strength) == ("breached", "for some sizes")
        known.append(verdict.sequence)
    assert sorted(map(sorted, ways)) == [["four", "three"], ["one"], ["two"]]
    assert ways[-1] == {"three", "four"}
    assert (verdict.word, verdict.reason, verdict.depth) == ("undecided", "no breach within", 6)


def test_what_stood_in_a_known_one_by_the_way_is_no_difference() -> None:
    """A sequence that also lights the lamp comes down to one that does not."""
    circuit, prop = circuit_of(WAYS, "gate_open")
    plain = first(circuit, prop)
    behaviour = Behaviour(circuit)
    lit = [move for move in behaviour.options(plain.start) if move.name == "lamp"]
    dark = next(step for step in plain.steps if step.kind == "switch")
    moves = [*behaviour.moves_made(plain.start, dark.after), *lit]
    assert plain.steps[0] == dark
    begun = behaviour.moved(plain.start, moves)
    shining = {"lamp": "on"}
    later = (
        type(step)(
            step.kind,
            type(begun)(
                {**step.after.positions, **shining},
                step.after.values,
                fresh=step.after.fresh | {"lamp"},
                rested=step.after.rested,
            ),
            step.amounts,
            step.duration,
        )
        for step in plain.steps[1:]
    )
    detour = Sequence(plain.start, (type(dark)("switch", begun, {}, dark.duration), *later))
    replay = behaviour.replay(prop, detour.start, detour.steps)
    assert replay.accepted
    assert replay.decided == len(detour.steps) - 1
    assert core_of(circuit, prop, detour) == done_by(circuit, plain)
    verdict = another(circuit, prop, [detour], Budget(steps=6))
    assert verdict.sequence is not None
    assert not done_by(circuit, plain) <= done_by(circuit, verdict.sequence)


def test_a_breach_without_a_move_leaves_no_other() -> None:
    """Whatever else happens, it happens as well."""
    text = 'circuit c\ncontrol a: x, y; starts x\nproperty p ""\n    never a is x\n'
    circuit, prop = circuit_of(text, "p")
    verdict = another(circuit, prop, [first(circuit, prop)], Budget(steps=5))
    assert (verdict.word, verdict.reason) == ("undecided", "no breach within")


@pytest.mark.parametrize("budget", [Budget(seconds=0.0), Budget(resource=1)])
def test_the_limit_is_said(budget: Budget) -> None:
    """Nothing is said of what was not searched."""
    circuit, prop = circuit_of(WAYS, "gate_open")
    verdict = another(circuit, prop, [first(circuit, prop)], budget)
    assert verdict.word == "undecided"
    assert verdict.reason in ("time limit", "solver limit")


def test_the_rest_of_the_circuit_goes_along() -> None:
    """Searched in the part that matters, it is a run of the whole circuit."""
    units = "".join(
        f"control b{i}: up, down; starts up\nrelay r{i}: in while b{i} is down, out otherwise\n"
        for i in range(8)
    )
    circuit, prop = circuit_of(WAYS.replace("flow feed", units + "flow feed"), "gate_open")
    verdict = another(circuit, prop, [first(circuit, prop)], Budget(steps=6))
    assert verdict.sequence is not None
    replay = Behaviour(circuit).replay(prop, verdict.sequence.start, verdict.sequence.steps)
    assert replay.accepted


# ---- against counting


def test_counting_agrees_about_further_sequences() -> None:
    """As short as counting has it over all ways to leave something out, or none that deep."""
    met = Counter[str]()
    for seed in range(CIRCUITS):
        circuit = finite(Random(seed), most=120, asked=3)
        for prop in circuit.properties.values():
            sequence = search.run(circuit, prop, Budget(steps=DEEPEST)).sequence
            if sequence is None or cone(circuit, prop) is not circuit:
                continue  # in a part, what stands outside is no difference
            core = core_of(circuit, prop, sequence)
            _essential(circuit, prop, sequence, core)
            shorter = [lengths(Refraining(circuit, [deed]), prop)[0] for deed in core]
            best = min((n for n in shorter if n is not None and n <= DEEPEST), default=None)
            verdict = another(circuit, prop, [sequence], Budget(steps=DEEPEST))
            told = verdict.sequence.length if verdict.sequence else None
            if told is None and best is not None:
                few = [fewest(Refraining(circuit, [deed]), prop) for deed in core]
                assert min(n for n in few if n is not None) > DEEPEST, (seed, prop.name)
                continue
            assert told == best, (seed, prop.name, core)
            if verdict.sequence is not None:
                assert not core <= done_by(circuit, verdict.sequence)
            met["none" if told is None else "another"] += 1
            met["smaller" if core < done_by(circuit, sequence) else "all"] += 1
    print(met)
    assert min(met["none"], met["another"]) >= CIRCUITS / 25, met
    assert met["smaller"] > 0, met


def _essential(circuit: Circuit, prop: Property, sequence: Sequence, core: frozenset[Deed]) -> None:
    """With nothing but the core a breach of so many steps is had, with less of it none."""
    machine, most = Machine(circuit), len(sequence.steps)
    every = {Deed(name, place) for name, places in circuit.positions.items() for place in places}
    every |= {Deed(name, "expired") for name in machine.clock_of}
    steps = fewest(Refraining(circuit, every - core), prop)
    assert steps is not None
    assert steps <= most
    for less in itertools.combinations(core, max(0, len(core) - 1)):
        steps = fewest(Refraining(circuit, every - set(less)), prop)
        assert not core or steps is None or steps > most
