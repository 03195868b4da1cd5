"""Every state of a circuit without numbers, found with the solver-free account alone."""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from itertools import combinations, product
from random import Random

import networkx as nx

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.properties import Never, Property
from airproof.circuit.state import Monitor, State, Step
from airproof.circuit.switching import Moved

Places = tuple[str, ...]


ALONE = {"sealed", "not a neighbour", "twice in no time"}  # refused whatever else moves


class Explorer:
    """Tries every set of up to `together` control moves; turns back where time shows a foul."""

    def __init__(self, behaviour: Behaviour, *, together: int = 3, foul: str | None = None) -> None:
        self.behaviour, self.together, self.foul = behaviour, together, foul
        self._onward: dict[Hashable, list[State]] = {}

    def places(self, state: State) -> Places:
        return tuple(state.positions.values())

    def switched(self, state: State) -> list[State]:
        """Every state one switch step on."""
        key = _key(state)
        if key not in self._onward:
            self._onward[key] = list(self._switched(state))
        return self._onward[key]

    def _switched(self, state: State) -> Iterator[State]:
        moves: dict[str, list[Moved]] = {}
        for name, here in state.positions.items():
            for place in self.behaviour.circuit.controls[name].positions:
                move = Moved("control", name, here, place)
                alone = self.behaviour.moved(state, [move])
                refused = {r.rule for r in self.behaviour.switch_refusals(state, alone)}
                if place != here and not refused & ALONE:
                    moves.setdefault(name, []).append(move)
        for count in range(1, self.together + 1):
            for names in combinations(moves, count):
                for some in product(*(moves[name] for name in names)):
                    after = self.behaviour.moved(state, some)
                    if not self.behaviour.switch_refusals(state, after):
                        yield after

    def rested(self, state: State) -> State | None:
        """The state after time has passed, unless it cannot pass or shows a foul."""
        step = self.behaviour.random_elapse(state, (), Random(0))
        return None if step is None or self._fouls(state, step) else step.after

    def _fouls(self, state: State, step: Step) -> bool:
        if self.foul is None:
            return False
        judged = Property("foul", "Foul", Never(self.behaviour.circuit.signals[self.foul]))
        return self.behaviour.next_monitor(judged, Monitor(), state, step).breached

    def in_no_time(self, state: State) -> Iterator[State]:
        """Every state that switch steps alone lead to, this one included."""
        found = {_key(state)}
        waiting = [state]
        while waiting:
            here = waiting.pop()
            yield here
            for after in self.switched(here):
                if _key(after) not in found:
                    found.add(_key(after))
                    waiting.append(after)

    def rests(self) -> Iterator[tuple[State, State]]:
        """Each state in which time has passed, with each of those one stretch later."""
        start = self.behaviour.random_start((), Random(0))
        assert start is not None
        found, waiting = {_key(start)}, [start]
        while waiting:
            state = waiting.pop()
            for after in filter(None, map(self.rested, self.in_no_time(state))):
                yield state, after
                if _key(after) not in found:
                    found.add(_key(after))
                    waiting.append(after)

    def stretches(self) -> nx.DiGraph[Places]:
        """The places in which time passes, each leading to those of the next stretch."""
        pairs = ((self.places(one), self.places(other)) for one, other in self.rests())
        return nx.DiGraph(pairs)

    def steps(self) -> nx.DiGraph[Places]:
        """The places of every state, each leading to those one switch step on."""
        rests = {_key(after): after for _, after in self.rests()}
        return nx.DiGraph(
            (self.places(here), self.places(after))
            for state in rests.values()
            for here in self.in_no_time(state)
            for after in self.switched(here)
        )


def _key(state: State) -> Hashable:
    return tuple(state.positions.items()), state.fresh, state.rested
