"""What may move outside a part while the part goes its way."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.elapsing import Due
from airproof.circuit.moving import unattended
from airproof.circuit.state import State
from airproof.circuit.switching import Moved

FEW = 4  # up to so many things, every set of their moves is tried
MANY = 8  # moves of which each is tried alone


def together(moves: list[Moved]) -> list[tuple[Moved, ...]]:
    """Sets of these moves, at most one of each thing: all, each alone, every set of a few."""
    by_name: dict[str, list[Moved]] = {}
    for move in moves:
        by_name.setdefault(move.name, []).append(move)
    if not moves:
        return []
    sets = [tuple(some[0] for some in by_name.values()), *((m,) for m in moves[:MANY])]
    if len(by_name) <= FEW:
        for size in range(1, len(by_name) + 1):
            for some in itertools.combinations(by_name.values(), size):
                sets.extend(itertools.product(*some))
    return list(dict.fromkeys(sets))


@dataclass(frozen=True, slots=True)
class Outsiders:
    """Everything of the whole that is not of the part (`inside`)."""

    behaviour: Behaviour
    inside: frozenset[str]

    def due(self, before: State, after: State) -> list[Due]:
        """What is due outside in the elapse step between these states."""
        return [x for x in self.behaviour.due(before, after) if x.name not in self.inside]

    def wanted(self, state: State, spans: Iterable[tuple[State, State]]) -> list[Moved]:
        """Moves, allowed now, of what is due in one of the elapse steps."""
        moves = dict.fromkeys(self._move(state, x) for span in spans for x in self.due(*span))
        return [move for move in moves if self._allowed(state, move)]

    def by_themselves(self, state: State) -> list[tuple[Moved, ...]]:
        """Moves of what nobody moves by hand, due or not."""
        found = unattended(self.behaviour.tables, state)
        return together([move for move in found if move.name not in self.inside][:MANY])

    def anything(self, state: State, wanted: list[Moved]) -> Iterator[tuple[Moved, ...]]:
        """Some move outside, whichever: those that are wanted, else the calmest."""
        due = together(wanted)
        yield from due
        offers = [m for m in self.behaviour.options(state) if m.name not in self.inside]
        offers += self._settings(state)
        calmest = sorted(offers[: 3 * MANY], key=lambda move: self._unrest(state, move))
        yield from ((move,) for move in calmest[:MANY])
        for move in calmest[:MANY] if due else ():
            if all(other.name != move.name for other in due[0]):
                yield (move, *due[0])

    def _move(self, state: State, thing: Due) -> Moved:
        circuit = self.behaviour.circuit
        if thing.kind == "timer":
            return Moved("timer reset", thing.name, state.timers[thing.name], "idle")
        here, to = state.positions[thing.name], thing.to
        if thing.kind == "device":
            slow = circuit.devices[thing.name].moving is not None
            return Moved("sets off" if slow else "device", thing.name, here, to)
        control = circuit.controls[thing.name]
        if control.ordered:
            at, goal = control.positions.index(here), control.positions.index(to)
            to = control.positions[at + (1 if goal > at else -1)]
        return Moved("control", thing.name, here, to)

    def _allowed(self, state: State, move: Moved) -> bool:
        return not self.behaviour.switch_refusals(state, self.behaviour.moved(state, [move]))

    def _settings(self, state: State) -> Iterator[Moved]:
        """Range controls set to an end of their range."""
        for name, handle in self.behaviour.circuit.range_controls.items():
            was = state.values[name]
            if name not in self.inside and (state.rested or name not in state.fresh):
                ends = {handle.range.low, handle.range.high} - {was}
                yield from (Moved("range", name, was, end) for end in sorted(ends))

    def _unrest(self, state: State, move: Moved) -> int:
        return len(self.behaviour.due_now(self.behaviour.moved(state, [move])))
