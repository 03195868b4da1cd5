"""What a half-fitted circuit is asked: also what it leaves out though both ends ask it.

A step that withdraws a property and one that adds it again must not let the
stages between them go unjudged.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from airproof.analyses.likening import likened
from airproof.circuit.conditions import At, GoneTo, leaves
from airproof.circuit.cone import named
from airproof.circuit.kinds import Circuit
from airproof.circuit.landmarks import conditions_of
from airproof.circuit.properties import Property


@dataclass(frozen=True, slots=True)
class Between:
    """The stage with all that is asked of it.

    unasked: old properties that it is not asked, by their old names: withdrawn for good, or
    lost:    asked before and after, of something that the stage has not
    """

    circuit: Circuit
    unasked: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()


def between(stage: Circuit, old: Circuit, new: Circuit) -> Between:
    """Old questions that the new circuit answers too are asked of the stage, in the first words
    that it understands: the old ones, those in the new circuit's names, the new ones."""
    known, told = likened(old, stage).renaming.properties, likened(old, new)
    more: dict[str, Property] = {}
    unasked: list[str] = []
    lost: list[str] = []
    for name, asked in old.properties.items():
        after = told.renaming.properties.get(name, name)
        if not stage.properties.keys().isdisjoint((name, after, known.get(name, name))):
            continue
        if after not in new.properties:
            unasked.append(name)
            continue
        words = (asked, told.circuit.properties[after], new.properties[after])
        meant = next((one for one in words if _means(stage, one)), None)
        if meant is None:
            lost.append(name)
        else:
            more[name] = replace(meant, name=name)
    circuit = replace(stage, properties={**stage.properties, **more})
    return Between(circuit, tuple(unasked), tuple(lost))


def _means(circuit: Circuit, asked: Property) -> bool:
    """Everything that the property speaks of is there."""
    known = {*circuit.positions, *circuit.value_starts, *circuit.timers, *circuit.flows}
    places = (
        (leaf.component if isinstance(leaf, At) else leaf.control, leaf.position)
        for condition in conditions_of(asked.sentence)
        for leaf in leaves(condition)
        if isinstance(leaf, At | GoneTo)
    )
    started = asked.start is None or asked.start in circuit.standings
    return started and _all_in(known, named(asked.sentence)) and _there(circuit, places)


def _all_in(known: set[str], names: Iterable[str]) -> bool:
    return known.issuperset(names)


def _there(circuit: Circuit, places: Iterable[tuple[str, str]]) -> bool:
    return all(place in circuit.positions[name] for name, place in places)
