"""That no shorter list tells two circuits apart: proved, or the shorter list itself."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from random import Random

from airproof.analyses.showing import ASKED, CHECKING, Scenes, asked, asking, replayed
from airproof.certify.check import certified
from airproof.certify.following import follows
from airproof.circuit.conditions import AllOf, Not
from airproof.circuit.kinds import Circuit
from airproof.circuit.landmarks import landmarks
from airproof.circuit.properties import Property, Shows
from airproof.circuit.sight import Scene, Sight, gauged, hinted, scene_of, seen_in
from airproof.circuit.tables import tables_of
from airproof.circuit.wandering import random_elapse, random_start, random_switch
from airproof.engines.budget import Budget
from airproof.engines.parting import Parting
from airproof.engines.strategy import prove
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Verdict
from airproof.transition.early import MOST_VIEWS
from airproof.transition.parting import comparable

MOST_FIRST = 150  # first views that are gone through one by one
MEETING = 4.0  # [s] for random beginnings
BARREN = 150  # that bring nothing new, one after the other, end it
SECONDS = 15.0
FRAMES_UNITS = 2_000_000
ASKED_UNITS = 10_000_000


@dataclass(frozen=True, slots=True)
class Shorter:
    """What was found out about lists shorter than a known one.

    excluded: no list of so many views, or fewer, is shown by the one circuit only
    scenes, claim: a list that is, and why the other never shows it; None: none was found
    """

    excluded: int
    scenes: Scenes = ()
    claim: Verdict | None = None


def shorter(circuit: Circuit, other: Circuit, sight: Sight, views: int, budget: Budget) -> Shorter:
    """Whether a list of fewer views will do: as far as proofs reach within the budget."""
    ends = time.monotonic() + min(SECONDS, budget.remaining)
    work = _Work(circuit, other, sight, ends)
    excluded = 0
    while excluded < views - 1:
        if excluded < MOST_VIEWS and work.followed(excluded + 1):
            excluded += 1
            continue
        if excluded:
            break
        found = work.firsts()
        if not isinstance(found, bool):
            return Shorter(0, *found)
        if not found:
            break
        excluded = 1
    return Shorter(excluded)


@dataclass(slots=True)
class _Work:
    circuit: Circuit
    other: Circuit
    sight: Sight
    ends: float

    def _left(self) -> Budget:
        seconds = max(0.1, self.ends - time.monotonic())
        return Budget(resource=ASKED_UNITS, seconds=seconds)

    def followed(self, views: int) -> bool:
        """Proved: no step that counts for so many views is none of the other's."""
        if not comparable(self.circuit, self.other, self.sight):
            return False
        proofs = Parting(self.circuit, self.other, self.sight, self._left(), views)
        proof = proofs.facts() or proofs.frames(FRAMES_UNITS)
        if proof is None:
            return False
        return follows(self.circuit, self.other, self.sight, proof, CHECKING, views)

    def firsts(self) -> bool | tuple[Scenes, Verdict]:
        """Whether the other shows every first view; else one that it is proved never to show."""
        known = [*self._met()]
        while len(known) <= MOST_FIRST and time.monotonic() < self.ends:
            claim = self._further(known)
            if claim.word == "holds":
                return True
            if claim.word != "breached" or claim.sequence is None:
                return False
            scenes = hinted(self.sight, claim.sequence.start, claim.sequence.steps)[:1]
            answer = self._shows(scenes, claim.sequence)
            if answer is not None:
                return (scenes, answer) if answer.word == "holds" else False
            known += scenes
        return False

    def _met(self) -> dict[Scene, None]:
        """First views of the other circuit that random runs come upon."""
        tables, rng = tables_of(self.other), Random(0)
        marks = {*gauged(self.sight), *landmarks(self.other, None)}
        found: dict[Scene, None] = {}
        ends = min(self.ends, time.monotonic() + MEETING)
        barren = 0
        while barren < BARREN and time.monotonic() < ends and len(found) < MOST_FIRST:
            barren += 1
            state = random_start(tables, marks, rng)
            if state is None:
                break
            for _ in range(rng.randrange(5)):
                moved = random_switch(tables, state, rng)
                state = state if moved is None else moved.after
            passed = random_elapse(tables, state, marks, rng)
            scene = passed and scene_of(self.sight, state, passed.after)
            if scene and scene not in found:
                found[scene], barren = None, 0
        return found

    def _further(self, known: list[Scene]) -> Verdict:
        """`holds` if no run begins with another view than these."""
        seen = (Not(seen_in(self.sight, self.circuit, scene)) for scene in known)
        there = asking(self.circuit, self.sight, ())
        prop = Property(ASKED, "", Shows((AllOf(tuple(seen)),)))
        there = replace(there, properties={ASKED: prop})
        return certified(there, prove(there, ASKED, self._left()), CHECKING)

    def _shows(self, scenes: Scenes, run: Sequence) -> Verdict | None:
        """None if the other circuit shows the view; else the verdict on it."""
        if self._takes(scenes, run):
            return None
        claim = asked(self.other, self.sight, scenes, self._left())
        return None if claim.word == "breached" else claim

    def _takes(self, scenes: Scenes, run: Sequence) -> bool:
        """The very run is one of the other circuit's."""
        places = {*run.start.positions} == {*self.other.positions}
        values = {*run.start.values} == {*self.other.value_starts}
        timers = {*run.start.timers} == {*self.other.timers}
        return places and values and timers and replayed(self.other, self.sight, scenes, run)
