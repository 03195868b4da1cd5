"""Which positions, flows and standing states some run reaches, and which none does.

All runs of a few steps are looked at first, then those a few steps ahead of
a state that one of them came to, and so on.  What is still missing is
excluded by what is known of every run, or has merely not been found.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import z3

from airproof.circuit.kinds import Circuit
from airproof.engines.budget import Budget
from airproof.engines.given import given
from airproof.engines.quick import OutOfBudget, QuickSolver
from airproof.engines.unrolling import Effort, Unrolling
from airproof.evidence.health import Code, Finding
from airproof.transition.encode import encode, layout_of
from airproof.transition.probes import probes
from airproof.transition.rungs import literal_of
from airproof.transition.settling import shape

NEAR = (4, 8, 12, 16)  # steps from the start within which all runs are looked at, by turns
HOP = 6  # steps ahead of a state that some run has reached
UNITS = 6_000_000  # solver units for all of it

State = dict[str, z3.ExprRef]


@dataclass(frozen=True, slots=True)
class Goal:
    """What a run is to reach: a state as in `term`, or for a flow such an elapse step."""

    code: Code
    name: str
    term: z3.BoolRef

    @property
    def passing(self) -> bool:
        return self.code == "flow not open"

    def at(self, run: Unrolling, i: int) -> z3.BoolRef:
        """It is reached with state i."""
        if not self.passing:
            return run.at(self.term, i)
        if i == 0:
            return z3.BoolVal(False, run.system.context)
        return z3.And(z3.Not(run.switches[i - 1]), run.between(self.term, i - 1))


def goals(circuit: Circuit, context: z3.Context) -> tuple[Goal, ...]:
    """Every position of whatever is not sealed, every standing state, every flow."""
    known = probes(circuit, context)
    sealed = {name for name, control in circuit.controls.items() if control.sealed}
    return (
        *(
            Goal("position not reached", f"{name} is {place}", term)
            for (name, place), term in known.stands.items()
            if name not in sealed
        ),
        *(Goal("standing state not reached", n, term) for n, term in known.pinned.items()),
        *(Goal("flow not open", name, term) for name, term in known.open.items()),
    )


class Reach:
    """What of a circuit no run reaches, as far as a search and facts can tell."""

    def __init__(self, circuit: Circuit, budget: Budget) -> None:
        self.circuit, self.budget = circuit, budget
        self.system = encode(circuit, None, z3.Context())

    def findings(self) -> tuple[Finding, ...]:
        """One for each goal that was not found; `proved` if no run at all reaches it."""
        left = goals(self.circuit, self.system.context)
        near = Seeker(Unrolling(self.system), self.budget)
        ahead = Seeker(Unrolling(self.system, anywhere=True), self.budget)
        for _ in range(HOP):
            ahead.run.extend()
        for depth in NEAR:
            while left and not near.spent and near.run.steps <= depth:
                left = near.seek(left)
                near.run.extend()
            left = self._hopped(near, ahead, left)
        if self.budget.remaining <= 0:
            return (Finding("warning", "not examined", (), None, "time limit"),)
        return tuple(self._missing(left))

    def _hopped(self, near: Seeker, ahead: Seeker, left: Sequence[Goal]) -> tuple[Goal, ...]:
        """What is missing a few steps ahead of each state found, the last found first."""
        states, left = list(near.states), tuple(left)
        near.states.clear()
        while left and states and not ahead.spent:
            left = ahead.seek(left, states.pop())
            states += ahead.states
            ahead.states.clear()
        return left

    def _missing(self, left: Sequence[Goal]) -> Iterator[Finding]:
        solvers = self._excluding() if left else None
        for goal in left:
            proved = False
            if solvers is not None:
                solver = solvers[goal.passing]
                try:
                    proved = not solver.ask([solver.named("goal", goal.term)])
                except OutOfBudget:
                    solvers = None
            if not (proved and goal.code == "standing state not reached"):  # an error of `examine`
                yield Finding("warning", goal.code, (goal.name,), proved=proved)

    def _excluding(self) -> tuple[QuickSolver, QuickSolver]:
        """Any state, and any elapse step, that what is known of every run allows."""
        layout, effort = layout_of(self.system, self.circuit), Effort()
        now = layout.moment(after=False)
        literals = given(self.circuit, None, self.budget).literals
        known = (*shape(layout), *(literal_of(now, literal) for literal in literals))
        state, step = (QuickSolver(layout.context, self.budget, effort) for _ in range(2))
        state.add(*known)
        step.add(*known, *(part.term for part in self.system.elapse))
        return state, step


class Seeker:
    """A search for many goals at once.

    states: where a run stood that reached one
    spent:  some question went without an answer
    """

    def __init__(self, run: Unrolling, budget: Budget) -> None:
        self.run, self.states, self.spent = run, list[State](), False
        self._terms: dict[tuple[Code, str, int], z3.BoolRef] = {}
        self.budget = replace(budget, resource=min(budget.resource, UNITS))

    def seek(self, goals: Sequence[Goal], first: State | None = None) -> tuple[Goal, ...]:
        """The goals that are not reached: by the last state, or anywhere ahead of `first`."""
        run, left = self.run, tuple(goals)
        where = [run.steps] if first is None else list(range(1, run.steps + 1))
        with run.scope():
            run.solver.add(*(run.states[0][key] == value for key, value in (first or {}).items()))
            while left and (model := self._model(left, where)) is not None:
                left = tuple(g for g in left if not any(_so(model, self._at(g, i)) for i in where))
                self.states.append(
                    {k: model.eval(t, model_completion=True) for k, t in run.states[-1].items()}
                )
        return left

    def _at(self, goal: Goal, i: int) -> z3.BoolRef:
        key = (goal.code, goal.name, i)
        if key not in self._terms:
            self._terms[key] = goal.at(self.run, i)
        return self._terms[key]

    def _model(self, left: Sequence[Goal], where: Sequence[int]) -> z3.ModelRef | None:
        terms = [self._at(goal, i) for goal in left for i in where]
        with self.run.scope():
            self.run.solver.add(z3.Or(terms))
            answer = self.run.check(self.budget)
            self.spent = answer.word == "unknown"
            return self.run.model() if answer.word == "sat" else None


def _so(model: z3.ModelRef, term: z3.BoolRef) -> bool:
    return bool(z3.is_true(model.eval(term, model_completion=True)))
