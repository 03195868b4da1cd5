"""The largest part of some clauses that every start satisfies and every step keeps."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import z3

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.engines.budget import Budget
from airproof.engines.quick import QuickSolver, Truths
from airproof.engines.search import Known
from airproof.engines.unrolling import Effort
from airproof.evidence.certificate import Clause, Invariant
from airproof.transition.encode import encode, layout_of
from airproof.transition.layout import Moment
from airproof.transition.literals import Bit, Literal
from airproof.transition.monitors import BREACHED
from airproof.transition.rungs import literal_of
from airproof.transition.system import Conjunct, System

SAFE: Clause = (Literal(Bit(BREACHED), so=False),)


@dataclass(frozen=True, slots=True)
class Kept:
    """Clauses that are so in every state of every run of a system."""

    system: System
    clauses: tuple[Clause, ...]

    @property
    def invariant(self) -> Invariant | None:
        """Them, if they exclude the breach."""
        return Invariant(self.clauses) if SAFE in self.clauses else None

    @property
    def known(self) -> Known:
        """What a search may take for granted."""
        return Known(self.system, clauses=self.clauses)


def kept(circuit: Circuit, prop: Property, clauses: Iterable[Clause], budget: Budget) -> Kept:
    """The most of the clauses, and of `not breached`, that are kept together.

    before: every clause names variables of the circuit
    after:  no run of any length leaves them; if they do not exclude the breach,
            no fewer of the clauses do
    Raises OutOfBudget.
    """
    system, effort = encode(circuit, prop, z3.Context()), Effort()
    layout = layout_of(system, circuit)
    now, then = layout.moment(after=False), layout.moment(after=True)
    sieves = [
        _Sieve(QuickSolver(system.context, budget, effort), system.start, now, None),
        _Sieve(QuickSolver(system.context, budget, effort), system.switch, then, now),
        _Sieve(QuickSolver(system.context, budget, effort), system.elapse, then, now),
    ]
    alive, passed = list(dict.fromkeys((SAFE, *clauses))), 0
    while passed < len(sieves):
        fewer = sieves[0].shaken(alive)
        passed = passed + 1 if len(fewer) == len(alive) else 1
        alive, sieves = fewer, [*sieves[1:], sieves[0]]
    return Kept(system, tuple(alive))


def _clause(moment: Moment, clause: Clause) -> z3.BoolRef:
    return z3.Or([moment.constant(False), *(literal_of(moment, x) for x in clause)])


class _Sieve:
    """One solver that lets fall the clauses which a start, or a step from all of them, breaks."""

    def __init__(
        self, solver: QuickSolver, parts: Iterable[Conjunct], after: Moment, before: Moment | None
    ) -> None:
        self.solver, self.after, self.before = solver, after, before
        self.solver.add(*(part.term for part in parts))
        self.known: dict[tuple[Clause, bool], z3.BoolRef] = {}
        self.wanted: dict[Clause, None] = {}
        self.truths = Truths(self.solver)

    def _named(self, clause: Clause, moment: Moment) -> z3.BoolRef:
        key = (clause, moment is self.after)
        if key not in self.known:
            self.known[key] = self.solver.named("clause", _clause(moment, clause))
            if moment is self.after:
                self.wanted[clause] = None
                self.truths.add([self.known[key]])
        return self.known[key]

    def shaken(self, clauses: list[Clause]) -> list[Clause]:
        """Those of the clauses that are left when no more fall."""
        while broken := self._broken(clauses):
            clauses = [clause for clause in clauses if clause not in broken]
        return clauses

    def _broken(self, clauses: list[Clause]) -> set[Clause]:
        held = [self._named(c, self.before) for c in clauses] if self.before else []
        wanted = [self._named(c, self.after) for c in clauses]
        some = self.solver.name("some")
        self.solver.add_clause([self.solver.negate(x) for x in (some, *wanted)])
        if not self.solver.ask([*held, some]):
            return set()
        truths = zip(self.wanted, self.truths.read(), strict=True)
        return {clause for clause, so in truths if not so}.intersection(clauses)
