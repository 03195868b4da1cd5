"""What is known of a circuit brought to a changed one: tried there, checked, never assumed.

A certificate counts only once a fresh solver has discharged it over the changed
circuit, a sequence only once the solver-free account has followed it there.
Whatever does not stand is left to `prove`.
"""

from __future__ import annotations

import bisect
import time
from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction

from airproof.analyses.likeness import same_at_any_speed
from airproof.certify.obligations import DUTIES, Meaningless, discharge, obligations
from airproof.circuit.behaviour import Behaviour
from airproof.circuit.conditions import Form
from airproof.circuit.kinds import Circuit
from airproof.circuit.landmarks import Mark, landmarks
from airproof.circuit.properties import TIMED, Possible, Property
from airproof.engines.budget import Budget
from airproof.engines.following import followed
from airproof.engines.keeping import kept
from airproof.engines.quick import OutOfBudget
from airproof.evidence.certificate import Clause, Invariant
from airproof.evidence.difference import Carried, Way
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Note, Verdict, Word
from airproof.transition.layout import CLOCK
from airproof.transition.literals import Bit, Edge, Literal

KEEPING_UNITS = 40_000_000
LONGER: tuple[Note, ...] = ("a shorter sequence not ruled out",)


def carried(circuit: Circuit, old: Circuit, claim: Verdict, budget: Budget) -> Carried | None:
    """The property's verdict on the changed circuit, by what shows its verdict on the old one.

    None if nothing of it stands; that says nothing about the property.
    """
    prop, began = circuit.properties[claim.property], time.monotonic()
    if claim.certificate is not None:
        found = _by_proof(circuit, old, prop, claim, budget)
    elif claim.sequence is not None:
        found = _by_sequence(circuit, old, prop, claim, budget)
    else:
        return None
    if found is None:
        return None
    return replace(found, verdict=replace(found.verdict, seconds=time.monotonic() - began))


# ---- proofs


def _by_proof(
    circuit: Circuit, old: Circuit, prop: Property, claim: Verdict, budget: Budget
) -> Carried | None:
    proof = claim.certificate
    assert proof is not None
    part = proof.ground(circuit, prop)
    if _stands(part, prop, proof, budget):
        return _proved(prop, proof, "old proof")
    clauses = _meant(part, [*proof.clauses, *_moved(proof, old, circuit, prop)])
    try:
        short = replace(budget, resource=min(budget.resource, KEEPING_UNITS))
        left = kept(part, prop, clauses, short).invariant
    except OutOfBudget:
        return None
    if left is None or not _stands(part, prop, left, budget):
        return None
    return _proved(prop, replace(proof, clauses=left.clauses), "old proof in part")


def _proved(prop: Property, proof: Invariant, way: Way) -> Carried:
    word: Word = "breached" if isinstance(prop.sentence, Possible) else "holds"
    return Carried(Verdict(prop.name, word, "any speed", engine="kept", certificate=proof), way)


def _stands(part: Circuit, prop: Property, proof: Invariant, budget: Budget) -> bool:
    """A fresh solver discharges every duty of the proof; it need not."""
    try:
        duties = obligations(part, prop, proof)
    except Meaningless:
        return False
    answers = {answer.duty: answer.answer for answer in discharge(duties, budget.remaining)}
    return answers == dict.fromkeys(DUTIES, "unsat")


def _meant(part: Circuit, clauses: Iterable[Clause]) -> list[Clause]:
    """The clauses that speak of nothing but what the part has."""
    names = {*part.positions, *part.timers, *part.value_starts}

    def known(literal: Literal) -> bool:
        rung = literal.rung
        if isinstance(rung, Edge):
            return all(name == CLOCK or name in part.value_starts for name, _ in rung.terms)
        words = rung.key.split(" ")
        return words[0] in ("monitor", "rested") or words[1] in names

    return [clause for clause in clauses if all(known(literal) for literal in clause)]


def _moved(proof: Invariant, old: Circuit, new: Circuit, prop: Property) -> Iterator[Clause]:
    """The clauses with each setting that is gone read as the one that came in its place."""
    before = _by_form(landmarks(old, old.properties[prop.name].sentence))
    after = _by_form(landmarks(new, prop.sentence))
    for clause in proof.clauses:
        moved = tuple(_literal(literal, before, after) for literal in clause)
        if moved != clause:
            yield moved


def _by_form(marks: Iterable[Mark]) -> dict[Form, list[Fraction]]:
    found: dict[Form, list[Fraction]] = {}
    for form, constant in marks:
        bisect.insort(found.setdefault(form, []), constant)
    return found


def _literal(
    literal: Literal, before: dict[Form, list[Fraction]], after: dict[Form, list[Fraction]]
) -> Literal:
    rung = literal.rung
    if isinstance(rung, Bit):
        return literal
    form = Form(rung.terms)
    was, now = before.get(form, []), after.get(form, [])
    gone = [constant for constant in was if constant not in now]
    new = [constant for constant in now if constant not in was]
    if rung.constant not in gone or not new:
        return literal
    there = gone.index(rung.constant)
    place = new[min(there, len(new) - 1)]
    return replace(literal, rung=replace(rung, constant=place))


# ---- sequences


def _by_sequence(
    circuit: Circuit, old: Circuit, prop: Property, claim: Verdict, budget: Budget
) -> Carried | None:
    run = claim.sequence
    assert run is not None
    if _decides(circuit, prop, run):
        same = same_at_any_speed(circuit, old, prop)
        return Carried(_shown(prop, run, claim if same else None), "old sequence")
    other = followed(circuit, prop, old, run, budget)
    if other is None or not _decides(circuit, prop, other):
        return None
    return Carried(_shown(prop, other, None), "old moves")


def _decides(circuit: Circuit, prop: Property, run: Sequence) -> bool:
    """The solver-free account follows the run, and its last step decides the property."""
    replay = Behaviour(circuit).replay(prop, run.start, run.steps)
    return replay.accepted and replay.decided == len(run.steps) - 1


def _shown(prop: Property, run: Sequence, claim: Verdict | None) -> Verdict:
    """The verdict that a sequence gives; a claim that is known to be as good says how deep."""
    depth, notes = (claim.depth, claim.notes) if claim else (0, LONGER)
    verdict = Verdict(prop.name, "undecided", engine="kept", depth=depth, sequence=run, notes=notes)
    if isinstance(prop.sentence, TIMED):
        return replace(verdict, reason="needs sizes")
    word: Word = "holds" if isinstance(prop.sentence, Possible) else "breached"
    return replace(verdict, word=word, strength="for some sizes")
