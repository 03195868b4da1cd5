"""A certificate that proves nothing never becomes a verdict, however it came about."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from random import Random

import pytest
import z3

from airproof.certify import check, obligations
from airproof.certify.check import certified
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import TIMED
from airproof.evidence.certificate import Invariant
from airproof.evidence.verdict import Verdict, Word
from airproof.language import load, load_text
from certify.counting import Judge
from certify.solvers import claim, valid
from certify.spoilt_proofs import meaningless, spoilt
from generators import finite
from judged_once import of_table
from table_reader import rows

WORKED = Path(__file__).parents[2] / "models" / "worked"
ROWS = {row.name[:3]: row for row in rows()}
AIRY = ("005", "022", "036", "046", "098")
FINITE = ("041", "053", "066", "092", "097")
MOST = 10  # spoilt clauses of one invariant
DRAWN = 20  # random finite circuits


@cache
def genuine(number: str) -> tuple[Circuit, dict[str, Invariant]]:
    """A row's circuit, and the invariants of its properties that have one."""
    row = ROWS[number]
    circuit = load_text(row.text, row.name).circuit
    asked = [e.name for e in row.expectations if e.verdict in ("holds", "impossible")]
    return circuit, invariants(circuit, asked)


def invariants(circuit: Circuit, asked: list[str]) -> dict[str, Invariant]:
    verdicts = (of_table(circuit, name) for name in asked)
    return {v.property: v.certificate for v in verdicts if v.certificate is not None}


def let_through(circuit: Circuit, name: str, invariant: Invariant) -> bool:
    """Whether `certified` takes it for a proof; if not, it must say what it should say."""
    verdict = certified(circuit, claim(circuit, name, invariant), 60)
    if verdict.word != "undecided":
        assert verdict == claim(circuit, name, invariant)
        return True
    assert (verdict.reason, verdict.strength, verdict.certificate) == ("defect", None, None)
    return False


def all_spoilt(
    circuit: Circuit, known: dict[str, Invariant], name: str, most: int = MOST
) -> Iterator[Invariant]:
    others = [other for key, other in known.items() if key != name]
    for one in spoilt(known[name], others, Random(f"{circuit.name} {name}"), most):
        yield one.invariant


def tally(circuit: Circuit, known: dict[str, Invariant], most: int = MOST) -> Counter[bool]:
    """Holds `certified` against cvc5: for each invariant, and for every spoilt form of it."""
    told: Counter[bool] = Counter()
    for name, invariant in known.items():
        assert let_through(circuit, name, invariant)
        for other in all_spoilt(circuit, known, name, most):
            right = valid(circuit, name, other)
            assert let_through(circuit, name, other) == right, (name, other.text)
            told[right] += 1
    return told


@pytest.mark.parametrize("number", [*AIRY, "053", "097"])
def test_another_solver_agrees_on_spoiled_certificates(number: str) -> None:
    """What cvc5 refutes is refused, and what it calls valid all the same is let through."""
    told = tally(*genuine(number))
    assert told[False] >= 3, told


def test_worked_circuits() -> None:
    """The same of two properties of a worked circuit that share their variables."""
    circuit = load(WORKED / "tram_door.circuit").circuit
    told = tally(circuit, invariants(circuit, ["no_traction_open", "egress_air_kept"]), 5)
    assert told[False] >= 5, told


def counted(circuit: Circuit, known: dict[str, Invariant]) -> Counter[bool]:
    """Holds `certified` against going through every state."""
    told: Counter[bool] = Counter()
    for name in known:
        judge = Judge(circuit, circuit.properties[name])
        assert not judge.refutes(known[name])
        for other in all_spoilt(circuit, known, name):
            refuted = judge.refutes(other)
            assert not (refuted and let_through(circuit, name, other)), (name, other.text)
            told[refuted] += 1
    return told


@pytest.mark.parametrize("number", FINITE)
def test_counting_agrees_on_spoiled_certificates(number: str) -> None:
    """Where a state, followed by hand as it were, leaves the invariant, it is refused."""
    assert counted(*genuine(number))[True] >= 3


def test_counting_agrees_on_random_circuits() -> None:
    """The same of the proofs of random finite circuits."""
    told: Counter[bool] = Counter()
    proved = 0
    for seed in range(DRAWN):
        circuit = finite(Random(f"spoilt {seed}"), most=60)
        ((name, asked),) = circuit.properties.items()
        if not isinstance(asked.sentence, TIMED):
            known = invariants(circuit, [name])
            told += counted(circuit, known)
            proved += len(known)
    assert proved >= 5
    assert told[True] >= 15


@pytest.mark.parametrize("number", ["044", "053", "092", "019", "036"])
def test_nothing_proves_what_is_breached(number: str) -> None:
    """No invariant of another property, nor any trivial one, makes a breached property hold."""
    row = ROWS[number]
    circuit, known = genuine(number)
    wrong = [e.name for e in row.expectations if e.verdict in ("breached", "possible")]
    assert wrong
    for name in wrong:
        for other in known.values():
            assert not let_through(circuit, name, other)
            for one in spoilt(other, (), Random(name), MOST):
                assert not let_through(circuit, name, one.invariant), one.how


@pytest.mark.parametrize("number", ["005", "019", "081"])
def test_what_the_circuit_does_not_have_is_refused(number: str) -> None:
    """A clause about unknown names is a defect, even one that could be left out."""
    circuit, known = genuine(number)
    for name, invariant in known.items():
        for one in meaningless(invariant):
            assert not let_through(circuit, name, one.invariant), one.how


def test_a_claim_without_evidence_is_refused() -> None:
    """`holds` needs an invariant and `breached` a sequence; neither word stands alone."""
    circuit, known = genuine("005")
    ((name, invariant),) = known.items()
    words: tuple[Word, ...] = ("holds", "breached")
    for word in words:
        bare = Verdict(name, word, "any speed")
        assert certified(circuit, bare, 60).reason == "defect"
    other = Verdict(name, "breached", "any speed", certificate=invariant)
    assert certified(circuit, other, 60).reason == "defect"


# ---- a solver that does not answer, and duties that are not all there


def proof() -> tuple[Circuit, Verdict]:
    circuit, known = genuine("019")
    name = next(iter(known))
    return circuit, claim(circuit, name, known[name])


def test_no_units_no_verdict(monkeypatch: pytest.MonkeyPatch) -> None:
    """A solver that runs out of units has shown nothing."""
    circuit, genuine_claim = proof()
    monkeypatch.setattr(obligations, "UNITS", 1)
    verdict = certified(circuit, genuine_claim, 60)
    assert (verdict.word, verdict.reason) == ("undecided", "solver limit")
    assert verdict.certificate is None


@pytest.mark.parametrize(
    ("why", "reason"),
    [("timeout", "time limit"), ("canceled", "solver limit"), ("incomplete", "solver failed")],
)
@pytest.mark.parametrize("which", [1, 2, 3, 4])
def test_unknown_is_not_unsat(
    monkeypatch: pytest.MonkeyPatch, which: int, why: str, reason: str
) -> None:
    """One answer `unknown` of the four is enough, whichever it is."""
    circuit, genuine_claim = proof()
    asked, check_ = [], z3.Solver.check

    def answer(solver: z3.Solver) -> z3.CheckSatResult:
        asked.append(solver)
        return z3.unknown if len(asked) == which else check_(solver)

    monkeypatch.setattr(z3.Solver, "check", answer)
    monkeypatch.setattr(z3.Solver, "reason_unknown", lambda _: why)
    verdict = certified(circuit, genuine_claim, 60)
    assert (verdict.word, verdict.reason, verdict.certificate) == ("undecided", reason, None)
    assert len(asked) == which


def test_a_solver_that_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    """An error inside the solver leaves the property undecided, and is told."""
    circuit, genuine_claim = proof()

    def fail(_: z3.Solver) -> None:
        raise z3.Z3Exception("overflow encountered")

    monkeypatch.setattr(z3.Solver, "check", fail)
    verdict = certified(circuit, genuine_claim, 60)
    assert (verdict.word, verdict.reason) == ("undecided", "solver failed")
    assert "overflow" in str(verdict.detail)


@pytest.mark.parametrize("kept", [(), (0, 1, 2), (1, 2, 3), (0, 1, 1, 3), (0, 1, 2, 3, 3)])
def test_every_duty_exactly_once(monkeypatch: pytest.MonkeyPatch, kept: tuple[int, ...]) -> None:
    """A list of obligations with one missing, or one in the place of another, shows nothing."""
    circuit, genuine_claim = proof()
    stated = obligations.obligations

    def short(*arguments: object) -> tuple[obligations.Obligation, ...]:
        whole = stated(*arguments)  # type: ignore[arg-type]
        return tuple(whole[i] for i in kept)

    monkeypatch.setattr(check, "obligations", short)
    verdict = certified(circuit, genuine_claim, 60)
    assert (verdict.word, verdict.reason, verdict.certificate) == ("undecided", "defect", None)
