"""What airproof claims of the table's and the worked circuits' properties, found out once."""

from __future__ import annotations

import pickle
from functools import partial

from airproof.circuit.kinds import Circuit
from airproof.circuit.leading import leader
from airproof.engines.budget import Budget
from airproof.engines.strategy import prove
from airproof.evidence.given import Led
from airproof.evidence.verdict import Verdict
from sharing import once

DEEPEST = 16  # steps, in the table
SECONDS = 120.0


def of_table(circuit: Circuit, name: str) -> Verdict:
    """Claimed, not certified, of a circuit of `tests/table`."""
    return _once(circuit, name, Budget(steps=DEEPEST, seconds=SECONDS))


def of_worked(circuit: Circuit, name: str) -> Verdict:
    """Likewise of a larger circuit, with the run that the property is gone on from."""
    ahead = leader(circuit, circuit.properties[name])
    led = Led(of_worked(circuit, ahead).sequence) if ahead is not None else None
    return _once(circuit, name, Budget(seconds=SECONDS), led)


def _once(circuit: Circuit, name: str, budget: Budget, led: Led | None = None) -> Verdict:
    key = pickle.dumps((circuit, name, budget.steps))
    return once(key, partial(prove, circuit, name, budget, led=led))
