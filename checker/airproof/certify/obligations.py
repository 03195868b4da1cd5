"""What an invariant must satisfy, stated anew from the circuit and given to a fresh solver.

Nothing here knows how the invariant was found.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal as Choice

import z3

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.evidence.certificate import Invariant
from airproof.transition.encode import encode, layout_of
from airproof.transition.layout import Moment
from airproof.transition.rungs import literal_of
from airproof.transition.system import Conjunct, conjunction

Duty = Choice["start", "switch", "elapse", "safe"]


@dataclass(frozen=True, slots=True)
class Obligation:
    """`terms` together must have no model.

    start:  a start outside the invariant
    switch: a switch step that leaves the invariant
    elapse: an elapse step that leaves the invariant
    safe:   a state of the invariant in which the property is breached
    """

    duty: Duty
    terms: tuple[z3.BoolRef, ...]


@dataclass(frozen=True, slots=True)
class Discharge:
    """The fresh solver's answer to one obligation: `unsat` is what is wanted."""

    duty: Duty
    answer: str


def obligations(circuit: Circuit, prop: Property, invariant: Invariant) -> tuple[Obligation, ...]:
    """The four obligations, over the whole circuit, in a solver context of their own."""
    context = z3.Context()
    system = encode(circuit, prop, context)
    layout = layout_of(system, circuit)
    now = _clauses(layout.moment(after=False), invariant)
    leaves = z3.Not(_clauses(layout.moment(after=True), invariant))

    def step(parts: tuple[Conjunct, ...]) -> tuple[z3.BoolRef, ...]:
        return now, conjunction(context, parts), leaves

    breached = next(v.now for v in system.variables if v.key == system.breached)
    return (
        Obligation("start", (conjunction(context, system.start), z3.Not(now))),
        Obligation("switch", step(system.switch)),
        Obligation("elapse", step(system.elapse)),
        Obligation("safe", (now, breached)),
    )


def discharge(duties: tuple[Obligation, ...], seconds: float) -> Iterator[Discharge]:
    """Asks a fresh solver about each; anything but `unsat` refuses the certificate."""
    for duty in duties:
        solver = z3.Solver(ctx=duty.terms[0].ctx)
        solver.set("timeout", max(1, int(seconds * 1000)))
        solver.add(*duty.terms)
        yield Discharge(duty.duty, str(solver.check()))


def smtlib(duty: Obligation) -> str:
    """The obligation as an SMT-LIB 2.6 script whose answer must be `unsat`."""
    solver = z3.Solver(ctx=duty.terms[0].ctx)
    solver.add(*duty.terms)
    body = solver.to_smt2()
    lines = [x for x in body.splitlines() if not x.startswith((";", "(set-info"))]
    return "\n".join(["(set-info :smt-lib-version 2.6)", "(set-logic QF_LRA)", *lines, ""])


def _clauses(moment: Moment, invariant: Invariant) -> z3.BoolRef:
    clauses = [
        z3.Or([moment.constant(False), *(literal_of(moment, x) for x in clause)])
        for clause in invariant.clauses
    ]
    return z3.And([moment.constant(True), *clauses])
