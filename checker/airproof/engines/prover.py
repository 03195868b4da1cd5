"""Proof for every run: single-literal facts, then frames on slices whose rungs grow as needed."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Literal as Choice

import z3

from airproof.circuit.cone import outside
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.engines.budget import Budget
from airproof.engines.facts import facts
from airproof.engines.growing import Growing, Grown
from airproof.engines.guarded import guarded, pairs_worth_trying
from airproof.engines.quick import OutOfBudget
from airproof.engines.slices import Solvers, Whole
from airproof.engines.stepping import Cube, Rungs
from airproof.engines.unrolling import Effort
from airproof.engines.vocabulary import Vocabulary, keys_of
from airproof.engines.waypoints import Waypoints
from airproof.evidence.certificate import Invariant
from airproof.evidence.given import Given
from airproof.transition.encode import encode, layout_of
from airproof.transition.literals import Bit, Literal
from airproof.transition.rungs import first_rungs
from airproof.transition.slicing import reads
from airproof.transition.system import System, memory_of

__all__ = ["NOT_ENOUGH", "NO_START", "Attempt", "Prover", "Way", "keys_of"]

READING_UNITS = 8_000_000  # for frames on slices that grow by reading, before those by blame
NOT_ENOUGH = "facts do not suffice"
NO_START = "no start"

Stage = Choice["facts", "frames"]
Way = Choice["turns", "reading", "blame"]


@dataclass(frozen=True, slots=True)
class Attempt:
    """How a proof went.

    invariant: found, None if not
    breach:    a run follows an abstract sequence of this many steps: let search show it
    why:       what stopped it otherwise
    """

    invariant: Invariant | None
    stage: Stage
    breach: int | None = None
    why: str = ""


class Prover:
    """The proof of one property, stage by stage: `facts` first, then `frames`.

    given: facts that are known already, of all runs from where the property's runs start
    system: the circuit's, where it is judged otherwise than by the property's own monitor
    after: an invariant is inductive over the whole exact system and excludes
    the breach; `certify` states that again.
    """

    def __init__(
        self,
        circuit: Circuit,
        prop: Property,
        budget: Budget,
        given: Given | None = None,
        system: System | None = None,
    ) -> None:
        self.budget = budget
        self.effort = Effort()
        self.system = system or encode(circuit, prop, z3.Context())
        self.words = Vocabulary(layout_of(self.system, circuit))
        bits = [v.key for v in self.system.variables if v.sort == "bool" and not outside(v.key)]
        self.first = first_rungs(circuit, prop.sentence, bits)
        self.given = given or Given()
        self.known: list[int] = []
        self.clauses: list[Cube] = []
        self.pairs: list[Cube] = []
        self.whole: Solvers | None = None
        self.unnamed: Rungs = {}  # what `whole` is not told of before it is wanted
        self.growing: Growing | None = None

    @property
    def bad(self) -> int:
        return self.words.numbers[Bit(str(self.system.breached))]

    def facts(self) -> Attempt:
        """One-step induction: of the property by itself, then over single literals."""
        whole = self.whole = Solvers(self.system, self.budget, self.effort)
        whole.prefer_true()
        try:
            if not whole.start.exists():
                return Attempt(None, "facts", why=NO_START)
            rungs = dict(self.words.add(self.first))
            whole.add_rungs({self.bad: rungs.pop(self.bad)})
            self.known = facts(whole.start, whole.kinds, (-self.bad,))
            if not self.known:
                tried = self._worth_trying()
                wanted = {abs(x) for x in tried}
                whole.add_rungs({n: spoken for n, spoken in rungs.items() if n in wanted})
                self.unnamed = {n: spoken for n, spoken in rungs.items() if n not in wanted}
                self.known = facts(whole.start, whole.kinds, tried)
            self.clauses = [(x,) for x in self.known]
            self.pairs = list(pairs_worth_trying(self.words, self.known, self.bad))
        except OutOfBudget as stop:
            return Attempt(None, "facts", why=stop.why)
        if -self.bad in self.known:
            return self._proved("facts", ())
        return Attempt(None, "facts", why=NOT_ENOUGH)

    def guarded(self, most: int) -> Attempt:
        """Facts that hang on what the property remembers; none tried if there are more clauses.

        before: `facts` was tried.  Tried once, it is not tried again.
        """
        attempt = Attempt(None, "facts", why=NOT_ENOUGH)
        if self.whole is None or not 0 < len(self.pairs) <= most:
            return attempt
        pairs, self.pairs = self.pairs, []
        try:
            self.clauses = guarded(self._named(self.whole), self.known, pairs, self.bad)
        except OutOfBudget as stop:
            return Attempt(None, "facts", why=stop.why)
        return self._proved("facts", ()) if (-self.bad,) in self.clauses else attempt

    def _named(self, whole: Solvers) -> Solvers:
        """With every rung of the first ones."""
        rungs, self.unnamed = self.unnamed, {}  # also where the naming is cut off
        whole.add_rungs(rungs)
        return whole

    def _proved(self, stage: Stage, cubes: Iterable[Cube]) -> Attempt:
        known = (tuple(-x for x in clause) for clause in self.clauses)
        return Attempt(self.words.invariant((*known, *cubes)), stage)

    def _worth_trying(self) -> set[int]:
        """The given facts, and all that can be said with rungs of the property's own."""
        numbers = self.words.numbers
        fresh = (n for rung, n in numbers.items() if rung not in self.given.tried)
        known = (self.words.literal(literal) for literal in self.given.literals)
        return {*known, *(x for n in fresh for x in (n, -n))}

    @property
    def literals(self) -> tuple[Literal, ...]:
        """The facts found, as literals."""
        return tuple(self._literal(x) for x in self.known)

    def _literal(self, number: int) -> Literal:
        return Literal(self.words.rungs[abs(number)], number > 0)

    def waypoints(self) -> list[Literal]:
        """What may lead to a breach, the nearest first; a hint, if there is one.

        before: `facts` was tried.
        """
        if self.whole is None:
            return []
        try:
            numbers = Waypoints(self._named(self.whole)).to(self.bad)
        except OutOfBudget:
            return []
        return [self._literal(x) for x in numbers]

    def frames(self, units: int | None, ways: Iterable[Way]) -> Attempt:
        """Frames on growing slices, in several ways; None units: all that is left.

        No way of growing is best on every circuit.
        """
        attempt = Attempt(None, "frames", why="nothing tried")
        growing = self._grower()
        allowed = self.budget.resource if units is None else self.effort.units + units
        for way in ways:
            most = min(allowed, self.effort.units + READING_UNITS if way == "reading" else allowed)
            growing.budget = replace(self.budget, resource=most)
            attempt = self._tried(_ways(growing)[way])
            if attempt.invariant or attempt.breach or attempt.why == "time limit":
                break
        return attempt

    def _grower(self) -> Growing:
        """The one that goes on from where it was, with the facts known by now."""
        if self.growing is None:
            whole = Whole(self.system, reads(self.system), self.words, (), self.effort)
            self.growing = Growing(whole, self.bad, memory_of(self.system))
        self.growing.whole = replace(self.growing.whole, facts=tuple(self.clauses))
        return self.growing

    def _tried(self, way: Callable[[], Grown]) -> Attempt:
        try:
            grown = way()
        except OutOfBudget as stop:
            return Attempt(None, "frames", why=stop.why)
        if grown.cubes is None:
            return Attempt(None, "frames", breach=grown.breach, why=grown.why)
        return self._proved("frames", grown.cubes)


def _ways(growing: Growing) -> dict[Way, Callable[[], Grown]]:
    return {"turns": growing.by_turns, "reading": growing.by_reading, "blame": growing.by_blame}
