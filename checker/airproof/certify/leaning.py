"""Why a property holds: the parts of the circuit that its minimised certificate needs.

The encoding is made once more with a tie for each rule of each statement; the
ties that the certificate's obligations need say what it leans on.  A fresh
solver then meets the obligations again with every other tie let go: what it
refuses there, the proof needs nothing else for.  It is for `certified` to say
that the smaller certificate is one, as of any other.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Literal as Choice

import z3

from airproof.certify.minimising import Duty, Minimiser
from airproof.circuit.conditions import AllOf, AnyOf, Condition, Not
from airproof.circuit.cone import outside
from airproof.circuit.kinds import Circuit, Interlock
from airproof.circuit.properties import KeptRule, SupplyRule
from airproof.evidence.certificate import Invariant
from airproof.evidence.leaning import Lean, Leans
from airproof.evidence.verdict import Verdict
from airproof.transition.encode import encode, layout_of
from airproof.transition.layout import Layout, Moment
from airproof.transition.origins import Origin
from airproof.transition.rungs import literal_of
from airproof.transition.system import System
from airproof.transition.ties import Ties

Path = tuple[int, ...]
Sense = Choice["can", "must", "either"]
_OPPOSITE: Mapping[Sense, Sense] = {"can": "must", "must": "can", "either": "either"}

UNITS = 3_000_000  # solver units for one certificate; the worked circuits need up to 300,000
AGAIN = 20_000_000  # solver units for one obligation of the check


def explained(circuit: Circuit, claim: Verdict, units: int = UNITS) -> Verdict:
    """The claim with a certificate brought down to what it needs, and what it leans on.

    The claim as it is if it has no certificate, or one of which this cannot be
    said; that it holds at all is not for this to say.
    """
    if claim.certificate is None:
        return claim
    prop, proof = circuit.properties[claim.property], claim.certificate
    part, ties, clauses = proof.ground(circuit, prop), Ties(z3.Context()), proof.clauses
    system = encode(part, prop, ties.context, ties)
    found = Minimiser(system, layout_of(system, part), ties, clauses, units).run()
    if found is None:
        return claim
    smaller = replace(proof, clauses=tuple(clauses[index] for index in found.clauses))
    answers = [answer for _, answer in checked(system, part, ties, smaller, found.origins)]
    if "sat" in answers:
        return _refused(claim)
    if answers != ["unsat"] * len(answers):
        return claim
    origins = tuple(origin for origin in found.origins if not outside(origin.name))
    leans = Leans(tuple(_leans(circuit, origins)), origins, found.whole)
    return replace(claim, certificate=smaller, leans=leans)


def _refused(claim: Verdict) -> Verdict:
    """What a proof is said to lean on does not carry it: a defect of airproof."""
    return replace(
        claim,
        word="undecided",
        strength=None,
        reason="defect",
        detail="the proof does not follow from what it is said to lean on",
        certificate=None,
    )


def checked(
    system: System, circuit: Circuit, ties: Ties, invariant: Invariant, origins: Iterable[Origin]
) -> Iterator[tuple[Duty, str]]:
    """A fresh solver's answer to each obligation, with every tie but these free to be let go."""
    held = [ties.known[origin] for origin in origins]
    for duty, terms in _obligations(system, layout_of(system, circuit), invariant):
        solver = z3.Solver(ctx=system.context)
        solver.set("rlimit", AGAIN)
        solver.add(*held, *terms)
        yield duty, str(solver.check())


def _obligations(
    system: System, layout: Layout, invariant: Invariant
) -> Iterator[tuple[Duty, list[z3.BoolRef]]]:
    now = _clauses(layout.moment(after=False), invariant)
    then = _clauses(layout.moment(after=True), invariant)
    breached = next(v.now for v in system.variables if v.key == system.breached)
    yield "start", [*(part.term for part in system.start), z3.Not(z3.And(now))]
    yield "switch", [*now, *(part.term for part in system.switch), z3.Not(z3.And(then))]
    yield "elapse", [*now, *(part.term for part in system.elapse), z3.Not(z3.And(then))]
    yield "safe", [*now, breached]


def _clauses(moment: Moment, invariant: Invariant) -> list[z3.BoolRef]:
    """Each clause as a term, after `true` so that there is one at least."""
    terms = [z3.Or([literal_of(moment, x) for x in clause]) for clause in invariant.clauses]
    return [moment.constant(True), *terms]


# ---- from origins to parts of the circuit


def _leans(circuit: Circuit, origins: Iterable[Origin]) -> Iterator[Lean]:
    """One entry for each rule of each clause, its condition cut down to the needed leaves."""
    rules: dict[Origin, set[Path]] = {}
    for origin in origins:
        rules.setdefault(origin.leaf(()), set()).add(origin.path)
    for rule, paths in rules.items():
        read = _condition(circuit, rule)
        left = read and pruned(read[0], paths, read[1])
        yield Lean(rule.kind, rule.name, rule.rule, rule.place, left)


def _condition(circuit: Circuit, origin: Origin) -> tuple[Condition, Sense] | None:
    """The condition of a rule, and whether it allows (`can`) or compels (`must`)."""
    match origin.kind, origin.rule:
        case "device", "enters" | "due" | "starts" if origin.place:
            move = circuit.devices[origin.name].moves[origin.index]
            return move.when, "can" if origin.rule == "enters" else "must"
        case "timer", "runs" | "must run" | "reset" | "due":
            sense: Sense = "can" if origin.rule in ("runs", "due") else "must"
            return circuit.timers[origin.name].runs, sense
        case "flow", "condition":
            return circuit.flows[origin.name].condition, "either"
        case "quantity", "rises" | "falls":
            return circuit.quantities[origin.name].changes[origin.index].condition, "can"
        case "interlock", _:
            return _of_rule(circuit.interlocks[origin.name], origin)
        case "assumption", _:
            rule = circuit.assumptions[origin.name].rule
            if isinstance(rule, SupplyRule):
                return rule.comparisons[origin.index], "can"
            return _of_rule(rule, origin)
    return None


def _of_rule(rule: Interlock | KeptRule, origin: Origin) -> tuple[Condition, Sense]:
    """`only` allows while its condition is so, the others while it is not."""
    if origin.rule == "due" or (origin.rule == "needs" and rule.rule != "only"):
        return rule.condition, "must"
    return rule.condition, "can"


def pruned(
    condition: Condition, kept: Collection[Path], sense: Sense, path: Path = ()
) -> Condition | None:
    """What the condition says when the other leaves may count as anything; None for nothing.

    An `and` that allows says less without a part, an `or` says nothing any
    more; where it compels, and under `not`, it is the other way about.  A
    flow's condition is read in both ways (`either`), and keeps what is left.
    """
    if isinstance(condition, Not):
        part = pruned(condition.part, kept, _OPPOSITE[sense], path)
        return None if part is None else Not(part)
    if not isinstance(condition, AllOf | AnyOf) or not condition.parts:
        return condition if path in kept else None
    parts = [pruned(p, kept, sense, (*path, i)) for i, p in enumerate(condition.parts)]
    left = tuple(part for part in parts if part is not None)
    brittle = AnyOf if sense == "can" else AllOf if sense == "must" else ()
    if not left or (isinstance(condition, brittle) and len(left) < len(parts)):
        return None
    return left[0] if len(left) == 1 else type(condition)(left)
