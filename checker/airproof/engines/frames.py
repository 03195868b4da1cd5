"""Frames: property-directed reachability whose cubes are made of rungs.

A frame over-approximates what is reached within so many steps, as clauses
over rungs.  Queries are about the exact steps; only the sets of states are
coarse.  So what is proved holds, and what is found may be an artefact of the
rungs: an abstract sequence, never a breach.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from airproof.engines.stepping import Cube, Kind, Start
from airproof.transition.literals import Edge, Rung


@dataclass(frozen=True, slots=True)
class Proof:
    """The cubes blocked for good: their clauses are an inductive invariant."""

    cubes: tuple[Cube, ...]


@dataclass(frozen=True, slots=True)
class AbstractSequence:
    """Cubes from one that touches the start to one that breaches; no run need follow it."""

    cubes: tuple[Cube, ...]


@dataclass(order=True, slots=True)
class Obligation:
    """`cube` must be shown unreachable within `level` steps."""

    level: int
    age: int
    cube: Cube = field(compare=False)
    then: Obligation | None = field(compare=False, default=None)

    def chain(self) -> tuple[Cube, ...]:
        here: Obligation | None = self
        cubes = []
        while here is not None:
            cubes.append(here.cube)
            here = here.then
        return tuple(cubes)


class Frames:
    """The frames of one system over a growing list of rungs.

    blocked[i]: cubes excluded from frames 1..i and not (yet) from i + 1; to begin
                with, what frames of a wider system (a smaller slice) excluded
    facts: cubes excluded from every frame for good
    """

    def __init__(
        self,
        start: Start,
        kinds: tuple[Kind, ...],
        rungs: Mapping[int, Rung],
        learnt: Iterable[list[Cube]],
    ) -> None:
        self.start, self.kinds, self.rungs = start, kinds, rungs
        self.facts: list[Cube] = []
        self.blocked: list[list[Cube]] = [list(cubes) for cubes in learnt]
        self._ages = itertools.count()
        for level, cubes in enumerate(self.blocked):
            for cube in cubes:
                self._tell(cube, level)

    @property
    def top(self) -> int:
        return len(self.blocked) - 1

    def add_fact(self, cube: Cube) -> None:
        """Excludes a cube known to be unreachable."""
        self.facts.append(cube)
        self._tell(cube, None)

    def _tell(self, cube: Cube, level: int | None) -> None:
        for kind in self.kinds:
            kind.block(cube, level)

    def run(self, bad: Cube, deepest: int) -> Proof | AbstractSequence | None:
        """Proves that no run reaches `bad`; None if `deepest` frames did not settle it."""
        while self.top < deepest:
            if self.top and (found := self._block(bad)) is not None:
                return found
            if self.top and (proof := self._propagate()) is not None:
                return proof
            self.blocked.append([])
        return None

    def _block(self, bad: Cube) -> AbstractSequence | None:
        """Clears the top frame of `bad`, or finds an abstract way to it."""
        queue = [Obligation(self.top, next(self._ages), bad)]
        while queue:
            duty = queue[0]
            if self._is_blocked(duty.cube, duty.level):
                heapq.heappop(queue)
                continue
            before = self._predecessor(duty)
            if before is None:
                heapq.heappop(queue)
            elif duty.level == 1 or self.start.touches(before):
                return AbstractSequence((before, *duty.chain()))
            else:
                heapq.heappush(queue, Obligation(duty.level - 1, next(self._ages), before, duty))
        return None

    def _is_blocked(self, cube: Cube, level: int) -> bool:
        literals = set(cube)
        return any(literals.issuperset(other) for cubes in self.blocked[level:] for other in cubes)

    def _predecessor(self, duty: Obligation) -> Cube | None:
        """A cube one step before the duty's, or None after excluding it and more."""
        needed: set[int] = set()
        for kind in self.kinds:
            core = self._refused(kind, duty.cube, duty.level)
            if core is None:
                return self.tightest(kind.valuation())
            needed |= core
        self._exclude(self._reduced(duty.cube, needed), duty.level)
        return None

    def _refused(self, kind: Kind, cube: Cube, level: int) -> set[int] | None:
        return kind.predecessor(cube, kind.frame(level - 1, self.top), relative=True)

    def _reduced(self, cube: Cube, needed: set[int]) -> Cube:
        """The needed literals, and as many more as keep the cube off the start."""
        kept = [x for x in cube if x in needed]
        rest = sorted((x for x in cube if x not in needed), key=lambda x: x not in self.start.never)
        for literal in rest:
            if not self.start.touches(kept):
                break
            kept.append(literal)
        return tuple(sorted(kept, key=abs))

    def _exclude(self, cube: Cube, level: int) -> None:
        """Blocks the cube with as few literals as can be, as far up as it goes."""
        cube = self._fewest(cube, level)
        while level < self.top and self._unreachable(cube, level + 1) is not None:
            level += 1
        self.blocked[level].append(cube)
        self._tell(cube, level)

    def _fewest(self, cube: Cube, level: int) -> Cube:
        for literal in cube:
            shorter = tuple(x for x in cube if x != literal)
            if literal not in cube or not shorter or self.start.touches(shorter):
                continue
            needed = self._unreachable(shorter, level)
            if needed is not None:
                cube = self._reduced(shorter, needed)
        return cube

    def _unreachable(self, cube: Cube, level: int) -> set[int] | None:
        """The literals needed to show that no step from frame level - 1 reaches the cube."""
        needed: set[int] = set()
        for kind in self.kinds:
            core = self._refused(kind, cube, level)
            if core is None:
                return None
            needed |= core
        return needed

    def _propagate(self) -> Proof | None:
        """Moves cubes up while steps allow; two equal frames are a proof."""
        for level in range(1, self.top):
            for cube in list(self.blocked[level]):
                if all(
                    kind.predecessor(cube, kind.frame(level, self.top), relative=False) is not None
                    for kind in self.kinds
                ):
                    self.blocked[level].remove(cube)
                    self.blocked[level + 1].append(cube)
                    self._tell(cube, level + 1)
            if not self.blocked[level]:
                rest = (cube for cubes in self.blocked[level + 1 :] for cube in cubes)
                return Proof((*self.facts, *rest))
        return None

    def tightest(self, cube: Cube) -> Cube:
        """The cube with only the tightest lower and upper landmark of each form."""
        kept: list[int] = []
        lower: dict[object, tuple[tuple[object, bool], int]] = {}
        upper: dict[object, tuple[tuple[object, bool], int]] = {}
        for literal in cube:
            rung = self.rungs[abs(literal)]
            if not isinstance(rung, Edge):
                kept.append(literal)
                continue
            strict = literal < 0
            from_below = (rung.order == ">=") != strict
            rank = (rung.constant if from_below else -rung.constant, strict)
            side = lower if from_below else upper
            if rung.terms not in side or side[rung.terms][0] < rank:
                side[rung.terms] = (rank, literal)
        kept += [literal for side in (lower, upper) for _, literal in side.values()]
        return tuple(sorted(kept, key=abs))
