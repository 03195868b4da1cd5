"""A solver that gives no answer is never taken for one that says no."""

from __future__ import annotations

import pytest
import z3

from airproof.engines.budget import Budget
from airproof.engines.quick import OutOfBudget, QuickSolver
from airproof.engines.unrolling import Effort, Unrolling
from airproof.transition.system import Conjunct, System, variable

PIGEONS = 7  # in one hole less: nothing that a solver sees at a glance


def crowded(context: z3.Context) -> list[z3.BoolRef]:
    """Every pigeon has a hole and no hole has two: cannot be, and takes a while to show."""
    holes = range(PIGEONS - 1)
    sits = [[z3.Bool(f"{p} in {h}", context) for h in holes] for p in range(PIGEONS)]
    terms = [z3.Or(row) for row in sits]
    for hole in holes:
        for one in range(PIGEONS):
            for other in range(one):
                terms.append(z3.Not(z3.And(sits[one][hole], sits[other][hole])))
    return terms


def test_frames_stop_where_there_is_no_answer() -> None:
    """Neither `can be` nor `cannot be` is said, even if the solver gives up by itself."""
    context = z3.Context()
    solver = QuickSolver(context, Budget(), Effort())
    solver.add(*crowded(context))
    solver.solver.set("rlimit", 1)
    with pytest.raises(OutOfBudget):
        solver.ask([])


def test_a_search_says_that_it_does_not_know() -> None:
    """Its answer is `unknown`, with the reason."""
    context = z3.Context()
    spot = variable(context, "spot", "bool")
    start = tuple(Conjunct(term) for term in crowded(context))
    system = System(context, (spot,), (), start, (), (), (), {})
    answer = Unrolling(system).check(Budget(resource=1))
    assert (answer.word, answer.why) == ("unknown", "solver limit")
