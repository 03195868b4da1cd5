"""What an abstract sequence teaches: that a run follows it, or which rungs rule it out."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import z3
from z3 import z3core

from airproof.engines.budget import Budget
from airproof.engines.quick import QuickSolver
from airproof.engines.stepping import Cube, Rungs
from airproof.engines.unrolling import Effort
from airproof.transition.layout import CLOCK
from airproof.transition.linear import edges_of
from airproof.transition.literals import Rung
from airproof.transition.system import Conjunct, System
from airproof.transition.terms import handles


@dataclass(frozen=True, slots=True)
class Lesson:
    """`followed`: some run goes this way.  Otherwise `rungs` are new ones to tell it apart."""

    followed: bool
    rungs: tuple[Rung, ...]


class Refiner:
    """Walks an abstract sequence backwards through exact steps.

    Each set on the way back is an under-approximation of what can reach the
    breach (a projection of one model), so reaching the start shows a run.
    """

    def __init__(self, system: System, rungs: Rungs, budget: Budget, effort: Effort) -> None:
        self.system, self.rungs = system, rungs
        self.budget, self.effort = budget, effort
        self.names = {
            v.now.get_id(): v.key if v.key == CLOCK else v.key.removeprefix("value ")
            for v in system.variables
            if v.sort == "real"
        }
        gone = [v.then for v in system.variables] + [x.term for x in system.inputs]
        self.gone = handles(gone)

    def learn(self, cubes: Sequence[Cube], known: Collection[Rung]) -> Lesson:
        """What the sequence teaches, given the rungs that are known already."""
        found: dict[Rung, None] = {}
        target = self._cube(cubes[-1])
        for i in range(len(cubes) - 2, -1, -1):
            before = self._before(self._cube(cubes[i]), target, start=i == 0)
            if before is None:
                return Lesson(False, tuple(r for r in found if r not in known))
            target = before
            found |= dict.fromkeys(edges_of(target, self.names))
        return Lesson(True, ())

    def _cube(self, cube: Cube) -> z3.BoolRef:
        literals = [self.rungs[x].now if x > 0 else z3.Not(self.rungs[-x].now) for x in cube]
        return z3.And([z3.BoolVal(True, self.system.context), *literals])

    def _before(self, cube: z3.BoolRef, target: z3.BoolRef, *, start: bool) -> z3.BoolRef | None:
        """States of the cube from which one step reaches the target."""
        pairs = [(v.now, v.then) for v in self.system.variables]
        after = z3.substitute(target, *pairs)
        starts = [part.term for part in self.system.start] if start else []
        for step in (self.system.switch, self.system.elapse):
            found = self._projected(step, [cube, after, *starts])
            if found is not None:
                return found
        return None

    def _projected(self, step: tuple[Conjunct, ...], terms: list[z3.BoolRef]) -> z3.BoolRef | None:
        context = self.system.context
        solver = QuickSolver(context, self.budget, self.effort)
        body = z3.And([*(part.term for part in step), *terms])
        solver.add(body)
        if not solver.ask([]):
            return None
        raw = z3core.Z3_qe_model_project(
            context.ref(), solver.solver.model().model, len(self.gone), self.gone, body.as_ast()
        )
        return z3.BoolRef(raw, context)
