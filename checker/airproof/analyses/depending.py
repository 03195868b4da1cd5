"""What does a sequence depend on?  Without which of its moves, devices, settings can it not happen?

Each thing is ruled out by itself (`circuit/without.py` says how) and all else
left as the circuit says.  It is needed if no run of as many steps as the
sequence has then decides the property so; many are needed in runs of any
length, and where that is proved it is claimed.  Two things that make up for
each other are needed neither of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from airproof.certify.check import certified
from airproof.circuit.behaviour import Behaviour
from airproof.circuit.cone import cone
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Possible, Property
from airproof.circuit.state import State
from airproof.circuit.switching import MoveKind, moves_made
from airproof.circuit.tables import tables_of
from airproof.circuit.without import Thing, Way, settings, without
from airproof.engines.budget import Budget
from airproof.engines.omitting import Omitting, does_without
from airproof.engines.prover import Attempt, Prover
from airproof.evidence.dependence import Dependence, Needed
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Verdict, Word

PROOF_UNITS = 6_000_000  # solver units for the proof of one thing
CHECKING = 5.0  # [s] for a fresh solver to discharge it

_WAYS: Mapping[MoveKind, Way] = {
    "control": "control",
    "range": "value",
    "device": "device",
    "sets off": "device",
    "turns round": "device",
    "timer expires": "timer",
}


def depends_on(circuit: Circuit, prop: Property, sequence: Sequence, budget: Budget) -> Dependence:
    """What the sequence, which decides the property, depends on.

    The budget's seconds and units are for all of it; what they do not reach is
    left open, or claimed for as many steps only.
    """
    part = cone(circuit, prop)
    everything = tuple(dict.fromkeys(_moved(circuit, sequence)))
    moved = tuple(one for one in everything if _within(part, one))
    things = (*moved, *settings(part))
    asked = [one for one in things if not does_without(circuit, prop, sequence, one)]
    still = tuple(one for one in asked if not _time_passes(circuit, one, sequence.start))
    tried = Omitting(part, prop, (one for one in asked if one not in still), len(sequence.steps))
    found = tried.sorted(budget)
    proofs = _Proofs(circuit, prop, budget)
    return Dependence(
        len(sequence.steps),
        tuple(Needed(one, "ever" if proofs.proved(one) else "within") for one in found.needed),
        tuple(one for one in moved if one in found.spared or one not in asked),
        tuple(one for one in everything if one not in moved),
        still,
        found.open,
        found.why,
        part is circuit,
    )


def _moved(circuit: Circuit, sequence: Sequence) -> Iterator[Thing]:
    """Everything that moves or is moved, each place once, in the order of happening."""
    tables = tables_of(circuit)
    for before, step in sequence.pairs():
        for move in moves_made(tables, before, step.after) if step.kind == "switch" else ():
            if move.kind in _WAYS:
                way = _WAYS[move.kind]
                yield Thing(way, move.name, str(move.now) if way in ("control", "device") else "")
        for name in circuit.supplies:
            if step.after.values[name] != before.values[name]:
                yield Thing("value", name)


def _within(part: Circuit, thing: Thing) -> bool:
    names = {*part.positions, *part.value_starts, *part.timers}
    return thing.name in names


def _time_passes(circuit: Circuit, thing: Thing, start: State) -> bool:
    """Time passes at all without it; else everything would be needed, and nothing shown."""
    if thing.way == "value":
        return True
    return Behaviour(without(circuit, thing)).explore_devices(start).outcome == "settled"


class _Proofs:
    """Proofs that a thing is needed in runs of any length, as far as the budget goes."""

    def __init__(self, circuit: Circuit, prop: Property, budget: Budget) -> None:
        self.circuit, self.prop, self.budget = circuit, prop, budget

    def proved(self, thing: Thing) -> bool:
        """A fresh solver has discharged a proof that the property is never decided so."""
        if thing.way == "value" or self.budget.remaining <= 0:
            return False
        changed = without(self.circuit, thing)
        invariant = self._attempt(cone(changed, self.prop)).invariant
        if invariant is None:
            return False
        possible = isinstance(self.prop.sentence, Possible)
        word: Word = "breached" if possible else "holds"
        claim = Verdict(self.prop.name, word, "any speed", certificate=invariant)
        return certified(changed, claim, CHECKING).word == word

    def _attempt(self, part: Circuit) -> Attempt:
        short = replace(self.budget, resource=PROOF_UNITS)
        prover = Prover(part, self.prop, short)
        attempt = prover.facts()
        if attempt.invariant is None and not attempt.why.endswith("limit"):
            attempt = prover.frames(None, ("turns",))
        return attempt
