"""In which positions the watched things can stand together while time passes: new and gone.

Random runs meet most combinations, a search the rest, and a proof says that
there are no others.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from math import prod

from airproof.analyses.showing import CHECKING
from airproof.certify.check import certified
from airproof.circuit.affected import affected
from airproof.circuit.conditions import NO, AllOf, AnyOf, At, Not
from airproof.circuit.exploring import Explorer
from airproof.circuit.guiding import Guide
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Possible, Property
from airproof.circuit.sight import Sight
from airproof.engines.budget import Budget
from airproof.engines.strategy import prove
from airproof.evidence.difference import Stand, Stands
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Verdict

MOST = 128  # combinations
RUNS = 150
SECONDS = 15.0
UNITS = 20_000_000
ASKED = "(stands)"  # the name of the property; no name of the language has brackets

Places = tuple[str, ...]


def settled(old: Circuit, new: Circuit, sight: Sight, budget: Budget) -> Stands:
    """The combinations that runs of one circuit only stand in, as far as they are settled.

    old, new: as they are laid side by side
    Where the watched things have too many combinations, those that the
    difference bears on come first, and then the others in the order of the text.
    """
    names = tuple(_looked_at(old, new, sight))
    if not names:
        return Stands((), not sight.places, (), True)
    ends = time.monotonic() + min(SECONDS, budget.remaining)
    was, now = (_Side(one, names, sight, ends) for one in (old, new))
    for side in (was, now):
        side.meet()
        side.exhaust()
    found = [Stand("new", *stand) for stand in _only(now, was)]
    found += [Stand("gone", *stand) for stand in _only(was, now)]
    complete = was.complete and now.complete
    return Stands(names, len(names) == len(sight.places), tuple(found), complete)


def _looked_at(old: Circuit, new: Circuit, sight: Sight) -> Iterator[str]:
    touched = affected(old, new)
    count = 1
    wanted = sorted(sight.places, key=lambda name: name not in touched)
    chosen = set()
    for name in wanted:
        if count * len(sight.places[name]) <= MOST:
            count *= len(sight.places[name])
            chosen.add(name)
    yield from (name for name in sight.places if name in chosen)


def _only(side: _Side, other: _Side) -> Iterator[tuple[Places, bool]]:
    """What the one stands in and the other does not; whether that is proved."""
    for places in sorted(side.met - other.met):
        if places not in side.sure and (side.late or side.asked(places).word != "holds"):
            continue
        if other.complete or other.late:
            yield places, other.complete
            continue
        answer = other.asked(places).word
        if answer != "holds":
            yield places, answer == "breached"


@dataclass(slots=True)
class _Side:
    """One circuit's combinations.

    met:  a random run or a find stands in them; sure: a find, replayed without a solver
    complete: it is proved that there are no others
    """

    circuit: Circuit
    names: tuple[str, ...]
    sight: Sight
    ends: float
    met: set[Places] = field(default_factory=set)
    sure: set[Places] = field(default_factory=set)
    complete: bool = False

    @property
    def late(self) -> bool:
        return time.monotonic() >= self.ends

    def meet(self) -> None:
        """What random runs stand in."""
        explorer = Explorer(replace(self.circuit, properties={}), None, 0)
        rests = explorer.board.rests
        tests = [
            [(rests[name, place], place) for place in self.circuit.positions[name]]
            for name in self.names
        ]
        for run in Guide(explorer).runs(RUNS):
            if self.late:
                return
            for node in run.nodes:
                if node.kind == "elapse":
                    facts = node.spot.facts
                    here = [[p for bit, p in places if facts & bit] for places in tests]
                    if all(here):
                        self.met.add(tuple(place for (place,) in here))

    def exhaust(self) -> None:
        """What else it can stand in, until it is proved that there is nothing more."""
        most = prod(len(self.sight.places[name]) for name in self.names)
        while not self.late and len(self.met) <= most:
            known = (Not(self._standing(places)) for places in sorted(self.met))
            claim = self._possible(AllOf((*self._resting(), *known)))
            if claim.word != "holds" or claim.sequence is None:
                self.complete = claim.word == "breached"
                return
            self._learn(claim.sequence)

    def asked(self, places: Places) -> Verdict:
        """`holds` if a run stands so, `breached` if none ever does."""
        claim = self._possible(self._standing(places))
        if claim.word == "holds" and claim.sequence is not None:
            self._learn(claim.sequence)
        return claim

    def _resting(self) -> Iterator[AnyOf]:
        for name in self.names:
            yield AnyOf(tuple(At(name, place) for place in self.circuit.positions[name]))

    def _standing(self, places: Places) -> AllOf:
        own = self.circuit.positions
        pairs = zip(self.names, places, strict=True)
        return AllOf(tuple(At(n, p) if p in own[n] else NO for n, p in pairs))

    def _possible(self, goal: AllOf) -> Verdict:
        prop = Property(ASKED, "", Possible(goal))
        there = replace(self.circuit, properties={ASKED: prop})
        left = max(0.1, self.ends - time.monotonic())
        limits = Budget(resource=UNITS, seconds=left)
        return certified(there, prove(there, ASKED, limits), CHECKING)

    def _learn(self, run: Sequence) -> None:
        for before, step in run.pairs():
            if step.kind == "elapse" and not before.leaving.keys() & {*self.names}:
                places = tuple(before.positions[name] for name in self.names)
                self.met.add(places)
                self.sure.add(places)
