"""A claimed proof becomes a verdict only here: discharged anew by a fresh solver."""

from __future__ import annotations

from dataclasses import replace

from airproof.certify.obligations import (
    DUTIES,
    Discharge,
    Duty,
    Meaningless,
    discharge,
    obligations,
)
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Possible, Property
from airproof.evidence.certificate import Invariant
from airproof.evidence.verdict import Reason, Verdict, Word


def certified(circuit: Circuit, claim: Verdict, seconds: float) -> Verdict:
    """The claim if a fresh solver discharges its certificate.

    A certificate that is refuted, or shows something else than is claimed, is a
    defect of airproof; one that the solver does not answer within its limits
    (time [s] the last of them) leaves the property undecided.
    """
    prop = circuit.properties[claim.property]
    if claim.word == "undecided":
        return claim
    shown = claim.certificate if claim.word == _proved(prop) else claim.sequence
    if shown is None:
        return _refused(claim, f"`{claim.word}` is claimed and nothing shows it")
    if not isinstance(shown, Invariant):
        return claim
    return _doubted(circuit, claim, shown, seconds) or claim


def _proved(prop: Property) -> Word:
    """The verdict that an invariant shows; the other one takes a sequence."""
    return "breached" if isinstance(prop.sentence, Possible) else "holds"


def _doubted(
    circuit: Circuit, claim: Verdict, invariant: Invariant, seconds: float
) -> Verdict | None:
    """What is left of the claim unless each duty is discharged exactly once."""
    prop = circuit.properties[claim.property]
    try:
        duties = obligations(invariant.ground(circuit, prop), prop, invariant)
    except Meaningless as error:
        return _refused(claim, f"the certificate means nothing: {error}")
    done: list[Duty] = []
    for answer in discharge(duties, seconds):
        if answer.answer == "sat":
            return _refused(claim, f"the certificate fails its obligation `{answer.duty}`")
        if answer.answer != "unsat":
            return _undecided(claim, *_unanswered(answer))
        done.append(answer.duty)
    if sorted(done) != sorted(DUTIES):
        return _refused(claim, f"of the obligations only these were met: {', '.join(done)}")
    return None


def _unanswered(answer: Discharge) -> tuple[Reason, str | None]:
    """Why the solver gave no answer; z3 says `canceled` when its units ran out."""
    if answer.why == "timeout":
        return "time limit", None
    if answer.why == "canceled" or "resource" in answer.why:
        return "solver limit", None
    return "solver failed", f"asked about the obligation `{answer.duty}`: {answer.why}"


def _refused(claim: Verdict, detail: str) -> Verdict:
    return _undecided(claim, "defect", detail)


def _undecided(claim: Verdict, reason: Reason, detail: str | None) -> Verdict:
    return replace(
        claim,
        word="undecided",
        strength=None,
        reason=reason,
        detail=detail,
        sequence=None,
        certificate=None,
    )
