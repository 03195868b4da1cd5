"""Does a circuit show a list of views?  Asked like a property, and checked like one."""

from __future__ import annotations

from dataclasses import replace

from airproof.certify.check import certified
from airproof.circuit.behaviour import Behaviour
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Possible, Property, Shows
from airproof.circuit.sight import Scene, Sight, seen_in, stands_in
from airproof.engines.budget import Budget
from airproof.engines.strategy import prove
from airproof.evidence.difference import Doubt
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Reason, Verdict

ASKED = "(shows)"  # the name of the property; no name of the language has brackets
CHECKING = 10.0  # [s] a fresh solver has for a certificate

Scenes = tuple[Scene, ...]


def asking(circuit: Circuit, sight: Sight, scenes: Scenes) -> Circuit:
    """The circuit with one property: that it never shows the list."""
    sentence = Shows(tuple(seen_in(sight, circuit, scene) for scene in scenes))
    return replace(circuit, properties={ASKED: Property(ASKED, "", sentence)})


def asked(circuit: Circuit, sight: Sight, scenes: Scenes, budget: Budget) -> Verdict:
    """`breached` if the circuit shows the list, `holds` if it never does; each checked."""
    there = asking(circuit, sight, scenes)
    return certified(there, prove(there, ASKED, budget), CHECKING)


def never_stands(circuit: Circuit, sight: Sight, scene: Scene, budget: Budget) -> bool:
    """It is proved that time never passes with everything where the scene has it."""
    goal = Possible(stands_in(sight, circuit, scene))
    there = replace(circuit, properties={ASKED: Property(ASKED, "", goal)})
    return certified(there, prove(there, ASKED, budget), CHECKING).word == "breached"


def replayed(circuit: Circuit, sight: Sight, scenes: Scenes, run: Sequence) -> bool:
    """The solver-free account follows the run, and its last step completes the list."""
    there = asking(circuit, sight, scenes)
    replay = Behaviour(there).replay(there.properties[ASKED], run.start, run.steps)
    return replay.accepted and replay.decided == len(run.steps) - 1


def doubt(why: Reason | str | None) -> Doubt:
    """Why there is no knowing, by what an engine or a verdict says."""
    known: dict[str | None, Doubt] = {
        "no breach within": "no list within",
        "time limit": "time limit",
        "solver limit": "solver limit",
        "interrupted": "interrupted",
        "defect": "defect",
        "laid out otherwise": "laid out otherwise",
        None: "defect",
    }
    return known.get(why, "solver failed")
