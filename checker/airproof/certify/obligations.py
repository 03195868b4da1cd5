"""What an invariant must satisfy, stated anew from the circuit and given to a fresh solver.

Nothing here knows how the invariant was found.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal as Choice

import z3

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.evidence.certificate import Clause, Invariant
from airproof.transition.encode import encode, layout_of
from airproof.transition.layout import CLOCK, Moment
from airproof.transition.literals import Bit, Literal, Rung
from airproof.transition.rungs import literal_of
from airproof.transition.system import Conjunct, System

Duty = Choice["start", "switch", "elapse", "safe"]
Role = Choice["start", "inside", "step", "outside", "breached"]

DUTIES: tuple[Duty, ...] = ("start", "switch", "elapse", "safe")
UNITS = 200_000_000  # solver units for one obligation; the worked circuits need up to 150,000


class Meaningless(Exception):
    """The invariant speaks of something that the circuit does not have."""


@dataclass(frozen=True, slots=True)
class Part:
    """One term of an obligation.

    role: `start` and `step` are the circuit's, `inside` is a clause of the
          invariant before the step, `outside` says that one fails after it,
          `breached` that the property is
    defines: the keys of the variables that a term of the circuit determines
    """

    role: Role
    term: z3.BoolRef
    defines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Obligation:
    """`parts` together must have no model.

    start:  a start outside the invariant
    switch: a switch step that leaves the invariant
    elapse: an elapse step that leaves the invariant
    safe:   a state of the invariant in which the property is breached
    """

    duty: Duty
    parts: tuple[Part, ...]

    @property
    def terms(self) -> tuple[z3.BoolRef, ...]:
        return tuple(part.term for part in self.parts)


@dataclass(frozen=True, slots=True)
class Discharge:
    """The fresh solver's answer to one obligation: `unsat` is what is wanted.

    why: what kept it from an answer, if it gave none
    """

    duty: Duty
    answer: str
    why: str = ""


def obligations(circuit: Circuit, prop: Property, invariant: Invariant) -> tuple[Obligation, ...]:
    """The four obligations, over the whole circuit, in a solver context of their own.

    Raises Meaningless if the invariant names what the circuit does not have.
    """
    return obligations_of(encode(circuit, prop, z3.Context()), circuit, invariant)


def obligations_of(
    system: System, circuit: Circuit, invariant: Invariant
) -> tuple[Obligation, ...]:
    """The same for a system over the circuit's variables, whatever it is breached by."""
    context = system.context
    layout = layout_of(system, circuit)
    sorts = {v.key: v.sort for v in system.variables}
    for rung in dict.fromkeys(x.rung for clause in invariant.clauses for x in clause):
        _check_known(rung, sorts)
    clauses = _clauses(layout.moment(after=False), invariant)
    inside = tuple(Part("inside", clause) for clause in clauses)
    breached = next(v.now for v in system.variables if v.key == system.breached)
    return (
        Obligation("start", (*_circuit("start", system.start), _outside(context, clauses))),
        *_kept(layout.moment(after=True), invariant, inside, system.switch, system.elapse),
        Obligation("safe", (*inside, Part("breached", breached))),
    )


def _kept(
    after: Moment,
    invariant: Invariant,
    inside: tuple[Part, ...],
    switch: Iterable[Conjunct],
    elapse: Iterable[Conjunct],
) -> Iterator[Obligation]:
    """No step of either kind leads from inside the invariant to outside."""
    leaves = _outside(after.layout.context, _clauses(after, invariant))
    yield Obligation("switch", (*inside, *_circuit("step", switch), leaves))
    yield Obligation("elapse", (*inside, *_circuit("step", elapse), leaves))


def _circuit(role: Role, conjuncts: Iterable[Conjunct]) -> Iterator[Part]:
    return (Part(role, conjunct.term, conjunct.defines) for conjunct in conjuncts)


def _outside(context: z3.Context, clauses: list[z3.BoolRef]) -> Part:
    return Part("outside", z3.Not(z3.And([z3.BoolVal(True, context), *clauses])))


def _clauses(moment: Moment, invariant: Invariant) -> list[z3.BoolRef]:
    known: dict[Literal, z3.BoolRef] = {}

    def term(clause: Clause) -> z3.BoolRef:
        for literal in clause:
            if literal not in known:
                known[literal] = literal_of(moment, literal)
        return z3.Or([moment.constant(False), *(known[literal] for literal in clause)])

    return [term(clause) for clause in invariant.clauses]


def _check_known(rung: Rung, sorts: dict[str, Choice["bool", "real"]]) -> None:
    if isinstance(rung, Bit):
        if sorts.get(rung.key) != "bool":
            raise Meaningless(f"nothing is so or not so by the name `{rung.key}`")
        return
    if not rung.terms or rung.order not in (">=", "<="):
        raise Meaningless("a comparison of nothing")
    for name, _ in rung.terms:
        if sorts.get(name if name == CLOCK else f"value {name}") != "real":
            raise Meaningless(f"nothing has a value by the name `{name}`")


def discharge(duties: tuple[Obligation, ...], seconds: float) -> Iterator[Discharge]:
    """Asks a fresh solver about each; anything but `unsat` refuses the certificate.

    Solver units bound the work before the seconds for all of it do, so that
    machines agree.
    """
    ends = time.monotonic() + seconds
    for obligation in duties:
        yield _answered(obligation, max(1, int((ends - time.monotonic()) * 1000)))


def _answered(obligation: Obligation, milliseconds: int) -> Discharge:
    try:
        solver = z3.Solver(ctx=obligation.parts[0].term.ctx)
        solver.set("rlimit", UNITS)
        solver.set("timeout", milliseconds)
        solver.add(*obligation.terms)
        answer = str(solver.check())
        why = solver.reason_unknown() if answer == "unknown" else ""
    except z3.Z3Exception as error:
        return Discharge(obligation.duty, "failed", str(error))
    return Discharge(obligation.duty, answer, why)
