"""A thin way to a z3 solver for loops in which operators on terms cost too much."""

from __future__ import annotations

import time
from collections.abc import Sequence

import z3
from z3 import z3core

from airproof.engines.budget import Budget
from airproof.engines.unrolling import OPTIONS, Effort, handles, plain_reason


class OutOfBudget(Exception):
    """The budget ended, or the solver gave no answer; `why` is one of the verdict's reasons."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


class QuickSolver:
    """One incremental solver asked under assumptions.

    Raises OutOfBudget from `ask` rather than returning a third answer, so that
    no caller can take "unknown" for "unsat".
    """

    def __init__(self, context: z3.Context, budget: Budget, effort: Effort) -> None:
        self.context, self.budget, self.effort = context, budget, effort
        self.solver = z3.SimpleSolver(ctx=context)
        for option, value in OPTIONS.items():
            self.solver.set(option, value)
        self._raw = context.ref()

    def add(self, *terms: z3.BoolRef) -> None:
        self.solver.add(*terms)

    def name(self, word: str) -> z3.BoolRef:
        """A boolean of this solver's own."""
        return z3.FreshBool(word, self.context)

    def named(self, word: str, term: z3.BoolRef) -> z3.BoolRef:
        """A name for the term; a boolean variable is its own."""
        if z3.is_const(term):
            return term
        name = self.name(word)
        self.solver.add(name == term)
        return name

    def negate(self, term: z3.BoolRef) -> z3.BoolRef:
        return z3.BoolRef(z3core.Z3_mk_not(self._raw, term.as_ast()), self.context)

    def clause(self, literals: Sequence[z3.BoolRef]) -> z3.BoolRef:
        """At least one of them."""
        raw = z3core.Z3_mk_or(self._raw, len(literals), handles(literals))
        return z3.BoolRef(raw, self.context)

    def add_clause(self, literals: Sequence[z3.BoolRef]) -> None:
        z3core.Z3_solver_assert(self._raw, self.solver.solver, self.clause(literals).as_ast())

    def ask(self, assumptions: Sequence[z3.BoolRef]) -> bool:
        """Whether the assumptions can hold together."""
        left = self.budget.remaining
        if self.budget.cancelled.is_set():
            raise OutOfBudget("interrupted")
        if left <= 0:
            raise OutOfBudget("time limit")
        if self.effort.units >= self.budget.resource:
            raise OutOfBudget("solver limit")
        self.solver.set("timeout", max(1, int(left * 1000)))
        began = time.perf_counter()
        answer = z3core.Z3_solver_check_assumptions(
            self._raw, self.solver.solver, len(assumptions), handles(assumptions)
        )
        self.effort.seconds += time.perf_counter() - began
        self.effort.units += 1000
        if answer == z3.Z3_L_UNDEF:
            raise OutOfBudget(plain_reason(self.solver.reason_unknown(), timed_out=True))
        return bool(answer == z3.Z3_L_TRUE)

    def core(self) -> set[int]:
        """Ids of the assumptions that the last refusal rests on."""
        return {x.get_id() for x in self.solver.unsat_core()}

    def truths(self, terms: Sequence[z3.BoolRef]) -> list[bool]:
        """The terms' truths in the last model."""
        model = self.solver.model()
        return [self._true(model, term) for term in terms]

    def _true(self, model: z3.ModelRef, term: z3.BoolRef) -> bool:
        value = (z3.Ast * 1)()
        if not z3core.Z3_model_eval(self._raw, model.model, term.as_ast(), True, value):
            raise z3.Z3Exception("the model does not evaluate a rung")
        return bool(z3core.Z3_get_bool_value(self._raw, value[0]) == z3.Z3_L_TRUE)
