"""What shows that one circuit follows every step of another, stated anew for a fresh solver."""

from __future__ import annotations

import z3

from airproof.certify.obligations import (
    DUTIES,
    Meaningless,
    Obligation,
    discharge,
    obligations_of,
)
from airproof.circuit.kinds import Circuit
from airproof.circuit.sight import Sight
from airproof.evidence.certificate import Invariant
from airproof.transition.early import early
from airproof.transition.parting import beside, comparable, parting


def following(
    circuit: Circuit,
    other: Circuit,
    sight: Sight,
    invariant: Invariant,
    views: int | None = None,
) -> tuple[Obligation, ...]:
    """The four obligations: in every state of every run of the circuit no step has parted.

    `breached` says that a start was none of the other circuit's, or a step
    none of its steps.  Where it never is, the other shows all that the circuit
    shows.  With a number of views: all lists of at most so many.  Raises
    Meaningless if the two cannot be laid side by side, or the invariant names
    what the circuit does not have.
    """
    if not comparable(circuit, other, sight):
        raise Meaningless("what is watched is not the same in both circuits")
    two = beside(circuit, other, z3.Context())
    system = parting(two) if views is None else early(two, circuit, sight, views)
    return obligations_of(system, circuit, invariant)


def follows(
    circuit: Circuit,
    other: Circuit,
    sight: Sight,
    invariant: Invariant,
    seconds: float,
    views: int | None = None,
) -> bool:
    """A fresh solver discharges every obligation; it need not."""
    try:
        duties = following(circuit, other, sight, invariant, views)
    except Meaningless:
        return False
    answers = {answer.duty: answer.answer for answer in discharge(duties, seconds)}
    return answers == dict.fromkeys(DUTIES, "unsat")
