"""Health's proof that time can go on, held against counting and against random runs.

Run as a script, or with the environment variable AIRPROOF_CIRCUITS, for more circuits.
"""

from __future__ import annotations

import os
from collections import Counter
from random import Random

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.kinds import Circuit
from airproof.circuit.landmarks import Mark, landmarks
from airproof.circuit.state import State, Step
from airproof.engines.budget import Budget
from airproof.engines.soundness import Soundness
from cross.explicit import Machine
from cross.stopping import stopped
from generators import airy, finite

CIRCUITS = int(os.environ.get("AIRPROOF_CIRCUITS", "200"))
SIZES = (40, 40, 120, 120, 400, 2000)  # upper bounds on the states of a circuit
AIRY = 16  # circuits with numbers
RUNS, STEPS = 6, 12  # random runs of each of them, and their steps

Starts = dict[str | None, set[str]]


def examined(circuit: Circuit) -> Starts:
    """By start, the codes of errors and of what was not proved."""
    whole = Soundness(circuit, Budget(seconds=120))
    suspects = whole.suspects()
    return {
        start: {finding.code for finding in whole.findings(start, suspects)}
        for start in (None, *circuit.standings)
    }


def compare(circuits: int) -> Counter[tuple[bool, str]]:
    """How often time can stop, by what was said; raises AssertionError where counting differs."""
    told: Counter[tuple[bool, str]] = Counter()
    for seed in range(circuits):
        rng = Random(seed)
        circuit = finite(rng, most=rng.choice(SIZES))
        machine = Machine(circuit)
        for start, codes in examined(circuit).items():
            stops = bool(stopped(machine, start))
            word = "not proved" if codes == {"not examined"} else "wrong" if codes else "sound"
            assert (stops, word) not in {(True, "sound"), (False, "wrong")}, (seed, start)
            told[stops, word] += 1
    return told


def test_no_clean_bill_where_counting_finds_time_stopped() -> None:
    """On finite circuits every start is called sound or wrong exactly as counting has it."""
    told = compare(CIRCUITS)
    print(dict(told))
    assert told[True, "wrong"] >= CIRCUITS / 10
    assert told[False, "sound"] >= CIRCUITS
    assert told[False, "not proved"] + told[True, "not proved"] <= CIRCUITS / 100


# ---- with numbers: a clean bill is held against random runs


def test_random_runs_of_sound_circuits_can_always_go_on() -> None:
    """From every state of every run devices alone come to rest."""
    sound = looked = 0
    for seed in range(AIRY):
        circuit, rng = airy(Random(seed)), Random(seed)
        for start, codes in examined(circuit).items():
            if not codes:
                sound += 1
                looked += sum(_goes_on(circuit, start, rng, seed) for _ in range(RUNS))
    assert sound >= AIRY / 2
    assert looked >= 20 * sound


def _goes_on(circuit: Circuit, start: str | None, rng: Random, seed: int) -> int:
    """How many states of one random run came to rest; raises AssertionError if one does not."""
    behaviour, marks, seen = Behaviour(circuit), landmarks(circuit, None), 0
    state = behaviour.random_start(marks, rng, start)
    for _ in range(STEPS if state else 0):
        assert state is not None
        outcome = behaviour.explore_devices(state).outcome
        assert outcome in ("settled", "unknown"), (seed, start, state)
        seen += outcome == "settled"
        step = _random_step(behaviour, state, marks, rng)
        if step is None:
            break
        state = step.after
    return seen


def _random_step(
    behaviour: Behaviour, state: State, marks: frozenset[Mark], rng: Random
) -> Step | None:
    passed = behaviour.random_elapse(state, marks, rng)
    moved = behaviour.random_switch(state, rng)
    return passed if passed and (moved is None or rng.random() < 0.6) else moved


if __name__ == "__main__":
    print(compare(int(os.environ.get("AIRPROOF_CIRCUITS", "2000"))))
