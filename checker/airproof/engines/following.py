"""A sequence of one circuit looked for along a sequence of another: same moves, other numbers.

What comes out is only a candidate until the solver-free account has followed it,
and a shorter one may exist.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import z3

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.engines.budget import Budget
from airproof.engines.rounding import Candidate, rounded
from airproof.engines.unrolling import Unrolling
from airproof.evidence.sequence import Sequence
from airproof.transition.decode import valuation_of
from airproof.transition.encode import encode
from airproof.transition.layout import lay_out

UNITS = 6_000_000  # solver units for each of the two ways
ROUNDING_SECONDS = 20.0


def followed(
    circuit: Circuit, prop: Property, other: Circuit, guide: Sequence, budget: Budget
) -> Sequence | None:
    """The property decided in as many steps, everything standing as in the guide, values free.

    other: the circuit that the guide is a sequence of
    First controls and devices stand where they stand in it, then controls only.
    """
    run = Unrolling(encode(circuit, prop, z3.Context()))
    while run.steps < len(guide.steps):
        run.extend()
    for i, step in enumerate(guide.steps):
        switch = run.switches[i]
        run.solver.add(switch if step.kind == "switch" else z3.Not(switch))
    run.solver.add(run.breached(run.steps))
    if run.steps:
        run.solver.add(z3.Not(run.breached(run.steps - 1)))
    for names in (_alike(circuit, other, every=True), _alike(circuit, other, every=False)):
        with run.scope():
            run.solver.add(*_pins(run, other, guide, names))
            short = replace(budget, resource=run.effort.units + UNITS)
            if run.check(short).word == "sat":
                found = Candidate(circuit, run, run.steps, run.model())
                seconds = budget.seconds - budget.remaining + ROUNDING_SECONDS
                return rounded(found, prop, replace(budget, seconds=seconds))
    return None


def _alike(circuit: Circuit, other: Circuit, *, every: bool) -> frozenset[str]:
    """The controls, with `every` also the devices, that have the same positions in both."""
    mine, theirs = circuit.positions, other.positions
    kinds = (*circuit.controls, *(circuit.devices if every else ()))
    return frozenset(name for name in kinds if mine[name] == theirs.get(name))


def _pins(
    run: Unrolling, other: Circuit, guide: Sequence, names: frozenset[str]
) -> Iterator[z3.BoolRef]:
    layout = lay_out(other, run.system.context)
    keys = tuple(key for name in sorted(names) for key in layout.position_keys(name))
    states = (guide.start, *(step.after for step in guide.steps))
    for terms, state in zip(run.states, states, strict=False):
        values = valuation_of(other, state)
        for key in keys:
            if key in terms and key in values:
                yield terms[key] if values[key] else z3.Not(terms[key])
