"""Does one circuit follow another in every step?

A run whose every step is a step of the other circuit as well shows what that
circuit shows.  So only runs with a *parting* step can show something else.
"""

from __future__ import annotations

import z3

from airproof.circuit.kinds import Circuit
from airproof.engines.budget import Budget
from airproof.engines.prover import Prover, Way
from airproof.evidence.certificate import Invariant
from airproof.transition.parting import beside, marking, parting

WAYS: tuple[Way, ...] = ("turns", "blame")


class Parting:
    """A circuit beside another one: whether that one follows every step of it.

    before: what is watched is `comparable`
    Raises OutOfBudget nowhere: what stops a proof is only that there is none.
    """

    def __init__(self, circuit: Circuit, other: Circuit, budget: Budget) -> None:
        system = parting(beside(circuit, other, z3.Context()))
        self.prover = Prover(circuit, marking(circuit, other), budget, system=system)

    def facts(self) -> Invariant | None:
        """Why no run parts, by one-step induction."""
        return self.prover.facts().invariant

    def frames(self, units: int) -> Invariant | None:
        """The same by frames, for so many solver units."""
        return self.prover.frames(units, WAYS).invariant
