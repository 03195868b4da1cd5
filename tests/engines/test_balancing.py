"""Elapse steps without amounts are just those for which some amounts fit."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from random import Random

import z3

from airproof.circuit.kinds import Band, Circuit
from airproof.language import load_text
from airproof.transition.balancing import MOST_SETS, balanceable
from airproof.transition.encode import encode
from airproof.transition.system import conjunction
from generators import airy

CHAIN = """circuit chain "A chain of cylinders"
supply main: 0 bar .. 8 bar, starts 0 bar .. 8 bar
control cock: shut, open; starts shut
property any_air "Any"
    possible main >= 1 bar
"""


def sized(rng: Random) -> Circuit:
    """A random circuit with air, most of its volumes of stated size."""
    circuit = airy(rng)
    ends = ((1, 1), (1, 2), (3, 3), (3, 4))
    sizes = (None, *(Band(Fraction(low), Fraction(high)) for low, high in ends))
    volumes = {n: replace(x, size=rng.choice(sizes)) for n, x in circuit.volumes.items()}
    return replace(circuit, volumes=volumes)


def test_the_two_encodings_have_the_same_steps() -> None:
    """One way for every step, the other for steps that a solver finds, pinned to their ends."""
    found = 0
    for seed in range(40):
        circuit, context = sized(Random(seed)), z3.Context()
        assert balanceable(circuit)
        full = encode(circuit, None, context)
        bare = encode(circuit, None, context, amounts=False)
        assert not any(each.key.startswith("amount") for each in bare.inputs)
        moved, balanced = (conjunction(context, one.elapse) for one in (full, bare))
        solver = z3.Solver(ctx=context)
        solver.add(moved)
        solver.push()
        solver.add(z3.Not(balanced))
        assert solver.check() == z3.unsat
        solver.pop()
        other = z3.Solver(ctx=context)
        other.add(balanced)
        for name in circuit.volumes:  # steps in which much happens at once
            each = next(x for x in bare.variables if x.key == f"value {name}")
            other.push()
            other.add(each.now != each.then)
            if other.check() == z3.unsat:
                other.pop()
        for _ in range(3):
            if other.check() != z3.sat:
                break
            model = other.model()
            ends = [t for each in bare.variables for t in (each.now, each.then)]
            pinned = [term == model.eval(term, model_completion=True) for term in ends]
            assert solver.check(*pinned) == z3.sat
            found += 1
            other.add(z3.Not(z3.And(pinned)))
    assert found > 60


def test_many_connected_volumes_keep_their_amounts() -> None:
    """The number of sets is bounded, and whoever asks is told so beforehand."""
    rows = [f"cylinder c{n}: 1 litre, starts 0 bar" for n in range(12)]
    rows += [f"flow f{n}: c{n} -> c{n + 1} while cock is open" for n in range(11)]
    text = CHAIN.replace("property", "\n".join(rows) + "\nproperty")
    assert MOST_SETS < 12 * 13 // 2
    assert not balanceable(load_text(text, "chain").circuit)
