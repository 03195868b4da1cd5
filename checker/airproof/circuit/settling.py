"""Whether devices left to themselves come to rest, and the races on the way."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, product
from typing import Literal

from airproof.circuit.elapsing import due
from airproof.circuit.moving import moved, unattended
from airproof.circuit.state import State
from airproof.circuit.switching import Moved, switch_refusals
from airproof.circuit.tables import Tables

ALL_TOGETHER = 128  # up to this many joint moves of one state, each is tried


@dataclass(frozen=True, slots=True)
class Exploration:
    """What devices, forced controls and timer resets alone lead to from `start`.

    outcome: settled  time can pass after `steps`, as few as possible
             deadlock something is due after `steps` and nothing can move
             loop     neither: moves without end, `steps` as far as the state `race` begins with
             unknown  more states than were allowed to be looked at
    race:    moves that are due and lead in a circle, whether it can be left or not: the
             states of the circle, the first one repeated at the end; empty if there is none
    """

    outcome: Literal["settled", "deadlock", "loop", "unknown"]
    start: State
    steps: tuple[State, ...]
    race: tuple[State, ...]


def explore_devices(tables: Tables, start: State, *, most: int = 2000) -> Exploration:
    """Breadth first through the moves in no time, every other control still.

    Looks at no more than `most` states.  Joint moves are tried all together
    where they are few, and otherwise one, two and all at a time.
    """
    found = _Search(start, lambda state: _after_moves(tables, state, unattended(tables, state)))
    over = found.run(lambda state: not due(tables, state, state), most)
    racing = _all_due(tables, start, most)
    race = racing.circle()
    if over is not None:
        return Exploration("settled", start, found.way_to(over), race)
    if found.cut_short:
        return Exploration("unknown", start, (), race)
    if found.dead_ends:
        return Exploration("deadlock", start, found.way_to(found.dead_ends[0]), race)
    search, circle = (racing, race) if race else (found, found.circle())
    return Exploration("loop", start, search.way_to(_key(circle[0])), circle)


def _all_due(tables: Tables, start: State, most: int) -> _Search:
    """The search by moves that are all due when they are made."""

    def onward(state: State) -> Iterator[State]:
        things = due(tables, state, state)
        places = {(thing.name, thing.to) for thing in things}
        forced = {thing.name for thing in things if thing.kind == "control"}
        moves = [
            move
            for move in unattended(tables, state)
            if move.name in forced or (move.name, move.now) in places
        ]
        return _after_moves(tables, state, moves)

    search = _Search(start, onward)
    search.run(lambda state: False, most)
    return search


def _after_moves(tables: Tables, state: State, moves: Sequence[Moved]) -> Iterator[State]:
    for together in _joint(moves):
        after = moved(tables.circuit, state, together)
        by_hand = any(move.kind == "control" for move in together)
        if not (by_hand and switch_refusals(tables, state, after)):
            yield after


def _joint(moves: Sequence[Moved]) -> Iterator[tuple[Moved, ...]]:
    """Sets of moves, at most one of each thing: single ones first."""
    by_name: dict[str, list[Moved]] = {}
    for move in moves:
        by_name.setdefault(move.name, []).append(move)
    things = list(by_name.values())
    sizes: Iterable[int] = range(1, len(things) + 1)
    count = 1
    for choices in things:
        count *= len(choices) + 1
    if count > ALL_TOGETHER:
        sizes = (1, 2, len(things))
    for size in sizes:
        for some in combinations(things, size):
            yield from product(*some)


def _key(state: State) -> Hashable:
    return (
        tuple(sorted(state.positions.items())),
        tuple(sorted(state.leaving.items())),
        tuple(sorted(state.timers.items())),
        state.aged,
        state.fresh,
        state.rested,
    )


class _Search:
    """A breadth-first search that remembers whence it came to each state."""

    def __init__(self, start: State, onward: Callable[[State], Iterable[State]]) -> None:
        self.states: dict[Hashable, State] = {_key(start): start}
        self.came_from: dict[Hashable, Hashable | None] = {_key(start): None}
        self.leads_to: dict[Hashable, list[Hashable]] = {}
        self.dead_ends: list[Hashable] = []
        self.cut_short = False
        self._onward = onward

    def run(self, goal: Callable[[State], bool], most: int) -> Hashable | None:
        """The key of the nearest state with the goal, or None."""
        queue = deque(self.states)
        while queue:
            here = queue.popleft()
            if goal(self.states[here]):
                return here
            if len(self.states) > most:
                self.cut_short = True
                return None
            queue.extend(self._expand(here))
        return None

    def _expand(self, here: Hashable) -> Iterator[Hashable]:
        onward = {_key(state): state for state in self._onward(self.states[here])}
        self.leads_to[here] = list(onward)
        if not onward:
            self.dead_ends.append(here)
        for key, state in onward.items():
            if key not in self.states:
                self.states[key] = state
                self.came_from[key] = here
                yield key

    def way_to(self, key: Hashable) -> tuple[State, ...]:
        """The states after the start, as far as this one."""
        way: list[State] = []
        here: Hashable | None = key
        while here is not None and self.came_from[here] is not None:
            way.append(self.states[here])
            here = self.came_from[here]
        return tuple(reversed(way))

    def circle(self) -> tuple[State, ...]:
        """States that lead back to the first of them, or nothing: depth first, each edge once."""
        done: set[Hashable] = set()
        for root in self.leads_to:
            path: list[Hashable] = []
            ahead = [iter([root])]
            while ahead:
                here = next(ahead[-1], None)
                if here is None:
                    ahead.pop()
                    if path:
                        done.add(path.pop())
                elif here in path:
                    circle = [*path[path.index(here) :], here]
                    return tuple(self.states[key] for key in circle)
                elif here not in done:
                    path.append(here)
                    ahead.append(iter(self.leads_to.get(here, ())))
        return ()
