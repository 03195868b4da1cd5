"""What two finite circuits show, by counting: written from the definition alone.

A third account of it, on the third account of the steps: nothing here is
shared with the program but the data of circuits.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import networkx

from airproof.circuit.conditions import At, Condition, GoneTo, OnTheWay, leaves
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import KeptRule
from cross.explicit import Machine, Node

Letter = tuple[tuple[str, str], ...]  # the watched things with their places, "-" on the way
Word = tuple[Letter, ...]
Spot = tuple[Node, Letter | None]  # a state, and what was last shown


def watched(old: Circuit, new: Circuit) -> tuple[str, ...]:
    """Every control that both have, and the devices that are marked, or final in one of them."""
    marks = {*old.observed, *new.observed}
    common = [name for name in old.positions if name in new.positions]
    hands = {name for name in old.controls if name in new.controls}
    if marks:
        seen = {n for c in (old, new) for n in c.devices if n in marks}
    else:
        seen = {n for c in (old, new) for n in c.devices if not _asked_about(c, n)}
    return tuple(name for name in common if name in hands or name in seen)


def _asked_about(circuit: Circuit, name: str) -> bool:
    """Something else of the circuit waits for the device, or for its place."""
    asking: list[Condition] = [timer.runs for timer in circuit.timers.values()]
    asking += [lock.condition for lock in circuit.interlocks.values()]
    rules = [each.rule for each in circuit.assumptions.values()]
    asking += [rule.condition for rule in rules if isinstance(rule, KeptRule)]
    for device in circuit.devices.values():
        if device.name != name:
            asking += [move.when for move in device.moves]
    return any(name == _about(leaf) for condition in asking for leaf in leaves(condition))


def _about(leaf: Condition) -> str | None:
    match leaf:
        case At(thing, _) | GoneTo(thing, _) | OnTheWay(thing):
            return thing
    return None


@dataclass
class Told:
    """One circuit as a graph: quiet edges, and edges that show a letter."""

    machine: Machine
    names: tuple[str, ...]
    quiet: networkx.DiGraph[Spot] = field(default_factory=networkx.DiGraph)
    loud: dict[Spot, tuple[Letter, Spot]] = field(default_factory=dict)
    done: dict[Spot, frozenset[Spot]] = field(default_factory=dict)

    def first(self) -> frozenset[Spot]:
        return self.around({(node, None) for node in self.machine.starts(None)})

    def letter(self, node: Node) -> Letter:
        found = []
        for name in self.names:
            at = self.machine.where[name]
            found.append((name, node.at[at] if node.left[at] is None else "-"))
        return tuple(found)

    def around(self, spots: Iterable[Spot]) -> frozenset[Spot]:
        """All that is reached from there without anything new being shown."""
        found: set[Spot] = set()
        for spot in spots:
            if spot not in self.done:
                self._explore(spot)
                self.done[spot] = frozenset({spot} | networkx.descendants(self.quiet, spot))
            found |= self.done[spot]
        return frozenset(found)

    def _explore(self, first: Spot) -> None:
        waiting = [first]
        self.quiet.add_node(first)
        seen = {first}
        while waiting:
            spot = waiting.pop()
            node, last = spot
            onward = [(after, last) for after in self.machine.switched(node)]
            passed = self.machine.elapsed(node)
            if passed is not None:
                letter = self.letter(node)
                if letter == last:
                    onward.append((passed, last))
                else:
                    self.loud[spot] = letter, (passed, letter)
            for after in onward:
                self.quiet.add_edge(spot, after)
                if after not in seen:
                    seen.add(after)
                    waiting.append(after)

    def on(self, spots: Iterable[Spot]) -> dict[Letter, set[Spot]]:
        found: dict[Letter, set[Spot]] = {}
        for spot in spots:
            if spot in self.loud:
                letter, after = self.loud[spot]
                found.setdefault(letter, set()).add(after)
        return found


def shortest(circuit: Circuit, other: Circuit, names: tuple[str, ...]) -> int | None:
    """How many views the shortest list has that the circuit shows and the other does not."""
    mine, theirs = Told(Machine(circuit), names), Told(Machine(other), names)
    layer = {(mine.first(), theirs.first())}
    known = set(layer)
    length = 0
    while layer:
        length += 1
        following = set()
        for own, foreign in layer:
            answers = theirs.on(foreign)
            for letter, spots in mine.on(own).items():
                if letter not in answers:
                    return length
                following.add((mine.around(spots), theirs.around(answers[letter])))
        layer = following - known
        known |= layer
    return None


def tells(circuit: Circuit, names: tuple[str, ...], word: Word) -> bool:
    """Whether some run of the circuit begins by showing these letters."""
    told = Told(Machine(circuit), names)
    spots = told.first()
    for letter in word:
        spots = told.around(told.on(spots).get(letter, set()))
    return bool(spots)


def standing(circuit: Circuit, names: tuple[str, ...]) -> set[tuple[str, ...]]:
    """The places, none on the way, in which time passes in some run of the circuit."""
    told = Told(Machine(circuit), names)
    spots = waiting = told.first()
    found: set[tuple[str, ...]] = set()
    while waiting:
        onward = told.on(waiting)
        found |= {tuple(place for _, place in letter) for letter in onward}
        after = {spot for spots_there in onward.values() for spot in spots_there}
        waiting = told.around(after) - spots
        spots |= waiting
    return {places for places in found if "-" not in places}
