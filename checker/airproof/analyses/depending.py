"""What does a sequence depend on?  Without which of its moves, devices, settings can it not happen?

Each thing is ruled out by itself (`circuit/without.py` says how) and all else
left as the circuit says.  It is needed if no run of as many steps as the
sequence has then decides the property so; many are needed in runs of any
length, and where that is proved it is claimed.  Two things that make up for
each other are needed neither of them.
"""

from __future__ import annotations

from collections.abc import Iterable
from collections.abc import Sequence as Several
from dataclasses import replace

from airproof.analyses.asking import questions
from airproof.certify.check import certified
from airproof.circuit.cone import cone
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Possible, Property
from airproof.circuit.without import Thing, without, without_for_every_start
from airproof.engines.budget import Budget
from airproof.engines.keeping import kept
from airproof.engines.omitting import Omitting
from airproof.engines.prover import Prover
from airproof.engines.quick import OutOfBudget
from airproof.evidence.certificate import Clause, Invariant
from airproof.evidence.dependence import Dependence, Needed, Settled
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Verdict, Word

PROOF_UNITS = 6_000_000  # solver units for the proof of one thing by frames
KEEPING_UNITS = 1_000_000  # to see which clauses of earlier proofs stand
LONGER = 4  # steps more than the sequence's in which it is looked for without a thing
LONGER_UNITS = 12_000_000
CHECKING = 5.0  # [s] for a fresh solver to discharge a proof


def depends_on(circuit: Circuit, prop: Property, sequence: Sequence, budget: Budget) -> Dependence:
    """What the sequence, which decides the property, depends on.

    The budget's seconds and units are for all of it; what they do not reach is
    left open, or claimed for as many steps only.
    """
    about = questions(circuit, prop, sequence)
    return about.answered([settled(circuit, prop, about.asked, about.kinds, budget)])


def settled(
    circuit: Circuit, prop: Property, things: Iterable[Thing], kinds: Several[str], budget: Budget
) -> Settled:
    """Whether each of the things is needed to decide the property in so many steps, and longer.

    What can be spared is mostly found in runs with steps of the same kinds, and
    what is left is mostly proved: only the rest needs all runs of so many steps.

    before: without any one of them time can pass
    kinds:  of the steps of a sequence that decides it
    """
    asked = tuple(things)
    tried = Omitting(cone(circuit, prop), prop, asked, len(kinds))
    proofs = _Proofs(circuit, prop, budget)
    spared = tried.spared_alike(kinds, budget)
    ever = {one for one in asked if one not in spared and proofs.at_once(one)}
    rest = [one for one in asked if one not in spared and one not in ever]
    found = tried.sorted(rest, budget)
    ever |= _ever(tried, found.needed, proofs, budget)
    needed = {*ever, *found.needed}
    return Settled(
        tuple(Needed(x, "ever" if x in ever else "within") for x in asked if x in needed),
        (*spared, *found.spared),
        found.why,
    )


def _ever(
    tried: Omitting, needed: Iterable[Thing], proofs: _Proofs, budget: Budget
) -> frozenset[Thing]:
    """Those that are proved to be needed in runs of any length.

    What a somewhat longer run can do without is not tried in earnest.
    """
    asked = [one for one in needed if one.way != "value"]  # no matter of conditions
    ever = {one for one in asked if proofs.by_facts(one)}
    left = [one for one in asked if one not in ever]
    units = min(budget.resource, LONGER_UNITS)
    longer = tried.spared_later(left, LONGER, replace(budget, resource=units))
    return frozenset(ever | {x for x in left if x not in longer and proofs.by_frames(x)})


class _Proofs:
    """Proofs that a thing is needed in runs of any length, as far as the budget goes."""

    def __init__(self, circuit: Circuit, prop: Property, budget: Budget) -> None:
        self.circuit, self.prop, self.budget = circuit, prop, budget
        self.known: dict[Clause, None] = {}  # what earlier proofs are made of
        self.provers: dict[Thing, Prover] = {}
        self.tried: set[Thing] = set()

    def at_once(self, thing: Thing) -> bool:
        """By facts, where every start of the circuit is one of the circuit without the thing.

        Then nothing remains to be shown of runs of so many steps.
        """
        return thing.way != "value" and self._starts_alike(thing) and self.by_facts(thing)

    def _starts_alike(self, thing: Thing) -> bool:
        """No device that starts where nothing calls it away is called otherwise."""
        changed = without(self.circuit, thing).devices
        devices = (one for one in self.circuit.devices.values() if one.starts_called)
        return all(changed[one.name] == one for one in devices)

    def by_facts(self, thing: Thing) -> bool:
        """By what stands of earlier proofs, or by facts of its own; tried once."""
        if thing in self.tried:
            return False
        self.tried.add(thing)
        return self._shown(thing, self._kept(thing)) or self._shown(thing, self._facts(thing))

    def by_frames(self, thing: Thing) -> bool:
        """After `by_facts`."""
        prover = self.provers.get(thing)
        if prover is None or self.budget.remaining <= 0:
            return False
        return self._shown(thing, prover.frames(None, ("turns",)).invariant)

    def _kept(self, thing: Thing) -> Invariant | None:
        if not self.known or self.budget.remaining <= 0:
            return None
        short = self._short(KEEPING_UNITS)
        try:
            return kept(self._part(thing), self.prop, self.known, short).invariant
        except OutOfBudget:
            return None

    def _facts(self, thing: Thing) -> Invariant | None:
        if self.budget.remaining <= 0:
            return None
        prover = Prover(self._part(thing), self.prop, self._short(PROOF_UNITS))
        attempt = prover.facts()
        if not attempt.why.endswith("limit"):
            self.provers[thing] = prover
        return attempt.invariant

    def _short(self, units: int) -> Budget:
        return replace(self.budget, resource=min(self.budget.resource, units))

    def _part(self, thing: Thing) -> Circuit:
        return cone(without_for_every_start(self.circuit, thing), self.prop)

    def _shown(self, thing: Thing, invariant: Invariant | None) -> bool:
        """A fresh solver has discharged the proof that the property is never decided so."""
        if invariant is None:
            return False
        word: Word = "breached" if isinstance(self.prop.sentence, Possible) else "holds"
        claim = Verdict(self.prop.name, word, "any speed", certificate=invariant)
        if certified(without_for_every_start(self.circuit, thing), claim, CHECKING).word != word:
            return False
        self.known.update(dict.fromkeys(invariant.clauses))
        return True
