"""A system laid out step after step in one incremental solver."""

from __future__ import annotations

import itertools
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

import z3
from z3 import z3core

from airproof.engines.budget import Budget
from airproof.transition.system import System, conjunction
from airproof.transition.terms import handles

OPTIONS = {"arith.solver": 2, "relevancy": 0}  # 1.4 to 3.6 times faster than z3's own
PATIENCE = 6_000_000  # solver units more for each next solver that a question is put to
z3.set_param("model.compact", False)  # a model comes in half the time

Terms = dict[str, z3.ExprRef]


@dataclass(frozen=True, slots=True)
class Answer:
    """sat, unsat or unknown; `why` says what kept the solver from knowing."""

    word: Literal["sat", "unsat", "unknown"]
    why: str = ""


@dataclass(slots=True)
class Effort:
    """Time spent inside the solver [s] and the resource units it used."""

    seconds: float = 0.0
    units: int = 0


class Unrolling:
    """States 0..n and the steps between them.

    states[i]: the variables' terms at state i
    inputs[i]: the inputs' terms of step i
    switches[i]: step i is a switch step (else an elapse step)
    """

    def __init__(self, system: System, *, anywhere: bool = False) -> None:
        context = system.context
        self.system = system
        self.solver = self.answered = z3.SimpleSolver(ctx=context)
        for option, value in OPTIONS.items():
            self.solver.set(option, value)
        self.effort = Effort()
        self._spent = 0  # what z3 has counted in this context so far
        self.states: list[Terms] = []
        self.inputs: list[Terms] = []
        self.switches: list[z3.BoolRef] = []
        self._kind = z3.Bool("switch", context)
        self._olds: list[z3.ExprRef] = [
            self._kind,
            *(v.now for v in system.variables),
            *(v.then for v in system.variables),
            *(x.term for x in system.inputs),
        ]
        self._news: list[list[z3.ExprRef]] = []
        self._step = z3.And(
            z3.Implies(self._kind, conjunction(context, system.switch)),
            z3.Implies(z3.Not(self._kind), conjunction(context, system.elapse)),
        )
        self._add_state()
        if not anywhere:
            self.solver.add(self.at(conjunction(context, system.start), 0))

    @property
    def steps(self) -> int:
        return len(self.inputs)

    def extend(self) -> None:
        """Adds one step of either kind."""
        i, context = self.steps, self.system.context
        self._add_state()
        self.inputs.append({x.key: z3.Real(f"{x.key}@{i}", context) for x in self.system.inputs})
        self.switches.append(z3.Bool(f"switch@{i}", context))
        self._news.append(
            [
                self.switches[i],
                *self.states[i].values(),
                *self.states[i + 1].values(),
                *self.inputs[i].values(),
            ]
        )
        self.solver.add(self.between(self._step, i))

    @contextmanager
    def scope(self) -> Iterator[None]:
        """What is asserted within is forgotten afterwards; no step may be added within."""
        self.solver.push()
        try:
            yield
        finally:
            self.solver.pop()

    def _add_state(self) -> None:
        i, context = len(self.states), self.system.context
        make = {"bool": z3.Bool, "real": z3.Real}
        self.states.append(
            {v.key: make[v.sort](f"{v.key}@{i}", context) for v in self.system.variables}
        )

    def at(self, term: z3.ExprRef, i: int) -> z3.ExprRef:
        """A term over `now` read at state i."""
        return self._replaced(term, [v.now for v in self.system.variables], self.states[i].values())

    def between(self, term: z3.ExprRef, i: int) -> z3.ExprRef:
        """A term over `now`, inputs and `then` read at step i."""
        return self._replaced(term, self._olds, self._news[i])

    def _replaced(
        self, term: z3.ExprRef, olds: Sequence[z3.ExprRef], news: Iterable[z3.ExprRef]
    ) -> z3.BoolRef:
        """z3.substitute without its checks of every pair's sorts, which cost more than the work."""
        context = self.system.context
        old, new = handles(olds), handles(list(news))
        raw = z3core.Z3_substitute(context.ref(), term.as_ast(), len(old), old, new)
        return z3.BoolRef(raw, context)

    def numbers_only(
        self, model: z3.ModelRef, steps: int, known: Iterable[z3.ExprRef] = ()
    ) -> z3.Solver:
        """A small solver over the numbers of the first steps, every boolean as the model has it.

        known: numbers that are to be as in the model, too
        """
        solver = z3.SimpleSolver(ctx=self.system.context)
        start = self.at(conjunction(self.system.context, self.system.start), 0)
        fixed = self._fixed(model, steps, known)
        for term in (start, *(self.between(self._step, i) for i in range(steps))):
            solver.add(z3.simplify(self._replaced(term, *fixed)))
        return solver

    def _fixed(
        self, model: z3.ModelRef, steps: int, known: Iterable[z3.ExprRef]
    ) -> tuple[list[z3.ExprRef], list[z3.ExprRef]]:
        """Every boolean of the first steps and what else is known, and its value in the model."""
        terms = [*known]
        terms += [t for state in self.states[: steps + 1] for t in state.values() if z3.is_bool(t)]
        terms += self.switches[:steps]
        return terms, [model.eval(term, model_completion=True) for term in terms]

    def breached(self, i: int) -> z3.BoolRef:
        """The property is breached (or what was asked is reached) by state i."""
        if self.system.breached is None:
            raise ValueError("the system watches no property")
        return self.states[i][self.system.breached]

    def model(self) -> z3.ModelRef:
        """The model of the last question that was answered `sat`."""
        return self.answered.model()

    def stubborn(self, budget: Budget, *assumptions: z3.BoolRef) -> Answer:
        """One query, given to fresh solvers, each more patient, when it gets lost in it.

        The same question was seen to cost fifty times more or less with what
        the solver had learnt before, and with its seed.
        """
        patience = PATIENCE
        answer = self.check(self._patient(budget, patience), *assumptions)
        for seed in itertools.count(1):
            if answer.why != "solver limit" or self.effort.units >= budget.resource:
                break
            patience += PATIENCE
            self.answered = self._fresh(seed)
            self.answered.add(self.solver.assertions())
            self.answered.add(*assumptions)  # as assertions, so that it may simplify them first
            answer = self._asked(self.answered, self._patient(budget, patience), ())
        return answer

    def _patient(self, budget: Budget, units: int) -> Budget:
        return replace(budget, resource=min(budget.resource, self.effort.units + units))

    def _fresh(self, seed: int) -> z3.Solver:
        """Solvers of different kinds and seeds by turns."""
        if seed % 2:
            solver = z3.Solver(ctx=self.system.context)
        else:
            solver = z3.SimpleSolver(ctx=self.system.context)
            for option, value in OPTIONS.items():
                solver.set(option, value)
        solver.set("random_seed", seed)
        return solver

    def check(self, budget: Budget, *assumptions: z3.BoolRef) -> Answer:
        """One query within what is left of the budget."""
        self.answered = self.solver
        return self._asked(self.solver, budget, assumptions)

    def _asked(
        self, solver: z3.Solver, budget: Budget, assumptions: tuple[z3.BoolRef, ...]
    ) -> Answer:
        if budget.cancelled.is_set():
            return Answer("unknown", "interrupted")
        if self.effort.units >= budget.resource:
            return Answer("unknown", "solver limit")
        left = budget.remaining
        if left <= 0:
            return Answer("unknown", "time limit")
        solver.set("timeout", max(1, int(left * 1000)))
        solver.set("rlimit", budget.resource - self.effort.units)
        return self._ask(solver, budget, assumptions)

    def _ask(
        self, solver: z3.Solver, budget: Budget, assumptions: tuple[z3.BoolRef, ...]
    ) -> Answer:
        began = time.perf_counter()
        try:
            word = str(solver.check(*assumptions))
            why = solver.reason_unknown() if word == "unknown" else ""
        except z3.Z3Exception as problem:
            word, why = "unknown", str(problem)
        self.effort.seconds += time.perf_counter() - began
        total = max(self._spent + 1, _units(solver))
        self.effort.units, self._spent = self.effort.units + total - self._spent, total
        if word == "unknown":
            return Answer("unknown", plain_reason(why, timed_out=budget.remaining <= 0))
        return Answer("sat") if word == "sat" else Answer("unsat")


def _units(solver: z3.Solver) -> int:
    statistics = solver.statistics()
    return next((int(v) for k, v in statistics if k == "rlimit count"), 0)


def plain_reason(why: str, *, timed_out: bool) -> str:
    """What kept the solver from an answer, in airproof's own words.

    z3 calls running out of time or out of resource units by the same word.
    """
    if why == "timeout" or (why == "canceled" and timed_out):
        return "time limit"
    if why == "canceled" or "resource" in why:
        return "solver limit"
    return "interrupted" if "interrupted" in why else f"solver failed: {why}"


def valuation(
    booleans: z3.ModelRef, numbers: z3.ModelRef, terms: Terms
) -> dict[str, bool | Fraction]:
    """The terms' values, each sort from its model; what a model leaves open is completed."""
    found: dict[str, bool | Fraction] = {}
    for key, term in terms.items():
        if z3.is_bool(term):
            found[key] = bool(z3.is_true(booleans.eval(term, model_completion=True)))
        else:
            found[key] = numbers.eval(term, model_completion=True).as_fraction()
    return found
