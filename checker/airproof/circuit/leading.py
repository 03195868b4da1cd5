"""Which property's run one with a time in it is gone on from."""

from __future__ import annotations

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import TIMED, Possible, Property


def leader(circuit: Circuit, prop: Property) -> str | None:
    """The first of what is asked to be possible from the same start, if `prop` has a time in it."""
    if isinstance(prop.sentence, TIMED):
        for other in circuit.properties.values():
            if isinstance(other.sentence, Possible) and other.start == prop.start:
                return other.name
    return None
