"""One kind of step, or the start, in a solver of its own, spoken of in rungs.

Rungs have numbers from 1; a literal is a rung's number, negative for its
opposite.  A solver need not know every rung.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

import z3

from airproof.engines.budget import Budget
from airproof.engines.quick import QuickSolver, Truths
from airproof.engines.unrolling import Effort
from airproof.transition.system import Conjunct, System
from airproof.transition.terms import handle

Cube = tuple[int, ...]  # literals in the order of their rungs


@dataclass(frozen=True, slots=True)
class Spoken:
    """A rung before and after a step."""

    now: z3.BoolRef
    then: z3.BoolRef


Rungs = Mapping[int, Spoken]


class Start:
    """Which cubes touch the start.

    never: literals that no start satisfies
    """

    def __init__(self, system: System, budget: Budget, effort: Effort) -> None:
        self.solver = QuickSolver(system.context, budget, effort)
        self.solver.add(*(part.term for part in system.start))
        self.truths = Truths(self.solver)
        self.terms: dict[int, z3.BoolRef] = {}
        self.never: set[int] = set()

    def add_rungs(self, rungs: Rungs) -> None:
        """Names the rungs, and finds those that no start satisfies."""
        for number, spoken in rungs.items():
            name = self.solver.named("rung", spoken.now)
            self.terms |= {number: name, -number: self.solver.negate(name)}
            self.truths.add([name])
        alone = [(x,) for n in rungs for x in (n, -n)]
        self.never.update(x for (x,) in self.untouched(alone))

    def untouched(self, cubes: Iterable[Cube]) -> set[Cube]:
        """Those that touch no start: each model of one that is left shows many that do."""
        left = {cube: self._within(cube) for cube in cubes}
        known = [n for n in self.terms if n > 0]
        while left:
            some = self.solver.name("some")
            self.solver.add_clause([self.solver.negate(some), *left.values()])
            if not self.solver.ask([some]):
                break
            so = {n if is_so else -n for n, is_so in zip(known, self.truths.read(), strict=True)}
            left = {cube: term for cube, term in left.items() if not so.issuperset(cube)}
        return set(left)

    def _within(self, cube: Cube) -> z3.BoolRef:
        """Implies that the state lies in the cube."""
        if len(cube) == 1:
            return self.terms[cube[0]]
        name = self.solver.name("within")
        for literal in cube:
            self.solver.add_clause([self.solver.negate(name), self.terms[literal]])
        return name

    def exists(self) -> bool:
        """There is a start at all."""
        return self.solver.ask([])

    def touches(self, cube: Iterable[int]) -> bool:
        """Some start lies in the cube."""
        literals = list(cube)
        if not self.never.isdisjoint(literals):
            return False
        return self.solver.ask([self.terms[x] for x in literals])


class Kind:
    """One kind of step, with the frames' clauses by activation."""

    def __init__(
        self, system: System, step: Iterable[Conjunct], budget: Budget, effort: Effort
    ) -> None:
        self.solver = QuickSolver(system.context, budget, effort)
        self.solver.add(*(part.term for part in step))
        self.start = self.solver.name("start")
        for part in system.start:
            self.solver.add_clause([self.solver.negate(self.start), part.term])
        self.now: dict[int, z3.BoolRef] = {}
        self.then: dict[int, z3.BoolRef] = {}
        self.by_handle: dict[int, int] = {}
        self.before, self.after = Truths(self.solver), Truths(self.solver)
        self.levels: list[z3.BoolRef] = []
        self.failing: dict[Cube, z3.BoolRef] = {}
        self.holding: dict[Cube, z3.BoolRef] = {}
        self.rungs: list[int] = []
        self.spent: z3.BoolRef | None = None  # switches on the last question's own clause

    def add_rungs(self, rungs: Rungs, in_cubes: Collection[int] | None = None) -> None:
        """Names each rung's truth before and after, so that cores speak of rungs.

        in_cubes: those that a valuation tells of, None for all
        """
        for number, spoken in rungs.items():
            a, b = self.solver.named("now", spoken.now), self.solver.named("then", spoken.then)
            self.now |= {number: a, -number: self.solver.negate(a)}
            self.then |= {number: b, -number: self.solver.negate(b)}
            self.by_handle |= {handle(self.then[x]): x for x in (number, -number)}
            self.after.add([b])
        told = [n for n in rungs if in_cubes is None or n in in_cubes]
        self.before.add(self.now[n] for n in told)
        self.rungs.extend(told)

    def fails_after(self, clause: Cube) -> z3.BoolRef:
        """Implies that the step leads to where no literal of the clause is so."""
        if len(clause) == 1:
            return self.then[-clause[0]]
        if clause not in self.failing:
            name = self.failing[clause] = self.solver.name("fails")
            for literal in clause:
                self.solver.add_clause([self.solver.negate(name), self.then[-literal]])
        return self.failing[clause]

    def holds_before(self, clause: Cube) -> z3.BoolRef:
        """Implies that some literal of the clause is so before the step."""
        if len(clause) == 1:
            return self.now[clause[0]]
        if clause not in self.holding:
            name = self.holding[clause] = self.solver.name("holds")
            literals = (self.now[x] for x in clause)
            self.solver.add_clause([self.solver.negate(name), *literals])
        return self.holding[clause]

    def truths_after(self) -> set[int]:
        """Every literal that is so after the step, in the last model."""
        known = [n for n in self.then if n > 0]
        return {n if so else -n for n, so in zip(known, self.after.read(), strict=True)}

    def level(self, i: int) -> z3.BoolRef:
        while len(self.levels) <= i:
            self.levels.append(self.solver.name("level"))
        return self.levels[i]

    def block(self, cube: Cube, level: int | None) -> None:
        """The clause against the cube, up to a level or (None) for good."""
        literals = [self.now[-x] for x in cube]
        if level is not None:
            literals.append(self.solver.negate(self.level(level)))
        self.solver.add_clause(literals)

    def block_after(self, cube: Cube) -> None:
        """No step leads into the cube: for what is known of every state."""
        self.solver.add_clause([self.then[-x] for x in cube])

    def frame(self, i: int, top: int) -> list[z3.BoolRef]:
        return [self.start] if i == 0 else [self.level(j) for j in range(i, top + 1)]

    def predecessor(
        self, cube: Cube, frame: list[z3.BoolRef], *, relative: bool
    ) -> set[int] | None:
        """None if a step from the frame reaches the cube; else the literals the refusal needs."""
        assumed = [self.then[x] for x in cube]
        if self.spent is not None:  # not before: it would have cost the caller the model
            self.solver.add_clause([self.solver.negate(self.spent)])
            self.spent = None
        if relative:
            apart = self.solver.name("apart")
            self.solver.add_clause([self.solver.negate(apart), *(self.now[-x] for x in cube)])
            assumed.append(apart)
            self.spent = apart
        if self.solver.ask([*frame, *assumed]):
            return None
        return {self.by_handle[i] for i in self.solver.core() if i in self.by_handle}

    def valuation(self) -> Cube:
        """The truth before the step, in the last model, of every rung that cubes may speak of."""
        return tuple(n if so else -n for n, so in zip(self.rungs, self.before.read(), strict=True))
