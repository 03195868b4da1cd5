"""Does one circuit follow another in every step?

A run whose every step is a step of the other circuit as well shows what that
circuit shows.  So only runs with a *parting* step can show something else.
"""

from __future__ import annotations

import z3

from airproof.circuit.kinds import Circuit
from airproof.circuit.sight import Sight
from airproof.engines.budget import Budget
from airproof.engines.prover import NO_START, NOT_ENOUGH, Prover, Way
from airproof.evidence.certificate import Invariant
from airproof.transition.early import early
from airproof.transition.parting import beside, marking, parting

NO_STATE = Invariant(((),))  # of a circuit without a start: no state is one of its runs
WAYS: tuple[Way, ...] = ("turns", "blame")


class Parting:
    """A circuit beside another one: whether that one follows every step of it.

    Whatever stops a proof, all that follows is that there is none.
    views: only as far as lists of at most so many views go; None: of any length
    before: what is watched is `comparable`
    """

    def __init__(
        self,
        circuit: Circuit,
        other: Circuit,
        sight: Sight,
        budget: Budget,
        views: int | None = None,
    ) -> None:
        two = beside(circuit, other, z3.Context())
        system = parting(two) if views is None else early(two, circuit, sight, views)
        self.prover = Prover(circuit, marking(circuit, other), budget, system=system)
        self.possible = False  # that frames prove it

    def facts(self) -> Invariant | None:
        """Why no run parts, by one-step induction."""
        attempt = self.prover.facts()
        self.possible = attempt.why == NOT_ENOUGH and not self._starts_apart()
        return NO_STATE if attempt.why == NO_START else attempt.invariant

    def frames(self, units: int) -> Invariant | None:
        """The same by frames, for so many solver units, once facts were tried."""
        return self.prover.frames(units, WAYS).invariant if self.possible else None

    def _starts_apart(self) -> bool:
        """Some start is none of the other's; frames take it for granted that none is bad."""
        whole = self.prover.whole
        return whole is None or whole.start.touches((self.prover.bad,))
