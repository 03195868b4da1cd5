"""A certificate brought down to what its proof needs: fewer clauses, fewer origins.

Before: an invariant that is inductive and excludes the breach, or is claimed to be.
After: a subset of its clauses that is inductive by itself and excludes the
breach, and the origins that the four obligations of that subset need.  A core
is the solver's word for why there is no model, so what lies outside every core
may be left out of all; and what cannot be left out by itself, with the clauses
as they are, is needed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Literal as Choice

import z3
from z3 import z3core

from airproof.evidence.certificate import Clause
from airproof.transition.layout import Layout
from airproof.transition.literals import Literal
from airproof.transition.origins import Origin
from airproof.transition.rungs import literal_of
from airproof.transition.system import System
from airproof.transition.ties import Ties

Duty = Choice["start", "switch", "elapse", "safe"]
STEPS: tuple[Duty, ...] = ("start", "switch", "elapse")
QUESTION = 2_000_000  # solver units for one question
OPTIONS = {"arith.solver": 2, "relevancy": 0}


@dataclass(frozen=True, slots=True)
class Core:
    """What one refusal rests on: clauses before the step, and origins."""

    clauses: frozenset[int]
    origins: frozenset[Origin]


@dataclass(frozen=True, slots=True)
class Goal:
    """A clause after a step or at the start; -1 for a breach inside the invariant."""

    duty: Duty
    clause: int


@dataclass(frozen=True, slots=True)
class Minimal:
    """Clauses by their index, the origins they need, and whether every one was tried."""

    clauses: tuple[int, ...]
    origins: tuple[Origin, ...]
    whole: bool


class Minimiser:
    """Asks the four obligations clause by clause, under named clauses and origins."""

    def __init__(
        self, system: System, layout: Layout, ties: Ties, clauses: Sequence[Clause], units: int
    ) -> None:
        self.ties, self.units = ties.known, units
        self.spent = 0
        breached = next(v.now for v in system.variables if v.key == system.breached)
        spoken = _Spoken(layout, clauses)
        self.asked = {
            "start": _Asked("start", [c.term for c in system.start], spoken),
            "switch": _Asked("switch", [c.term for c in system.switch], spoken),
            "elapse": _Asked("elapse", [c.term for c in system.elapse], spoken),
            "safe": _Asked("safe", [breached], spoken),
        }
        self.began = self.asked["start"].units
        self.cores: dict[Goal, Core] = {}
        self.every = frozenset(range(len(clauses)))

    def run(self) -> Minimal | None:
        """None if the clauses prove nothing, or the budget ends before that is known."""
        everything = frozenset(self.ties)
        if not self._support(everything):
            return None
        whole = self._drop_clauses(everything)
        whole = self._drop_origins() and whole
        return Minimal(tuple(sorted(self._clauses())), tuple(self._ordered()), whole)

    # ---- questions

    def _ask(self, goal: Goal, clauses: Iterable[int], origins: Iterable[Origin]) -> Core | None:
        """Why there is no such step; None if there is one, or no answer within the units."""
        if self.spent >= self.units:
            return None
        solver = self.asked[goal.duty]
        core = solver.ask(goal.clause, clauses, {o: self.ties[o] for o in origins})
        self.spent = solver.units - self.began
        return core

    def _support(self, origins: frozenset[Origin]) -> bool:
        """Cores for the breach, and for each clause that one of them needs."""
        waiting = [Goal("safe", -1)]
        while waiting:
            goal = waiting.pop()
            have = frozenset(g.clause for g in (*self.cores, *waiting) if g.clause >= 0)
            core = self._ask(goal, have, origins) if have else None
            core = core or self._ask(goal, self.every, origins)
            if core is None:
                return False
            self.cores[goal] = core
            for clause in sorted(core.clauses - have):
                waiting += [Goal(duty, clause) for duty in STEPS]
        return True

    # ---- leaving out

    def _without(self, clauses: frozenset[int], origins: frozenset[Origin]) -> bool:
        """Every goal that needs something else is met by these alone; keeps the new cores."""
        fresh: dict[Goal, Core] = {}
        for goal, core in self.cores.items():
            kept = goal.clause in clauses or goal.duty == "safe"
            if kept and not (core.clauses <= clauses and core.origins <= origins):
                found = self._ask(goal, clauses, origins)
                if found is None:
                    return False
                fresh[goal] = found
        self.cores |= fresh
        self._forget()
        return True

    def _forget(self) -> None:
        """Goals for clauses that nothing needs any longer are no goals."""
        needed = {-1}
        waiting = [Goal("safe", -1)]
        while waiting:
            for clause in self.cores[waiting.pop()].clauses - needed:
                needed.add(clause)
                waiting += [Goal(duty, clause) for duty in STEPS]
        self.cores = {goal: core for goal, core in self.cores.items() if goal.clause in needed}

    def _clauses(self) -> frozenset[int]:
        return frozenset(goal.clause for goal in self.cores if goal.clause >= 0)

    def _needed(self) -> frozenset[Origin]:
        return frozenset[Origin]().union(*(core.origins for core in self.cores.values()))

    def _ordered(self) -> Iterator[Origin]:
        """The needed origins in the order in which the circuit is encoded."""
        needed = self._needed()
        return (origin for origin in self.ties if origin in needed)

    def _drop_clauses(self, origins: frozenset[Origin]) -> bool:
        for clause in sorted(self._clauses(), reverse=True):
            if self.spent >= self.units:
                return False
            if clause in self._clauses():
                self._without(self._clauses() - {clause}, origins)
        return True

    def _drop_origins(self) -> bool:
        """First whole statements, then rule by rule and leaf by leaf."""
        by_statement = sorted(self._ordered(), key=lambda o: (o.kind, o.name))
        groups = [frozenset(g) for _, g in groupby(by_statement, key=lambda o: (o.kind, o.name))]
        singles = [frozenset((origin,)) for group in groups for origin in group]
        for some in (*groups, *(x for x in singles)):
            if self.spent >= self.units:
                return False
            if some & self._needed():
                self._without(self._clauses(), self._needed() - some)
        return True


class _Asked:
    """The solver of one obligation, asked under names of clauses and ties of origins."""

    def __init__(self, duty: Duty, terms: Sequence[z3.BoolRef], spoken: _Spoken) -> None:
        self.spoken, self.duty = spoken, duty
        self.solver = z3.SimpleSolver(ctx=spoken.context)
        for option, value in OPTIONS.items():
            self.solver.set(option, value)
        self.solver.set("rlimit", QUESTION)
        self.solver.add(*terms)
        self.stepping = duty in ("switch", "elapse")
        self.inside: dict[int, z3.BoolRef] = {}
        self.outside: dict[int, z3.BoolRef] = {}

    def ask(
        self, goal: int, clauses: Iterable[int], ties: Mapping[Origin, z3.BoolRef]
    ) -> Core | None:
        """Why nothing leads from inside the clauses to outside the goal; None if not refused."""
        inside = {} if self.duty == "start" else {k: self._inside(k) for k in clauses}
        assumed = [*inside.values(), *ties.values()]
        assumed += [] if self.duty == "safe" else [self._outside(goal)]
        if self._check(assumed) != z3.Z3_L_FALSE:
            return None
        used = {term.get_id() for term in self.solver.unsat_core()}
        return Core(
            frozenset(clause for clause, name in inside.items() if name.get_id() in used),
            frozenset(origin for origin, tie in ties.items() if tie.get_id() in used),
        )

    def _check(self, assumed: Sequence[z3.BoolRef]) -> int:
        """The solver's answer; operators of terms would cost more than it does."""
        handles = (z3.Ast * len(assumed))(*(term.ast for term in assumed))
        answer: int = z3core.Z3_solver_check_assumptions(
            self.spoken.context.ref(), self.solver.solver, len(assumed), handles
        )
        return answer

    @property
    def units(self) -> int:
        """What z3 has counted in this context so far."""
        return int(self.solver.statistics().get_key_value("rlimit count"))

    def _inside(self, clause: int) -> z3.BoolRef:
        """A name under which the clause is so before the step."""
        if clause not in self.inside:
            name = z3.Bool(f"inside {clause}", self.spoken.context)
            literals = self.spoken.literals(clause, after=False)
            self.solver.add(z3.Or([z3.Not(name), *literals]))
            self.inside[clause] = name
        return self.inside[clause]

    def _outside(self, clause: int) -> z3.BoolRef:
        """A name under which the clause is not so after it."""
        if clause not in self.outside:
            name = z3.Bool(f"outside {clause}", self.spoken.context)
            literals = self.spoken.literals(clause, after=self.stepping)
            self.solver.add(z3.Implies(name, z3.Not(z3.Or(literals))))
            self.outside[clause] = name
        return self.outside[clause]


class _Spoken:
    """The clauses' literals as terms before and after a step."""

    def __init__(self, layout: Layout, clauses: Sequence[Clause]) -> None:
        self.context, self.clauses = layout.context, clauses
        self.now, self.then = layout.moment(after=False), layout.moment(after=True)

        self.known: dict[tuple[bool, Literal], z3.BoolRef] = {}

    def literals(self, clause: int, *, after: bool) -> list[z3.BoolRef]:
        return [self._literal(literal, after) for literal in self.clauses[clause]]

    def _literal(self, literal: Literal, after: bool) -> z3.BoolRef:
        if (after, literal) not in self.known:
            moment = self.then if after else self.now
            self.known[after, literal] = literal_of(moment, literal)
        return self.known[after, literal]
