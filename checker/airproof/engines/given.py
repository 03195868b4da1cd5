"""What is known of every run from one start, whatever is asked of the circuit."""

from __future__ import annotations

import z3

from airproof.circuit.conditions import NO
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Never, Property
from airproof.engines.budget import Budget
from airproof.engines.facts import facts
from airproof.engines.quick import OutOfBudget
from airproof.engines.slices import Solvers
from airproof.engines.unrolling import Effort
from airproof.engines.vocabulary import Vocabulary
from airproof.evidence.given import Given
from airproof.transition.encode import encode, layout_of
from airproof.transition.literals import Literal
from airproof.transition.rungs import first_rungs
from airproof.transition.system import memory_of


def given(circuit: Circuit, standing: str | None, budget: Budget) -> Given:
    """The single-literal facts of all runs from the circuit's start or a standing state.

    Nothing if the budget ends first.  They hold with any property's landmarks
    added, for those only take elapse steps away.
    """
    started = Property("", "", Never(NO), start=standing) if standing else None
    system = encode(circuit, started, z3.Context())
    words = Vocabulary(layout_of(system, circuit))
    memory = memory_of(system)
    bits = (v.key for v in system.variables if v.sort == "bool" and v.key not in memory)
    whole = Solvers(system, budget, Effort())
    whole.prefer_true()
    try:
        whole.add_rungs(words.add(first_rungs(circuit, None, bits)))
        kept = facts(whole.start, whole.kinds)
    except OutOfBudget:
        return Given()
    literals = tuple(Literal(words.rungs[abs(x)], x > 0) for x in kept)
    return Given(literals, frozenset(words.numbers))
