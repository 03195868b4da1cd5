"""A claimed proof becomes a verdict only here: discharged anew, and held against random runs."""

from __future__ import annotations

from dataclasses import replace

from airproof.certify.confront import outside, wander
from airproof.certify.obligations import discharge, obligations
from airproof.circuit.kinds import Circuit
from airproof.evidence.verdict import Verdict

RUNS = 8  # random runs that each claimed proof meets
SEED = 20261124


def certified(circuit: Circuit, claim: Verdict, seconds: float) -> Verdict:
    """The claim if a fresh solver discharges its certificate and no random run leaves it.

    A certificate that is refuted is a defect of airproof; one that the solver
    does not answer in time [s] leaves the property undecided.
    """
    if claim.certificate is None:
        return claim
    prop = circuit.properties[claim.property]
    for answer in discharge(obligations(circuit, prop, claim.certificate), seconds):
        if answer.answer == "sat":
            return _refused(claim, f"the certificate fails its obligation `{answer.duty}`")
        if answer.answer != "unsat":
            return replace(
                claim, word="undecided", strength=None, reason="time limit", certificate=None
            )
    runs = wander(circuit, prop.start, RUNS, SEED)
    for found in outside(circuit, {prop.name: claim.certificate}, runs):
        return _refused(claim, f"a run of {len(found.run.steps)} steps leaves the certificate")
    return claim


def _refused(claim: Verdict, detail: str) -> Verdict:
    return replace(
        claim, word="undecided", strength=None, reason="defect", detail=detail, certificate=None
    )
