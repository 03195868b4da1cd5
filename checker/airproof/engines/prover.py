"""Proof for every run: single-literal facts, then frames whose rungs grow as needed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal as Choice

import z3

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.engines.budget import Budget
from airproof.engines.facts import facts
from airproof.engines.frames import Frames, Proof
from airproof.engines.quick import OutOfBudget
from airproof.engines.refining import Refiner
from airproof.engines.stepping import Cube, Kind, Start, Terms
from airproof.engines.unrolling import Effort
from airproof.evidence.certificate import Invariant
from airproof.transition.encode import encode, layout_of
from airproof.transition.literals import Bit, Literal, Rung
from airproof.transition.rungs import first_rungs, term_of

DEEPEST = 200  # frames
NOT_ENOUGH = "facts do not suffice"
MOST_LESSONS = 60  # abstract sequences learnt from

Stage = Choice["facts", "frames"]


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
    """The proof of one property on the exact whole system, resumable stage by stage.

    before: `facts` is called first.  after: an invariant is inductive and
    excludes the breach; `certify` states that again.
    """

    def __init__(self, circuit: Circuit, prop: Property, budget: Budget) -> None:
        self.budget, self.effort = budget, Effort()
        self.system = encode(circuit, prop, z3.Context())
        self.layout = layout_of(self.system, circuit)
        bits = [v.key for v in self.system.variables if v.sort == "bool"]
        self.rungs: list[Rung] = []
        self.now: list[z3.BoolRef] = []
        self.then: list[z3.BoolRef] = []
        self.start = Start(self.system, budget, self.effort)
        steps = (self.system.switch, self.system.elapse)
        self.kinds = tuple(Kind(self.system, step, budget, self.effort) for step in steps)
        self.known: list[int] = []
        self.first = first_rungs(circuit, prop.sentence, bits)

    @property
    def bad(self) -> int:
        return self.rungs.index(Bit(str(self.system.breached))) + 1

    def _climb(self, rungs: Iterable[Rung]) -> None:
        """Names new rungs in every solver."""
        fresh = [r for r in dict.fromkeys(rungs) if r not in set(self.rungs)]
        now, then = self.layout.moment(after=False), self.layout.moment(after=True)
        terms = Terms(tuple(term_of(now, r) for r in fresh), tuple(term_of(then, r) for r in fresh))
        self.rungs += fresh
        self.now += terms.now
        self.then += terms.then
        self.start.add_rungs(terms)
        for kind in self.kinds:
            kind.add_rungs(terms)

    def facts(self) -> Attempt:
        """One-step induction over single literals."""
        try:
            if not self.start.solver.ask([]):
                return Attempt(None, "facts", why="no start")
            self._climb(self.first)
            self.known = facts(self.start, self.kinds)
        except OutOfBudget as stop:
            return Attempt(None, "facts", why=stop.why)
        if -self.bad in self.known:
            return Attempt(self._invariant([(-x,) for x in self.known]), "facts")
        return Attempt(None, "facts", why=NOT_ENOUGH)

    def frames(self) -> Attempt:
        """Frames, learning new rungs from abstract sequences that no run follows."""
        frames = Frames(self.start, self.kinds, self.rungs, self.known)
        try:
            for _ in range(MOST_LESSONS):
                found = frames.run((self.bad,), DEEPEST)
                if found is None:
                    return Attempt(None, "frames", why="deepest frame")
                if isinstance(found, Proof):
                    return Attempt(self._invariant(found.cubes), "frames")
                terms = Terms(tuple(self.now), tuple(self.then))
                refiner = Refiner(self.system, terms, self.budget, self.effort)
                lesson = refiner.learn(found.cubes, self.rungs)
                if lesson.followed:
                    return Attempt(None, "frames", breach=len(found.cubes) - 1)
                if not lesson.rungs:
                    return Attempt(None, "frames", why="nothing more to learn")
                self._climb(lesson.rungs)
        except OutOfBudget as stop:
            return Attempt(None, "frames", why=stop.why)
        return Attempt(None, "frames", why="nothing more to learn")

    def _invariant(self, cubes: Iterable[Cube]) -> Invariant:
        clauses = (tuple(Literal(self.rungs[abs(x) - 1], x < 0) for x in cube) for cube in cubes)
        return Invariant(tuple(clauses))


def run(circuit: Circuit, prop: Property, budget: Budget) -> Attempt:
    """Both stages, one after the other."""
    prover = Prover(circuit, prop, budget)
    first = prover.facts()
    return prover.frames() if first.why == NOT_ENOUGH else first
