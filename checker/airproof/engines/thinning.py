"""Starts that are left out in silence because a device finds no place in them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import z3

from airproof.circuit.conditions import At, Flowing, leaves
from airproof.circuit.kinds import Circuit, Device
from airproof.engines.budget import Budget
from airproof.engines.rounding import Candidate, rounded
from airproof.engines.soundness import NOTHING
from airproof.engines.unrolling import Answer, Unrolling
from airproof.evidence.health import Finding
from airproof.transition.encode import encode, layout_of
from airproof.transition.system import conjunction

MOST_PLACES = 300  # joint places tried for devices that start where they are called


def thinned(circuit: Circuit, budget: Budget) -> Iterator[Finding]:
    """Starts that are left out because no position of the devices that start called would rest.

    A device without a stated start starts where its moves put it; where they
    put it nowhere, it chatters from the start, and leaving that start out in
    silence would make everything hold there.
    """
    called = [d for d in circuit.devices.values() if d.starts_called]
    if not _circular(called):
        return
    names = tuple(sorted(d.name for d in called))
    lifted = {d.name: replace(d, starts_called=False) for d in called}
    free = replace(circuit, devices={**circuit.devices, **lifted})
    starts = _Starts(circuit, free, names)
    answer = starts.left_out(budget)
    if answer.word == "unknown":
        yield Finding("warning", "not examined", names, None, answer.why)
    if answer.word == "sat":
        candidate = Candidate(free, starts.run, 0, starts.run.model())
        sequence = rounded(candidate, NOTHING, replace(budget, seconds=0.0))
        yield Finding("error", "chatter", names, sequence)


class _Starts:
    """Starts with the devices anywhere, and where the devices may be in them."""

    def __init__(self, circuit: Circuit, free: Circuit, names: tuple[str, ...]) -> None:
        context = z3.Context()
        stated = encode(circuit, None, context)
        self.run = Unrolling(encode(free, None, context))
        self.layout = layout_of(stated, circuit)
        self.keys = [key for name in names for key in self.layout.position_keys(name)]
        self.whole = conjunction(context, stated.start)
        self.placed = Unrolling(stated)

    def left_out(self, budget: Budget) -> Answer:
        """Whether, the rest being somehow, the devices find no place at all: `sat` and a model.

        Places that do are found for one start after the other, and the starts
        in which the same places do are not asked about again.
        """
        for _ in range(MOST_PLACES):
            answer = self.run.check(budget)
            if answer.word != "sat":
                return answer
            found = self._places(self.run.model(), budget)
            if isinstance(found, Answer):
                return answer if found.word == "unsat" else found
            self.run.solver.add(z3.Not(self.run.at(z3.substitute(self.whole, *found), 0)))
        return Answer("unknown", "too many starting positions")

    def _places(
        self, model: z3.ModelRef, budget: Budget
    ) -> list[tuple[z3.ExprRef, z3.ExprRef]] | Answer:
        """Where the devices may stand, everything else being as in the model."""
        first, other = self.placed.states[0], self.run.states[0]
        same = [
            term == model.eval(other[key], model_completion=True)
            for key, term in first.items()
            if key not in self.keys
        ]
        with self.placed.scope():
            self.placed.solver.add(*same)
            answer = self.placed.check(budget)
            if answer.word != "sat":
                return answer
            found = self.placed.model()
            now = self.layout.moment(after=False).terms
            return [(now[k], found.eval(first[k], model_completion=True)) for k in self.keys]


def _circular(called: list[Device]) -> bool:
    """Some device among them reads its own position, or theirs in a circle."""
    names = {d.name for d in called}
    reads = {
        d.name: names.intersection(
            leaf.component if isinstance(leaf, At) else d.name
            for move in d.moves
            for leaf in leaves(move.when)
            if isinstance(leaf, At | Flowing)  # a flow may read any of them
        )
        for d in called
    }
    while free := [name for name, read in reads.items() if not read]:
        reads = {n: read.difference(free) for n, read in reads.items() if n not in free}
    return bool(reads)
