"""What is far from something in a circuit: it mostly may stay as it is while that is looked for.

A hint for a search that is too hard otherwise: what is found with all else at
rest is a sequence like any other, and where none is found nothing follows.
"""

from __future__ import annotations

from airproof.transition.slicing import Reads, widened
from airproof.transition.system import System

NEAR = 3  # conjuncts from what is looked for to the last that may change
MAY_STAY = "position ", "value "  # what the variables' keys begin with; the rest follows them


def far_from(keys: frozenset[str], system: System, known: Reads) -> frozenset[str]:
    """The keys of places and values that are not near any of the given variables."""
    near = keys
    for _ in range(NEAR):
        near = widened(system, known, near)
    every = (v.key for v in system.variables)
    return frozenset(key for key in every if key not in near and key.startswith(MAY_STAY))
