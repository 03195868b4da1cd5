"""What is known of every run from one start, whatever is asked of the circuit."""

from __future__ import annotations

from dataclasses import dataclass

from airproof.evidence.sequence import Sequence
from airproof.transition.literals import Literal, Rung


@dataclass(frozen=True, slots=True)
class Given:
    """Facts that the proofs of many properties share.

    literals: so in every state of every run from that start
    tried:    the rungs looked at; what is not in `literals` is no fact by itself
    """

    literals: tuple[Literal, ...] = ()
    tried: frozenset[Rung] = frozenset()


@dataclass(frozen=True, slots=True)
class Led:
    """The run found for the property that leads another one; None if there is none."""

    run: Sequence | None
