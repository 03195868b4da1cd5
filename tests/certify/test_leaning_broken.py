"""Each planted defect touches something that the proof of what it breaches leans on.

The circuits of `models/broken` are the worked ones with one defect each.  A
property that such a defect breaches held in the worked circuit by a proof; had
that proof leaned on nothing that was altered, it would still stand.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from airproof.certify.leaning import explained
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Possible
from airproof.evidence.leaning import Leans
from airproof.language import load
from judged_once import of_worked

MODELS = Path(__file__).parents[2] / "models"
SHELVES = (
    "supplies",
    "volumes",
    "controls",
    "range_controls",
    "devices",
    "timers",
    "flows",
    "quantities",
    "interlocks",
    "assumptions",
)
BREACHED = re.compile(r"^# expect: (\w+) breached", re.MULTILINE)
QUICK = {
    ("winder_lockout_spring", "low_supply"),
    ("winder_follower_plated", "slack_rope"),
    ("winder_reducer_sensing", "brake_ceiling"),
    ("railcar_no_overcharge", "no_overcharge"),
    ("press_both_hands", "both_hands"),
    ("tram_door_no_traction_open", "no_traction_open"),
}


def planted() -> Iterator[tuple[str, str]]:
    """Each broken circuit with each property that its defect breaches, possibilities aside."""
    for path in sorted(MODELS.glob("broken/*.circuit")):
        circuit = load(path).circuit
        for name in BREACHED.findall(path.read_text(encoding="utf-8")):
            if not isinstance(circuit.properties[name].sentence, Possible):
                yield path.stem, name


PLANTED = list(planted())


@cache
def worked(name: str) -> Circuit:
    return load(MODELS / "worked" / f"{name}.circuit").circuit


@cache
def leans(name: str, asked: str) -> Leans:
    circuit = worked(name)
    found = explained(circuit, of_worked(circuit, asked)).leans
    assert found is not None
    return found


def altered(before: Circuit, after: Circuit) -> set[str]:
    """What stands otherwise, is gone, or is new; a new flow alters the volumes that it leads to."""
    names: set[str] = set()
    for shelf in SHELVES:
        old, new = getattr(before, shelf), getattr(after, shelf)
        names |= {name for name in {*old, *new} if old.get(name) != new.get(name)}
    for name in after.flows.keys() - before.flows.keys():
        names |= {after.flows[name].source, after.flows[name].target}
    return names


def touched(file: str, asked: str) -> set[str]:
    """What the defect alters of all that the proof in the worked circuit leans on."""
    broken = load(MODELS / "broken" / f"{file}.circuit").circuit
    needed = {part.name for part in leans(broken.name, asked).parts}
    return altered(worked(broken.name), broken) & needed


def test_most_defects_breach_what_was_proved() -> None:
    """There is something to try: most of the planted defects are of this sort."""
    assert len(PLANTED) >= 40
    assert set(PLANTED) >= QUICK


@pytest.mark.parametrize(("file", "asked"), sorted(QUICK))
def test_a_defect_touches_what_its_proof_leans_on(file: str, asked: str) -> None:
    """A few of them, whose proofs are quick."""
    assert touched(file, asked)


@pytest.mark.slow
@pytest.mark.parametrize(("file", "asked"), sorted(set(PLANTED) - QUICK))
def test_every_defect_touches_what_its_proof_leans_on(file: str, asked: str) -> None:
    """The rest of them, with no exception."""
    assert touched(file, asked)
