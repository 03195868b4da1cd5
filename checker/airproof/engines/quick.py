"""A thin way to a z3 solver for loops in which operators on terms cost too much."""

from __future__ import annotations

import ctypes
import time
from collections.abc import Iterable, Sequence

import z3
from z3 import z3core

from airproof.engines.budget import Budget
from airproof.engines.unrolling import OPTIONS, Effort, plain_reason
from airproof.transition.terms import handles

CHUNK = 60  # truths read off a model together, as the bits of one number
LATE = 0.98  # of the time that the solver was last told to be left: then it is told anew


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
        self._bool = z3.BoolSort(context)
        self._told = float("inf")  # the time [s] that the solver was told it has for a question

    def add(self, *terms: z3.BoolRef) -> None:
        self.solver.add(*terms)

    def name(self, word: str) -> z3.BoolRef:
        """A boolean of this solver's own."""
        raw = z3core.Z3_mk_fresh_const(self._raw, word, self._bool.ast)
        return z3.BoolRef(raw, self.context)

    def named(self, word: str, term: z3.BoolRef) -> z3.BoolRef:
        """A name for the term; a boolean variable is its own."""
        if z3.is_const(term):
            return term
        name = self.name(word)
        self.solver.add(name == term)
        return name

    def negate(self, term: z3.BoolRef) -> z3.BoolRef:
        return z3.BoolRef(z3core.Z3_mk_not(self._raw, term.ast), self.context)

    def clause(self, literals: Sequence[z3.BoolRef]) -> z3.BoolRef:
        """At least one of them."""
        return z3.BoolRef(self._either(literals), self.context)

    def add_clause(self, literals: Sequence[z3.BoolRef]) -> None:
        z3core.Z3_solver_assert(self._raw, self.solver.solver, self._either(literals))

    def _either(self, literals: Sequence[z3.BoolRef]) -> z3.Ast:
        return z3core.Z3_mk_or(self._raw, len(literals), handles(literals))

    def ask(self, assumptions: Sequence[z3.BoolRef]) -> bool:
        """Whether the assumptions can hold together."""
        left = self.budget.remaining
        if self.budget.cancelled.is_set():
            raise OutOfBudget("interrupted")
        if left <= 0:
            raise OutOfBudget("time limit")
        if self.effort.units >= self.budget.resource:
            raise OutOfBudget("solver limit")
        self._tell(left)
        began = time.perf_counter()
        answer = z3core.Z3_solver_check_assumptions(
            self._raw, self.solver.solver, len(assumptions), handles(assumptions)
        )
        self.effort.seconds += time.perf_counter() - began
        self.effort.units += 1000
        if answer == z3.Z3_L_UNDEF:
            raise OutOfBudget(plain_reason(self.solver.reason_unknown(), timed_out=True))
        return bool(answer == z3.Z3_L_TRUE)

    def _tell(self, left: float) -> None:
        """How long a question may take; not each time, as that costs as much as a small one."""
        if not LATE * self._told <= left <= self._told:
            self._told = left
            self.solver.set("timeout", max(1, int(left * 1000)))

    def core(self) -> set[int]:
        """Handles of the assumptions that the last refusal rests on."""
        core = self.solver.unsat_core()
        size = z3core.Z3_ast_vector_size(self._raw, core.vector)
        return {z3core.Z3_ast_vector_get(self._raw, core.vector, i).value for i in range(size)}


class Truths:
    """Terms whose truths are read off a solver's last model, many at a time."""

    def __init__(self, solver: QuickSolver) -> None:
        self.solver, context = solver, solver.context
        self._bits = z3.BitVecVal(1, 1, context), z3.BitVecVal(0, 1, context)
        self._waiting: list[z3.BoolRef] = []
        self._numbers: list[tuple[int, z3.BitVecRef]] = []  # how many bits, and the number

    def add(self, terms: Iterable[z3.BoolRef]) -> None:
        self._waiting.extend(terms)

    def read(self) -> list[bool]:
        """In the order in which the terms were added; what the model leaves open is completed."""
        self._gather()
        model, read = self.solver.solver.model(), list[bool]()
        for bits, number in self._numbers:
            value = f"{self._value(model, number):0{bits}b}"
            read.extend(bit == "1" for bit in value)
        return read

    def _gather(self) -> None:
        for i in range(0, len(self._waiting), CHUNK):
            bits = [z3.If(term, *self._bits) for term in self._waiting[i : i + CHUNK]]
            self._numbers.append((len(bits), z3.Concat(bits) if len(bits) > 1 else bits[0]))
        self._waiting = []

    def _value(self, model: z3.ModelRef, number: z3.BitVecRef) -> int:
        raw, value, found = self.solver.context.ref(), (z3.Ast * 1)(), ctypes.c_uint64()
        if not z3core.Z3_model_eval(
            raw, model.model, number.ast, True, value
        ) or not z3core.Z3_get_numeral_uint64(raw, value[0], ctypes.byref(found)):
            raise z3.Z3Exception("the model does not evaluate a rung")
        return found.value
