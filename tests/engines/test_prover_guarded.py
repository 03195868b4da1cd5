"""What is known by guarded facts is kept, however often they are asked for."""

from __future__ import annotations

import pytest

from airproof.circuit.properties import Property
from airproof.engines.budget import Budget
from airproof.engines.prover import Prover
from airproof.language import load_text

SCENE = """
circuit lamp "A lamp that the key lights"
control key: out, in; starts out
relay lamp: lit while key is in, dark otherwise
property not_before "The lamp is lit only after the key was in"
    lamp is lit only after key is in
"""


@pytest.mark.parametrize("most", [(0, 1000), (1000, 1000), (1000, 100_000)])
def test_asking_again_loses_nothing(most: tuple[int, int]) -> None:
    """Frames learn with them; a proof without them would be refused."""
    circuit = load_text(SCENE, "lamp").circuit
    prop: Property = circuit.properties["not_before"]
    prover = Prover(circuit, prop, Budget())
    prover.facts()
    facts = set(prover.clauses)
    for each in most:
        prover.guarded(each)
        assert facts <= set(prover.clauses)
        facts = set(prover.clauses)
    assert facts
