"""What a half-fitted circuit is asked: also what it leaves out though both ends ask it.

A step that withdraws a property, or weakens what it asks, and one that puts
that right again must not let the stages between them go unjudged.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from airproof.analyses.likening import likened
from airproof.analyses.renaming import question
from airproof.circuit.conditions import At, GoneTo, leaves
from airproof.circuit.cone import named
from airproof.circuit.kinds import Circuit, Standing
from airproof.circuit.landmarks import conditions_of
from airproof.circuit.properties import Property


@dataclass(frozen=True, slots=True)
class Between:
    """The stage with all that is asked of it.

    unasked: old properties that it is not asked, by their old names: withdrawn for good, or
    lost:    asked before and after, of something that the stage has not
    kept:    what it asks in other words for a while, and is asked as before and after
    other:   what it asks neither as it was asked before nor as it is after
    """

    circuit: Circuit
    unasked: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()
    other: tuple[str, ...] = ()


def between(stage: Circuit, old: Circuit, new: Circuit) -> Between:
    """Old questions that the new circuit answers too are asked of the stage, in the first words
    that it understands: the old ones, those in the new circuit's names, the new ones."""
    here, told = likened(old, stage), likened(old, new)
    found = _Found()
    for name in old.properties:
        then = here.renaming.properties.get(name, name)
        after = told.renaming.properties.get(name, name)
        own = next((_Asked(stage, x) for x in (then, name, after) if x in stage.properties), None)
        words = [_Asked(here.circuit, then), _Asked(old, name), _Asked(told.circuit, after)]
        if own is not None and _alike(own, words[0]):
            continue
        if after in new.properties:
            words.append(_Asked(new, after))
        if own is None and after not in new.properties:
            found.unasked.append(name)
        elif own is None or (after in new.properties and _alike(words[2], words[3])):
            found.ask(stage, name, own, words)
        elif not any(_alike(own, one) for one in words[1:]):
            found.other.append(own.name)
    return found.between(stage)


@dataclass(slots=True)
class _Found:
    """What came out, property by property."""

    more: dict[str, Property] = field(default_factory=dict)
    states: dict[str, Standing] = field(default_factory=dict)
    unasked: list[str] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)
    kept: list[str] = field(default_factory=list)
    other: list[str] = field(default_factory=list)

    def ask(self, stage: Circuit, name: str, own: _Asked | None, words: list[_Asked]) -> None:
        """Asks what both ends ask, in place of what the stage has by that name."""
        meant = next((one for one in words if _means(stage, one)), None)
        if meant is None:
            self.lost.append(name)
            return
        if own is not None and _alike(own, meant):
            return
        if own is not None:
            self.kept.append(own.name)
            name = own.name
        self.more[name] = replace(meant.asked, name=name)
        if (state := meant.state) is not None:
            self.states[state.name] = state

    def between(self, stage: Circuit) -> Between:
        circuit = replace(
            stage,
            properties={**stage.properties, **self.more},
            standings={**stage.standings, **self.states},
        )
        lists = (self.unasked, self.lost, self.kept, self.other)
        return Between(circuit, *map(tuple, lists))


@dataclass(frozen=True, slots=True)
class _Asked:
    """A property of a circuit."""

    circuit: Circuit
    name: str

    @property
    def asked(self) -> Property:
        return self.circuit.properties[self.name]

    @property
    def state(self) -> Standing | None:
        """Where its runs start, if not as the circuit does."""
        start = self.asked.start
        return None if start is None else self.circuit.standings[start]


def _alike(one: _Asked, other: _Asked) -> bool:
    """The same question of the same start, names of both apart."""
    return question(one.asked) == question(other.asked) and _pinned(one) == _pinned(other)


def _pinned(asked: _Asked) -> object:
    state = asked.state
    return None if state is None else (dict(state.positions), dict(state.values))


def _means(circuit: Circuit, one: _Asked) -> bool:
    """Everything that the property speaks of is there."""
    asked, state = one.asked, one.state
    known = {*circuit.positions, *circuit.value_starts, *circuit.timers, *circuit.flows}
    places = [
        (leaf.component if isinstance(leaf, At) else leaf.control, leaf.position)
        for condition in conditions_of(asked.sentence)
        for leaf in leaves(condition)
        if isinstance(leaf, At | GoneTo)
    ]
    pinned = [*state.positions, *state.values] if state is not None else []
    places += state.positions.items() if state is not None else ()
    return _all_in(known, (*named(asked.sentence), *pinned)) and _there(circuit, places)


def _all_in(known: set[str], names: Iterable[str]) -> bool:
    return known.issuperset(names)


def _there(circuit: Circuit, places: Iterable[tuple[str, str]]) -> bool:
    return all(place in circuit.positions[name] for name, place in places)
