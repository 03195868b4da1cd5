"""One slice of a system with its solvers and its frames."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal as Choice

from airproof.engines.budget import Budget
from airproof.engines.frames import Frames
from airproof.engines.stepping import Cube, Kind, Rungs, Start
from airproof.engines.unrolling import Effort
from airproof.engines.vocabulary import Vocabulary
from airproof.transition.literals import Bit
from airproof.transition.slicing import Reads, sliced
from airproof.transition.system import System

Speech = Choice["places", "all"]  # what cubes speak of: booleans only, or landmarks too


class Solvers:
    """The start and both kinds of step of one system."""

    def __init__(self, system: System, budget: Budget, effort: Effort) -> None:
        self.start = Start(system, budget, effort)
        steps = (system.switch, system.elapse)
        self.kinds = tuple(Kind(system, step, budget, effort) for step in steps)

    def prefer_true(self) -> None:
        """Models in which as much as can be is true: each then shows more of what a step breaks."""
        for kind in self.kinds:
            kind.solver.solver.set("phase_selection", 1)

    def add_rungs(self, rungs: Rungs, in_cubes: Collection[int] | None = None) -> None:
        """Names the rungs everywhere; in_cubes: those that a valuation tells of, None for all."""
        self.start.add_rungs(rungs)
        for kind in self.kinds:
            kind.add_rungs(rungs, in_cubes)


@dataclass(frozen=True, slots=True)
class Slice:
    """A slice of the system with its solvers and frames."""

    system: System
    solvers: Solvers
    frames: Frames


@dataclass(frozen=True, slots=True)
class Whole:
    """What every slice is cut from: the whole system and what is known of it for good.

    facts: clauses that every reachable state satisfies
    """

    system: System
    known: Reads
    words: Vocabulary
    facts: tuple[Cube, ...]
    effort: Effort

    def slice(
        self, keys: frozenset[str], budget: Budget, speech: Speech, learnt: list[list[Cube]]
    ) -> Slice:
        """Solvers and frames for the slice, with the facts of the whole and what was learnt.

        learnt: what the frames of a wider system, a smaller slice, excluded.
        """
        system = sliced(self.system, self.known, keys)
        here = Solvers(system, budget, self.effort)
        about = self.words.within(keys)
        facts = [clause for clause in self.facts if all(abs(x) in about for x in clause)]
        used = {abs(x) for clause in facts for x in clause}
        loose = {n for n in about if speech == "all" or isinstance(self.words.rungs[n], Bit)}
        here.add_rungs({n: x for n, x in about.items() if n in loose or n in used}, loose)
        frames = Frames(here.start, here.kinds, self.words.rungs, learnt)
        for clause in facts:
            frames.add_fact(tuple(-x for x in clause))
        return Slice(system, here, frames)
