"""Proof for every run: induction, single-literal facts, then frames."""

from __future__ import annotations

from dataclasses import dataclass

import z3

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.engines.budget import Budget
from airproof.engines.facts import facts
from airproof.engines.frames import AbstractSequence, Frames, Proof
from airproof.engines.stepping import Cube, Kind, Start, Terms
from airproof.engines.unrolling import Effort
from airproof.evidence.certificate import Invariant
from airproof.transition.encode import encode, layout_of
from airproof.transition.rungs import Bit, Literal, Rung, first_rungs, term_of

DEEPEST = 60


@dataclass(frozen=True, slots=True)
class Attempt:
    """An invariant if one was found; else the rungs' abstract sequence, or why it stopped."""

    invariant: Invariant | None
    abstract: AbstractSequence | None
    engine: str
    effort: Effort


def run(circuit: Circuit, prop: Property, budget: Budget) -> Attempt:
    """Tries to show that no run of any length breaches the property at any speed."""
    system = encode(circuit, prop, z3.Context())
    effort = Effort()
    bits = [v.key for v in system.variables if v.sort == "bool"]
    rungs: list[Rung] = list(first_rungs(circuit, prop.sentence, bits))
    layout = layout_of(system, circuit)
    now, then = layout.moment(after=False), layout.moment(after=True)
    terms = Terms(
        tuple(term_of(now, r) for r in rungs),
        tuple(term_of(then, r) for r in rungs),
    )
    start = Start(system, budget, effort)
    kinds = (
        Kind(system, system.switch, budget, effort),
        Kind(system, system.elapse, budget, effort),
    )
    for solver in (start, *kinds):
        solver.add_rungs(terms)
    bad = rungs.index(Bit(str(system.breached))) + 1
    known = facts(start, kinds)
    if -bad in known:
        return Attempt(_invariant(rungs, [(-x,) for x in known]), None, "facts", effort)
    frames = Frames(start, kinds, rungs, known)
    found = frames.run((bad,), DEEPEST)
    if isinstance(found, Proof):
        return Attempt(_invariant(rungs, found.cubes), None, "frames", effort)
    return Attempt(None, found, "frames", effort)


def _invariant(rungs: list[Rung], cubes: list[Cube] | tuple[Cube, ...]) -> Invariant:
    clauses = (tuple(Literal(rungs[abs(x) - 1], x < 0) for x in cube) for cube in cubes)
    return Invariant(tuple(clauses))
