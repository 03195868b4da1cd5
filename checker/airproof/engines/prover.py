"""Proof for every run: single-literal facts, then frames on slices whose rungs grow as needed."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Literal as Choice

import z3

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.engines.budget import Budget
from airproof.engines.facts import facts
from airproof.engines.frames import Frames, Proof
from airproof.engines.localising import Localiser
from airproof.engines.quick import OutOfBudget
from airproof.engines.refining import Refiner
from airproof.engines.stepping import Cube, Kind, Spoken, Start
from airproof.engines.unrolling import Effort
from airproof.evidence.certificate import Invariant
from airproof.transition.encode import encode, layout_of
from airproof.transition.layout import CLOCK
from airproof.transition.literals import Bit, Literal, Rung
from airproof.transition.rungs import first_rungs, term_of
from airproof.transition.slicing import Reads, reads, sliced, widened
from airproof.transition.system import System

DEEPEST = 200  # frames
FRAME_UNITS = 8_000_000  # solver units for frames on slices that grow by reading
MOST_LESSONS = 60  # abstract sequences learnt from
NOT_ENOUGH = "facts do not suffice"

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
    """The proof of one property, stage by stage: `facts` first, then `frames`.

    after: an invariant is inductive over the whole exact system and excludes
    the breach; `certify` states that again.
    """

    def __init__(self, circuit: Circuit, prop: Property, budget: Budget) -> None:
        self.budget = self.allowance = budget
        self.effort = Effort()
        self.system = encode(circuit, prop, z3.Context())
        self.layout = layout_of(self.system, circuit)
        bits = [v.key for v in self.system.variables if v.sort == "bool"]
        self.rungs: dict[int, Rung] = {}
        self.spoken: dict[int, Spoken] = {}
        self.known: list[int] = []
        self.whole = Solvers(self.system, budget, self.effort)
        self.first = first_rungs(circuit, prop.sentence, bits)

    @property
    def bad(self) -> int:
        wanted = Bit(str(self.system.breached))
        return next(number for number, rung in self.rungs.items() if rung == wanted)

    def _number(self, rungs: Iterable[Rung]) -> dict[int, Spoken]:
        """Numbers for rungs that have none yet."""
        now, then = self.layout.moment(after=False), self.layout.moment(after=True)
        have = set(self.rungs.values())
        fresh = [r for r in dict.fromkeys(rungs) if r not in have]
        numbered = dict(enumerate(fresh, start=len(self.rungs) + 1))
        spoken = {n: Spoken(term_of(now, r), term_of(then, r)) for n, r in numbered.items()}
        self.rungs |= numbered
        self.spoken |= spoken
        return spoken

    def facts(self) -> Attempt:
        """One-step induction over single literals."""
        try:
            if not self.whole.start.exists():
                return Attempt(None, "facts", why="no start")
            self.whole.add_rungs(self._number(self.first))
            self.known = facts(self.whole.start, self.whole.kinds)
        except OutOfBudget as stop:
            return Attempt(None, "facts", why=stop.why)
        if -self.bad in self.known:
            return Attempt(self._invariant([(-x,) for x in self.known]), "facts")
        return Attempt(None, "facts", why=NOT_ENOUGH)

    def frames(self, units: int | None = None) -> Attempt:
        """Frames on slices that grow by what is read, then on slices that grow by blame.

        Neither way of growing is better on every circuit, so the first gets a
        bounded number of solver units before the second has its turn.  With
        `units` given, only the first is tried, within so many.
        """
        known = reads(self.system)
        attempt = self._within(units or FRAME_UNITS, self._by_reading, known)
        if units or attempt.invariant or attempt.breach or attempt.why == "time limit":
            return attempt
        return self._within(None, self._by_blame, known)

    def _within(self, units: int | None, grow: Callable[[Reads], Attempt], known: Reads) -> Attempt:
        limit = self.budget.resource if units is None else self.effort.units + units
        self.allowance = replace(self.budget, resource=limit)
        try:
            return grow(known)
        except OutOfBudget as stop:
            return Attempt(None, "frames", why=stop.why)

    def _by_reading(self, known: Reads) -> Attempt:
        """Wider and wider slices: what the last one reads, until one proves or nothing is left."""
        localiser = Localiser(self.system, known, self.allowance, self.effort)
        keys, learnt = self._memory(), [list[Cube]()]
        while True:
            wider = widened(self.system, known, keys)
            slice_ = self._on_slice(wider, known, learnt)
            found = slice_.frames.run((self.bad,), DEEPEST)
            if isinstance(found, Proof):
                return Attempt(self._invariant(self._with_facts(found.cubes)), "frames")
            if found is not None and localiser.blamed(len(found.cubes) - 1) is None:
                return Attempt(None, "frames", breach=len(found.cubes) - 1)
            if wider == keys:
                return Attempt(None, "frames", why="nothing more to learn")
            keys, learnt = wider, slice_.frames.blocked

    def _by_blame(self, known: Reads) -> Attempt:
        """A slice that grows by what an abstract sequence cannot do without.

        Where the slice already holds all that excludes the sequence, the rungs
        are at fault, and new ones are learnt from it.
        """
        localiser = Localiser(self.system, known, self.allowance, self.effort)
        keys = self._memory()
        here = self._on_slice(keys, known, [[]])
        for _ in range(MOST_LESSONS):
            found = here.frames.run((self.bad,), DEEPEST)
            if found is None:
                return Attempt(None, "frames", why="deepest frame")
            if isinstance(found, Proof):
                return Attempt(self._invariant(self._with_facts(found.cubes)), "frames")
            steps = len(found.cubes) - 1
            blamed = localiser.blamed(steps)
            if blamed is None:
                return Attempt(None, "frames", breach=steps)
            if not blamed <= keys:
                keys |= blamed
                here = self._on_slice(keys, known, here.frames.blocked)
                continue
            refiner = Refiner(here.system, self.spoken, self.allowance, self.effort)
            lesson = refiner.learn(found.cubes, set(self.rungs.values()))
            if not lesson.rungs:
                break
            here.solvers.add_rungs(self._number(lesson.rungs))
        return Attempt(None, "frames", why="nothing more to learn")

    def _memory(self) -> frozenset[str]:
        """The keys of the property's own variables, where every slice begins."""
        return frozenset(v.key for v in self.system.variables if v.key.startswith("monitor "))

    def _on_slice(self, keys: frozenset[str], known: Reads, learnt: list[list[Cube]]) -> Slice:
        """Solvers and frames for the slice, with the facts of the whole and what was learnt."""
        system = sliced(self.system, known, keys)
        here = Solvers(system, self.allowance, self.effort)
        here.add_rungs({n: s for n, s in self.spoken.items() if keys_of(self.rungs[n]) <= keys})
        frames = Frames(here.start, here.kinds, self.rungs, learnt)
        for fact in self.known:
            if fact in here.start.terms:
                frames.add_fact((-fact,))
        return Slice(system, here, frames)

    def _with_facts(self, cubes: Iterable[Cube]) -> list[Cube]:
        return list(dict.fromkeys([*((-x,) for x in self.known), *cubes]))

    def _invariant(self, cubes: Iterable[Cube]) -> Invariant:
        clauses = (tuple(Literal(self.rungs[abs(x)], x < 0) for x in cube) for cube in cubes)
        return Invariant(tuple(clauses))


class Solvers:
    """The start and both kinds of step of one system."""

    def __init__(self, system: System, budget: Budget, effort: Effort) -> None:
        self.start = Start(system, budget, effort)
        steps = (system.switch, system.elapse)
        self.kinds = tuple(Kind(system, step, budget, effort) for step in steps)

    def add_rungs(self, rungs: dict[int, Spoken]) -> None:
        self.start.add_rungs(rungs)
        for kind in self.kinds:
            kind.add_rungs(rungs)


@dataclass(frozen=True, slots=True)
class Slice:
    """A slice of the system with its solvers and frames."""

    system: System
    solvers: Solvers
    frames: Frames


def keys_of(rung: Rung) -> frozenset[str]:
    """The keys of the variables that a rung is about."""
    if isinstance(rung, Bit):
        return frozenset((rung.key,))
    return frozenset(CLOCK if name == CLOCK else f"value {name}" for name, _ in rung.terms)
