"""Whether any run of a watched system comes to what it watches for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import z3

from airproof.circuit.kinds import Circuit
from airproof.engines.budget import Budget
from airproof.engines.frames import Frames, Proof
from airproof.engines.quick import OutOfBudget, QuickSolver
from airproof.engines.rounding import Candidate
from airproof.engines.stepping import Cube, Kind, Start
from airproof.engines.unrolling import Effort, Unrolling
from airproof.engines.vocabulary import Vocabulary
from airproof.transition.encode import layout_of
from airproof.transition.literals import Bit
from airproof.transition.monitors import BREACHED
from airproof.transition.rungs import first_rungs
from airproof.transition.slicing import reads, sliced, widened
from airproof.transition.system import Conjunct, System
from airproof.transition.translating import translated

DEEPEST = 60  # frames
FARTHEST = 30  # steps

Asked = Literal["yes", "no", "unknown"]


@dataclass(frozen=True, slots=True)
class Turn:
    """Solver units for searching, then for frames."""

    search: int
    frames: int


@dataclass(frozen=True, slots=True)
class Outcome:
    """Whether a run comes there.

    candidate: one that does
    why:       what kept it from being known
    """

    comes: Asked
    candidate: Candidate | None = None
    why: str = ""


class Pursuit:
    """A proof that no run comes there, and the search for one that does, by turns.

    after `no`: unreachable, because every step of the system is one of each
    slice, and frames prove for every length.  after `yes`: a model of a run.
    """

    def __init__(self, circuit: Circuit, system: System, budget: Budget) -> None:
        self.circuit, self.system, self.budget = circuit, system, budget
        self._run: Unrolling | None = None
        self.cleared = -1
        self.why = ""

    def pursue(self, turns: Sequence[Turn]) -> Outcome:
        """One turn after the other until it is known."""
        if self._at_once():
            return Outcome("no")
        for turn in turns:
            found = self._search(turn.search)
            if found is not None:
                return Outcome("yes", found)
            if turn.frames and self._framed(turn.frames):
                return Outcome("no")
        return Outcome("unknown", None, self.why)

    def _at_once(self) -> bool:
        """No start is there, and no step from any state that is not excluded leads there."""
        goal = next(v for v in self.system.variables if v.key == BREACHED)
        questions = (
            (self.system.start, goal.now),
            (self.system.switch, goal.then),
            (self.system.elapse, goal.then),
        )
        try:
            return not any(self._possible(parts, end) for parts, end in questions)
        except OutOfBudget as stop:
            self.why = stop.why
            return False

    def _possible(self, parts: Sequence[Conjunct], end: z3.BoolRef) -> bool:
        solver = QuickSolver(self.system.context, self.budget, Effort())
        solver.add(*(part.term for part in parts))
        return solver.ask([end])

    def _search(self, units: int) -> Candidate | None:
        """A run as short as can be, within so many solver units more."""
        run = self._run = self._run or Unrolling(translated(self.system, z3.Context()))
        limit = run.effort.units + units
        budget = replace(self.budget, resource=min(self.budget.resource, limit))
        while self.cleared < FARTHEST:
            if run.steps == self.cleared:
                run.extend()
            answer = run.check(budget, run.breached(run.steps))
            if answer.word == "sat":
                return Candidate(self.circuit, run, run.steps, run.model())
            if answer.word == "unknown":
                self.why = answer.why
                return None
            run.solver.add(z3.Not(run.breached(run.steps)))
            self.cleared = run.steps
        self.why = "deepest"
        return None

    def _framed(self, units: int) -> bool:
        """Frames on growing slices; they know of no start that is there already."""
        if self.cleared < 0:
            return False
        try:
            found = _proved(self.circuit, self.system, replace(self.budget, resource=units))
        except OutOfBudget as stop:
            self.why = stop.why
            return False
        if not found:
            self.why = "nothing more to learn"
        return found


def _proved(circuit: Circuit, system: System, budget: Budget) -> bool:
    """Wider and wider slices until frames on one of them close.  Raises OutOfBudget."""
    words, effort = Vocabulary(layout_of(system, circuit)), Effort()
    words.add(first_rungs(circuit, None, (v.key for v in system.variables if v.sort == "bool")))
    bad = words.numbers[Bit(BREACHED)]
    known, keys, learnt = reads(system), frozenset((BREACHED,)), [list[Cube]()]
    while True:
        wider = widened(system, known, keys)
        here = sliced(system, known, wider)
        start = Start(here, budget, effort)
        kinds = tuple(Kind(here, step, budget, effort) for step in (here.switch, here.elapse))
        solvers: tuple[Start | Kind, ...] = (start, *kinds)
        for solver in solvers:
            solver.add_rungs(words.within(wider))
        frames = Frames(start, kinds, words.rungs, learnt)
        if isinstance(frames.run((bad,), DEEPEST), Proof):
            return True
        if wider == keys:
            return False
        keys, learnt = wider, frames.blocked
