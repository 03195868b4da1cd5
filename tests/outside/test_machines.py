"""Machines that run by the law of ISO 6358 breach nothing that the worked circuits prove.

Each also does nothing that the solver-free account forbids. AIRPROOF_MACHINES is how many
steps are made in each circuit.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from random import Random

import pytest

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.kinds import Circuit
from airproof.circuit.landmarks import landmarks
from airproof.circuit.state import State, Step
from airproof.language.load import load
from airproof.resources import folder
from outside.roving import Rover, Told
from outside.sensing import Machine

MODELS = Path(folder("models"))
STEPS = int(os.environ.get("AIRPROOF_MACHINES", "1500"))
WORKED = ("air_start", "press", "railcar", "tram_door", "winder")
CAUGHT = {  # planted defects that so few steps come upon
    "tram_door_obstruction": "obstruction",
    "tram_door_egress_cuts": "egress_cuts",
    "air_start_line_empty": "line_empty",
    "railcar_dead_handle": "dead_handle",
}


def expected(path: Path) -> Mapping[str, str]:
    found = re.findall(r"^# expect: (\S+) (\S+)", path.read_text(encoding="utf-8"), re.MULTILINE)
    return dict(found)


def state_of(circuit: Circuit, machine: Machine) -> State:
    return State(
        positions=machine.positions,
        values={name: machine.values[name] for name in circuit.value_starts},
        leaving=machine.leaving,
        aged=machine.aged,
        timers=machine.timers,
        fresh=machine.fresh,
        rested=machine.rested,
    )


def roved(circuit: Circuit, steps: int, seed: int) -> tuple[Rover, list[object]]:
    """Everything that the solver-free account forbids of these steps, every tenth asked."""
    rover, behaviour = Rover(circuit, Random(seed)), Behaviour(circuit)
    sentences = [circuit.properties[name].sentence for name in rover.judges]
    marks = frozenset().union(*(landmarks(circuit, sentence) for sentence in sentences))
    refused: list[object] = []
    for at, told in enumerate(rover.steps(steps)):
        if at % 10 == 0:
            refused += behaviour.step_refusals(
                state_of(circuit, told.before), step_of(circuit, told), marks
            )
    return rover, refused


def step_of(circuit: Circuit, told: Told) -> Step:
    after = state_of(circuit, told.after)
    if told.passage is None:
        return Step("switch", after)
    blow = told.passage.blow
    seconds = max(Fraction(blow.seconds), Fraction(1, 10**9))
    return Step("elapse", after, blow.amounts, seconds)


@pytest.mark.parametrize("name", WORKED)
def test_machines_do_what_is_allowed_and_breach_nothing_proved(name: str) -> None:
    path = MODELS / "worked" / f"{name}.circuit"
    circuit, verdicts = load(path).circuit, expected(path)
    rover, refused = roved(circuit, STEPS, 1)
    assert not refused
    assert not [p for p in rover.breached if verdicts[p] == "holds"]
    assert not rover.stuck
    assert len(rover.places) >= 10


@pytest.mark.parametrize(("name", "prop"), CAUGHT.items())
def test_machines_come_upon_planted_defects(name: str, prop: str) -> None:
    path = MODELS / "broken" / f"{name}.circuit"
    assert expected(path)[prop] == "breached"
    rover, refused = roved(load(path).circuit, 4 * STEPS, 3)
    assert not refused
    assert prop in rover.breached
