"""Whether a circuit understands a question that another one asks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from airproof.circuit.affected import KINDS
from airproof.circuit.bands import unkept
from airproof.circuit.conditions import At, Compare, GoneTo, leaves
from airproof.circuit.cone import named
from airproof.circuit.kinds import Band, Circuit, Standing
from airproof.circuit.landmarks import conditions_of
from airproof.circuit.normal import normal_thing
from airproof.circuit.properties import Property, SupplyRule
from airproof.circuit.renamed import Renaming


@dataclass(frozen=True, slots=True)
class Words:
    """The circuit whose words they are.

    strange: names that something else may go by elsewhere, or whose positions may be called
             otherwise there
    new:     strange names are understood where they stand for what they stand for in it
    """

    circuit: Circuit
    strange: frozenset[str] = frozenset()
    new: Circuit | None = None


def strange(names: Renaming) -> frozenset[str]:
    """What is called otherwise by one of two circuits, by either name."""
    things = (*names.things, *names.things.values())
    return frozenset((*things, *names.places, *map(names.thing, names.places)))


def meant(circuit: Circuit, words: Words, asked: Property, state: Standing | None) -> bool:
    """Everything that the question speaks of is there, and is the thing that is spoken of."""
    conditions = conditions_of(asked.sentence)
    places = [
        (leaf.component if isinstance(leaf, At) else leaf.control, leaf.position)
        for condition in conditions
        for leaf in leaves(condition)
        if isinstance(leaf, At | GoneTo)
    ]
    places += state.positions.items() if state is not None else ()
    names = {*named(asked.sentence)}
    names |= {*state.positions, *state.values} if state is not None else set()
    return (
        all(_same_thing(circuit, words, name) for name in names)
        and all(place in circuit.positions[name] for name, place in places)
        and (state is None or _can_stand(circuit, state))
    )


def _same_thing(circuit: Circuit, words: Words, name: str) -> bool:
    kind = _kind(circuit, name)
    if kind is None or kind != _kind(words.circuit, name):
        return False
    if name not in words.strange:
        return True
    new = words.new
    if new is None or _kind(new, name) != kind:
        return False
    same: bool = normal_thing(getattr(circuit, kind)[name]) == normal_thing(
        getattr(new, kind)[name]
    )
    return same


def things(circuit: Circuit) -> set[str]:
    """The names of everything that moves, changes or carries air."""
    return {name for kind in KINDS for name in getattr(circuit, kind)}


def _kind(circuit: Circuit, name: str) -> str | None:
    return next((kind for kind in KINDS if name in getattr(circuit, kind)), None)


def _can_stand(circuit: Circuit, state: Standing) -> bool:
    """Nothing that is pinned is out of its range, sealed elsewhere, or against an assumption."""
    ranges = {name: one.range for name, one in circuit.supplies.items()}
    ranges |= {name: one.range for name, one in circuit.range_controls.items()}
    inside = all(
        name not in ranges or ranges[name].low <= value <= ranges[name].high
        for name, value in state.values.items()
    )
    sealed = all(
        circuit.controls[name].sealed in (None, place)
        for name, place in state.positions.items()
        if name in circuit.controls
    )
    pinned = ranges | {name: Band(value, value) for name, value in state.values.items()}
    return inside and sealed and not any(unkept(pinned, one) for one in _comparisons(circuit))


def _comparisons(circuit: Circuit) -> Iterator[Compare]:
    for assumption in circuit.assumptions.values():
        if isinstance(assumption.rule, SupplyRule):
            yield from assumption.rule.comparisons
