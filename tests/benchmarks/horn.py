"""A transition system as Horn clauses for the fixedpoint engine that ships with z3."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import z3

from airproof.transition.system import System, conjunction

Option = bool | int | str


@dataclass(frozen=True, slots=True)
class Variant:
    """One way of asking the fixedpoint engine.

    told:     what it is, for the page of results
    options:  its own settings
    cut:      it is given what the property can depend on, as airproof cuts it out, and no more
    together: both kinds of step in one clause
    """

    name: str
    told: str
    options: Mapping[str, Option]
    cut: bool = False
    together: bool = False


class Clauses:
    """`reached` holds of the states that runs reach: at the start, and after each step from it."""

    def __init__(self, system: System, variant: Variant) -> None:
        self.context = context = system.context
        self.engine = z3.Fixedpoint(ctx=context)
        self.engine.set("engine", "spacer")
        for name, value in variant.options.items():
            self.engine.set(name, value)
        variables = system.variables
        sorts = [v.now.sort() for v in variables]
        reached = z3.Function("reached", *sorts, z3.BoolSort(context))
        self.engine.register_relation(reached)
        terms = [t for v in variables for t in (v.now, v.then)]
        self.engine.declare_var(*terms, *(x.term for x in system.inputs))
        now, then = reached(*(v.now for v in variables)), reached(*(v.then for v in variables))
        self.engine.add_rule(now, conjunction(context, system.start))
        steps = [conjunction(context, part) for part in (system.switch, system.elapse)]
        for step in [z3.Or(steps)] if variant.together else steps:
            self.engine.add_rule(then, [now, step])
        breached = next(v.now for v in variables if v.key == system.breached)
        self.question = z3.And(now, breached)

    def ask(self, seconds: float) -> str:
        """`sat` if a breach is reached, `unsat` if none ever is, `unknown` in so much time [s]."""
        self.engine.set("timeout", max(1, int(seconds * 1000)))
        try:
            return str(self.engine.query(self.question))
        except z3.Z3Exception:  # it was cancelled by its time limit, or ran out of memory
            return "unknown"
