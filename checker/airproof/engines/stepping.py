"""One kind of step, or the start, in a solver of its own, spoken of in rungs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import z3

from airproof.engines.budget import Budget
from airproof.engines.quick import QuickSolver
from airproof.engines.unrolling import Effort
from airproof.transition.system import Conjunct, System

Cube = tuple[int, ...]  # sorted literals: rung number + 1, negative for its opposite


@dataclass(frozen=True, slots=True)
class Terms:
    """Each rung before and after a step."""

    now: tuple[z3.BoolRef, ...]
    then: tuple[z3.BoolRef, ...]


class Start:
    """Which cubes touch the start."""

    def __init__(self, system: System, budget: Budget, effort: Effort) -> None:
        self.solver = QuickSolver(system.context, budget, effort)
        self.solver.add(*(part.term for part in system.start))
        self.now: list[z3.BoolRef] = []
        self.not_now: list[z3.BoolRef] = []
        self.never: set[int] = set()

    def add_rungs(self, terms: Terms) -> None:
        """Names the rungs, and finds those that no start satisfies."""
        first = len(self.now)
        for now in terms.now:
            name = self.solver.name("rung")
            self.solver.add(name == now)
            self.now.append(name)
            self.not_now.append(self.solver.negate(name))
        for n in range(first + 1, len(self.now) + 1):
            self.never.update(x for x in (n, -n) if not self.solver.ask([self.term(x)]))

    def term(self, literal: int) -> z3.BoolRef:
        return self.now[literal - 1] if literal > 0 else self.not_now[-literal - 1]

    def touches(self, cube: Iterable[int]) -> bool:
        """Some start lies in the cube."""
        literals = list(cube)
        if not self.never.isdisjoint(literals):
            return False
        return self.solver.ask([self.term(x) for x in literals])


class Kind:
    """One kind of step in a solver of its own, with the frames' clauses by activation."""

    def __init__(
        self, system: System, step: Iterable[Conjunct], budget: Budget, effort: Effort
    ) -> None:
        self.solver = QuickSolver(system.context, budget, effort)
        self.solver.add(*(part.term for part in step))
        self.start = self.solver.name("start")
        for part in system.start:
            self.solver.add_clause([self.solver.negate(self.start), part.term])
        self.now: list[z3.BoolRef] = []
        self.then: list[z3.BoolRef] = []
        self.not_now: list[z3.BoolRef] = []
        self.not_then: list[z3.BoolRef] = []
        self.by_id: dict[int, int] = {}
        self.levels: list[z3.BoolRef] = []

    def add_rungs(self, terms: Terms) -> None:
        """Names each rung's truth before and after, so that cores speak of rungs."""
        for now, then in zip(terms.now, terms.then, strict=True):
            a, b = self.solver.name("now"), self.solver.name("then")
            self.solver.add(a == now, b == then)
            self.now.append(a)
            self.then.append(b)
            self.not_now.append(self.solver.negate(a))
            self.not_then.append(self.solver.negate(b))
            n = len(self.now)
            self.by_id[b.get_id()] = n
            self.by_id[self.not_then[-1].get_id()] = -n

    def before(self, literal: int) -> z3.BoolRef:
        return self.now[literal - 1] if literal > 0 else self.not_now[-literal - 1]

    def after(self, literal: int) -> z3.BoolRef:
        return self.then[literal - 1] if literal > 0 else self.not_then[-literal - 1]

    def level(self, i: int) -> z3.BoolRef:
        while len(self.levels) <= i:
            self.levels.append(self.solver.name("level"))
        return self.levels[i]

    def block(self, cube: Cube, level: int | None) -> None:
        """The clause against the cube, up to a level or (None) for good."""
        literals = [self.before(-x) for x in cube]
        if level is not None:
            literals.append(self.solver.negate(self.level(level)))
        self.solver.add_clause(literals)

    def frame(self, i: int, top: int) -> list[z3.BoolRef]:
        return [self.start] if i == 0 else [self.level(j) for j in range(i, top + 1)]

    def predecessor(
        self, cube: Cube, frame: list[z3.BoolRef], *, relative: bool
    ) -> set[int] | None:
        """None if a step from the frame reaches the cube; else the literals the refusal needs."""
        assumed = [self.after(x) for x in cube]
        if relative:
            apart = self.solver.name("apart")
            self.solver.add_clause([self.solver.negate(apart), *(self.before(-x) for x in cube)])
            assumed.append(apart)
        if self.solver.ask([*frame, *assumed]):
            return None
        core = self.solver.core()
        return {self.by_id[i] for i in core if i in self.by_id}

    def valuation(self) -> Cube:
        """Every rung's truth before the step, in the last model."""
        truths = self.solver.truths(self.now)
        return tuple(n + 1 if so else -n - 1 for n, so in enumerate(truths))
