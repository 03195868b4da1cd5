"""Slices that grow until frames on one of them prove the property, or show why they cannot."""

from __future__ import annotations

from dataclasses import dataclass, replace

from airproof.engines.budget import Budget
from airproof.engines.frames import AbstractSequence, Proof
from airproof.engines.localising import Localiser
from airproof.engines.quick import OutOfBudget
from airproof.engines.refining import Refiner
from airproof.engines.slices import Slice, Speech, Whole
from airproof.engines.stepping import Cube
from airproof.transition.slicing import widened

DEEPEST = 200  # frames
SHARE_UNITS = 1_000_000  # for landmarks on one slice, before the next slice
MOST_LESSONS = 60  # abstract sequences learnt from
SMALL = 12  # variables: in a system of no more, slices cost more than they save
SPEECHES: tuple[Speech, Speech] = ("places", "all")


@dataclass(frozen=True, slots=True)
class Grown:
    """How it went.

    cubes:  excluded for good, and the breach with them; None if not proved
    breach: a run follows an abstract sequence of this many steps: let search show it
    why:    what stopped it otherwise
    """

    cubes: tuple[Cube, ...] | None
    breach: int | None = None
    why: str = "nothing more to learn"


class Growing:
    """The ways of growing, from the variables `seed` that the property's memory is made of."""

    def __init__(self, whole: Whole, bad: int, seed: frozenset[str]) -> None:
        every = frozenset(v.key for v in whole.system.variables)
        self.whole, self.bad, self.budget = whole, bad, Budget()
        self.seed = self.keys = every if len(every) <= SMALL else seed
        self.learnt: dict[Speech, list[list[Cube]]] = {"places": [[]], "all": [[]]}

    def by_turns(self) -> Grown:
        """At each slice first with cubes of places only, then for some units of landmarks too.

        What frames exclude is carried on to the next slice, each speech its
        own.  Taken up again, it goes on with the slice where the budget ended.
        """
        while True:
            wider = widened(self.whole.system, self.whole.known, self.keys)
            for speech in SPEECHES if wider != self.seed else SPEECHES[1:]:
                found = self._tried(wider, speech)
                if isinstance(found, Proof):
                    return Grown(found.cubes)
            if wider == self.keys:
                return Grown(None)
            self.keys = wider

    def _tried(self, keys: frozenset[str], speech: Speech) -> Proof | AbstractSequence | None:
        """Frames on one slice; None if its share was spent, with more left for others."""
        most, effort = self.budget.resource, self.whole.effort
        share = most if speech == "places" else min(most, effort.units + SHARE_UNITS)
        here = self.whole.slice(
            keys, replace(self.budget, resource=share), speech, self.learnt[speech]
        )
        try:
            return here.frames.run((self.bad,), DEEPEST)
        except OutOfBudget as stop:
            if stop.why != "solver limit" or effort.units >= most:
                raise
            return None
        finally:
            self.learnt[speech] = here.frames.blocked

    def by_reading(self) -> Grown:
        """Wider and wider slices: what the last one reads, until one proves or nothing is left."""
        localiser = self._localiser()
        keys, learnt = self.seed, [list[Cube]()]
        while True:
            wider = widened(self.whole.system, self.whole.known, keys)
            slice_ = self.whole.slice(wider, self.budget, "all", learnt)
            found = slice_.frames.run((self.bad,), DEEPEST)
            if isinstance(found, Proof):
                return Grown(found.cubes)
            if found is not None and localiser.blamed(len(found.cubes) - 1) is None:
                return Grown(None, breach=len(found.cubes) - 1)
            if wider == keys:
                return Grown(None)
            keys, learnt = wider, slice_.frames.blocked

    def by_blame(self) -> Grown:
        """A slice that grows by what an abstract sequence cannot do without.

        Where the slice already holds all that excludes the sequence, the rungs
        are at fault, and new ones are learnt from it.
        """
        localiser, keys = self._localiser(), self.seed
        here = self.whole.slice(keys, self.budget, "all", [[]])
        for _ in range(MOST_LESSONS):
            found = here.frames.run((self.bad,), DEEPEST)
            if found is None:
                return Grown(None, why="deepest frame")
            if isinstance(found, Proof):
                return Grown(found.cubes)
            steps = len(found.cubes) - 1
            blamed = localiser.blamed(steps)
            if blamed is None:
                return Grown(None, breach=steps)
            if not blamed <= keys:
                keys |= blamed
                here = self.whole.slice(keys, self.budget, "all", here.frames.blocked)
            elif not self._learns(here, found):
                break
        return Grown(None)

    def _learns(self, here: Slice, found: AbstractSequence) -> bool:
        """Adds the rungs that tell the sequence apart; False if there are none."""
        words = self.whole.words
        refiner = Refiner(here.system, words.spoken, self.budget, self.whole.effort)
        lesson = refiner.learn(found.cubes, set(words.numbers))
        here.solvers.add_rungs(words.add(lesson.rungs))
        return bool(lesson.rungs)

    def _localiser(self) -> Localiser:
        return Localiser(self.whole.system, self.whole.known, self.budget, self.whole.effort)
