"""Which parts of a system keep it from breaching within so many steps."""

from __future__ import annotations

from dataclasses import replace

import z3

from airproof.engines.budget import Budget
from airproof.engines.quick import OutOfBudget
from airproof.engines.unrolling import Effort, Unrolling
from airproof.transition.slicing import Reads
from airproof.transition.system import Conjunct, System


class Localiser:
    """The whole system unrolled, every conjunct behind a guard that can be blamed."""

    def __init__(self, system: System, known: Reads, budget: Budget, effort: Effort) -> None:
        self.budget = budget
        self.guards: dict[str, z3.BoolRef] = {}
        self.keys: dict[int, frozenset[str]] = {}
        self.context = system.context
        guarded = replace(
            system,
            start=self._guarded(system.start, known),
            switch=self._guarded(system.switch, known),
            elapse=self._guarded(system.elapse, known),
        )
        self.run = Unrolling(guarded)
        self.run.effort = effort

    def _guarded(self, parts: tuple[Conjunct, ...], known: Reads) -> tuple[Conjunct, ...]:
        return tuple(
            replace(part, term=z3.Implies(self._guard(part, known), part.term)) for part in parts
        )

    def _guard(self, part: Conjunct, known: Reads) -> z3.BoolRef:
        """One guard for all that defines a variable; one for each conjunct that only restricts."""
        word = part.defines[0] if part.defines else f"restriction {part.term.get_id()}"
        if word not in self.guards:
            self.guards[word] = z3.Bool(f"guard {word}", self.context)
        guard = self.guards[word]
        about = frozenset(part.defines) or known.of(part)
        self.keys[guard.get_id()] = self.keys.get(guard.get_id(), frozenset()) | about
        return guard

    def blamed(self, steps: int) -> frozenset[str] | None:
        """Keys whose definitions exclude every breach in so many steps; None if there is one.

        Raises OutOfBudget.
        """
        while self.run.steps < steps:
            self.run.extend()
        answer = self.run.check(self.budget, self.run.breached(steps), *self.guards.values())
        if answer.word == "unknown":
            raise OutOfBudget(answer.why)
        if answer.word == "sat":
            return None
        core = (self.keys.get(term.get_id()) for term in self.run.solver.unsat_core())
        return frozenset[str]().union(*(keys for keys in core if keys is not None))
