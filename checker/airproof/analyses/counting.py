"""Two circuits without any number told apart by counting: every state of both, in sets.

After a list of views each circuit may be in a set of states.  Pairs of these
sets are followed, the shortest lists first, until one of a pair is empty: that
circuit cannot show the list, the other can.  Where no pair is new any more,
each shows what the other shows.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from airproof.circuit.counted import Counted, Facts, TooMany, countable
from airproof.circuit.kinds import Circuit
from airproof.circuit.sight import Scene, Sight
from airproof.circuit.state import Step
from airproof.evidence.sequence import Sequence

MOST_MOVES = 300_000  # combinations of moves of one circuit, and states looked at again
MOST_PAIRS = 20_000

States = frozenset[Facts]
Scenes = tuple[Scene, ...]


@dataclass(frozen=True, slots=True)
class Found:
    """A shortest list of views that only one of the circuits shows, and a run that shows it."""

    scenes: Scenes
    sequence: Sequence


@dataclass(frozen=True, slots=True)
class Count:
    """new: what the new circuit shows only; gone: what the old one does; None: nothing at all.

    states: of both circuits, how many were met
    """

    new: Found | None
    gone: Found | None
    states: int


def counted(old: Circuit, new: Circuit, sight: Sight) -> Count | None:
    """Both directions; None if the states are not countable, or too many."""
    if not (countable(old) and countable(new)):
        return None
    was, now = Counted(old, sight, MOST_MOVES), Counted(new, sight, MOST_MOVES)
    pairs = _Pairs(was, now)
    try:
        pairs.follow()
        gone, came = _found(was, pairs.gone), _found(now, pairs.new)
    except TooMany:
        return None
    return Count(came, gone, was.met + now.met)


@dataclass(slots=True)
class _Pairs:
    """The pairs of sets, with the list of views that leads to each."""

    was: Counted
    now: Counted
    gone: Scenes | None = None
    new: Scenes | None = None
    known: set[tuple[States, States]] = field(default_factory=set)

    def follow(self) -> None:
        first = (
            _reached(self.was, self.was.starts(), None),
            _reached(self.now, self.now.starts(), None),
        )
        self.known.add(first)
        waiting: deque[tuple[States, States, Scenes]] = deque([(*first, ())])
        while waiting and (self.gone is None or self.new is None):
            before, after, told = waiting.popleft()
            old, new = _onward(self.was, before), _onward(self.now, after)
            for scene in sorted(old.keys() | new.keys(), key=_order):
                if told and scene == told[-1]:
                    continue
                pair = self._pair(old.get(scene), new.get(scene), scene, (*told, scene))
                if pair is not None and pair not in self.known:
                    if len(self.known) >= MOST_PAIRS:
                        raise TooMany
                    self.known.add(pair)
                    waiting.append((*pair, (*told, scene)))

    def _pair(
        self, old: set[Facts] | None, new: set[Facts] | None, scene: Scene, told: Scenes
    ) -> tuple[States, States] | None:
        """The states after the view; None if only one circuit shows it."""
        if old is None:
            self.new = self.new or told
        elif new is None:
            self.gone = self.gone or told
        else:
            return _reached(self.was, old, scene), _reached(self.now, new, scene)
        return None


def _order(scene: Scene) -> tuple[str, ...]:
    return scene.places


def _reached(side: Counted, states: Iterable[Facts], scene: Scene | None) -> States:
    """Where the circuit may be while it shows nothing else than the view."""
    found = {*states}
    waiting = [*found]
    while waiting:
        for after in _unseen(side, waiting.pop(), scene):
            if after not in found:
                found.add(after)
                waiting.append(after)
    side.spend(len(found))
    return frozenset(found)


def _unseen(side: Counted, facts: Facts, scene: Scene | None) -> Iterator[Facts]:
    yield from side.switched(facts)
    passed = side.elapsed(facts)
    if passed is not None and side.scene(facts) == scene:
        yield passed


def _onward(side: Counted, states: States) -> dict[Scene, set[Facts]]:
    """By the view of the time that passes next, the states at its first end."""
    found: dict[Scene, set[Facts]] = {}
    for facts in states:
        passed = side.elapsed(facts)
        if passed is not None:
            found.setdefault(side.scene(facts), set()).add(passed)
    return found


# ---- a run that shows a list


def _found(side: Counted, scenes: Scenes | None) -> Found | None:
    return None if scenes is None else Found(scenes, _run(side, scenes))


_Place = tuple[Facts, int]  # a state, and how many views were shown


def _run(side: Counted, scenes: Scenes) -> Sequence:
    """A run of the fewest steps that shows the list; it is known that there is one."""
    came: dict[_Place, tuple[_Place, bool] | None] = {(facts, 0): None for facts in side.starts()}
    waiting = deque(came)
    while True:
        here = waiting.popleft()
        if here[1] == len(scenes):
            return _sequence(side, came, here)
        for there, passed in _next(side, here, scenes):
            if there not in came:
                came[there] = here, passed
                waiting.append(there)


def _next(side: Counted, here: _Place, scenes: Scenes) -> Iterator[tuple[_Place, bool]]:
    facts, told = here
    yield from (((after, told), False) for after in side.switched(facts))
    passed = side.elapsed(facts)
    if passed is not None:
        scene = side.scene(facts)
        if scene == scenes[told]:
            yield (passed, told + 1), True
        elif told and scene == scenes[told - 1]:
            yield (passed, told), True


def _sequence(
    side: Counted, came: dict[_Place, tuple[_Place, bool] | None], last: _Place
) -> Sequence:
    steps: list[Step] = []
    here = last
    while (before := came[here]) is not None:
        steps.append(Step("elapse" if before[1] else "switch", side.state(here[0])))
        here = before[0]
    return Sequence(side.state(here[0]), tuple(reversed(steps)))
