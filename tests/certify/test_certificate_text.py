"""The exported text itself: standard, readable, and the very obligations that were discharged."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
import z3

from airproof.certify.obligations import DUTIES, obligations
from airproof.certify.reading import Reader, number, symbol
from airproof.circuit.kinds import Circuit
from airproof.evidence.certificate import Invariant
from airproof.evidence.verdict import Verdict
from airproof.language import load_text
from airproof.report.caution import CAUTION
from airproof.report.certificates import PAGE, files, is_ours, proofs
from airproof.report.results import Results
from certify.scripts import NotStandard, read
from certify.solvers import claim, cvc5_answer, exported, z3_answer
from judged_once import of_table
from table_reader import rows

ROWS = {row.name[:3]: row for row in rows()}
NAMES = """\
circuit let "Ünd; | (assert false) --> <b>bold</b> `code` *star* \\\\ (exit)"
supply value: 0 bar .. 2.333 bar, starts 0 bar
part cab
    ports air
    control assert: true, false, exit; starts true
    reservoir push: 0.3 litre, starts 0 bar
    flow in: air -> push while assert is exit
    property Con "upper; case"
        never push > 8 bar
    property con "lower |case|"
        never push > 8 bar
end part
fit cab as c1, air from value
fit cab as Real, air from value
property LONG "a long name"
    never c1.push > 8 bar
""".replace("LONG", "l" * 60)


def proved(circuit: Circuit, name: str) -> Invariant:
    invariant = of_table(circuit, name).certificate
    assert invariant is not None
    return invariant


def row(number_: str) -> tuple[Circuit, str, Invariant]:
    """The first proved property of a row."""
    here = ROWS[number_]
    circuit = load_text(here.text, here.name).circuit
    name = next(e.name for e in here.expectations if e.verdict in ("holds", "impossible"))
    return circuit, name, proved(circuit, name)


@pytest.mark.parametrize("number_", ["019", "041", "074", "098", "114", "131"])
def test_the_text_is_what_was_discharged(number_: str) -> None:
    """Read back, each assertion means the same as the part of the obligation it was made of."""
    circuit, name, invariant = row(number_)
    stated = obligations(circuit, circuit.properties[name], invariant)
    texts = exported(circuit, claim(circuit, name, invariant))
    for duty, text in zip(stated, texts.values(), strict=True):
        context = duty.parts[0].term.ctx
        found = z3.parse_smt2_string(text, ctx=context)
        assert len(found) == len(duty.parts) == len(read(text).assertions)
        for part, term in zip(duty.parts, found, strict=True):
            solver = z3.Solver(ctx=context)
            solver.add(z3.Xor(part.term, term))
            assert solver.check() == z3.unsat, (name, duty.duty, term)


def test_strange_names_and_titles() -> None:
    """Names that are words elsewhere, and titles with anything in them, spoil no file."""
    circuit = load_text(NAMES, "names").circuit
    verdicts = [claim(circuit, n, proved(circuit, n)) for n in circuit.properties]
    texts = exported(circuit, *verdicts)
    assert len({name.casefold() for name in texts}) == 4 * len(circuit.properties)
    assert all(re.fullmatch(r"[A-Za-z0-9_.-]{1,120}", name) for name in texts)
    for name, text in texts.items():
        read(text)
        assert (cvc5_answer(text), z3_answer(text)) == ("unsat", "unsat"), name
        assert is_ours(name, text)


def test_a_file_says_what_it_is() -> None:
    """Circuit, property, its sentence, the obligation in words, and what the answer must be."""
    circuit, name, invariant = row("019")
    made = files(Results(circuit, "ab" * 32, (claim(circuit, name, invariant),), ()))
    for i, duty in enumerate(DUTIES, start=1):
        text = made[f"01-{name}-{i}-{duty}.smt2"]
        head = text.split("\n\n")[0]
        assert all(line.startswith(";") for line in head.splitlines())
        for said in (circuit.name, "ab" * 32, name, f"Obligation {i} of 4, {duty}", "unsat"):
            assert said in head
        assert max(map(len, text.splitlines())) <= 120
    assert f"clause 1 of {len(invariant.clauses)}" in made[f"01-{name}-4-safe.smt2"]
    assert "; defines value full" in made[f"01-{name}-3-elapse.smt2"]


def test_the_page() -> None:
    """It names every file, says what is missing and why, and carries the caution."""
    circuit, name, invariant = row("019")
    other = next(n for n in circuit.properties if n != name)
    verdicts = (
        claim(circuit, name, invariant),
        Verdict(other, "undecided", reason="no breach within", depth=7, certificate=invariant),
    )
    made = files(Results(circuit, "ab" * 32, verdicts, ()))
    page = made[PAGE]
    assert list(made)[-1] == PAGE
    assert is_ours(PAGE, page)
    for said in (name, "ab" * 32, CAUTION, f"01-{name}-1-start.smt2", "must end in `unsat`"):
        assert said in page
    assert f"- **{other}**: undecided: no breach within 7 steps" in page


def test_only_what_was_reported_is_exported() -> None:
    """A withheld proof, and a run that shows a possibility, leave no file; nothing, no page."""
    circuit, name, invariant = row("019")
    withheld = Verdict(name, "undecided", reason="unhealthy", certificate=invariant)
    results = Results(circuit, "", (withheld,), ())
    assert not proofs(results)
    assert files(results) == {}


def test_the_same_text_each_time() -> None:
    """Two calls write the same bytes."""
    circuit, name, invariant = row("041")
    results = Results(circuit, "", (claim(circuit, name, invariant),), ())
    assert files(results) == files(results)


# ---- what the writer and the tests' own reader refuse


@pytest.mark.parametrize("value", ["0", "1", "-1", "5.5", "-0.125", "1/3", "-22/7", "1000000"])
def test_numbers_are_exact(value: str) -> None:
    """Whatever the number, a solver reads the same one."""
    text = f"(declare-fun x () Real)(assert (= x {number(Fraction(value))}))"
    (term,) = z3.parse_smt2_string(text, ctx=(context := z3.Context()))
    solver = z3.Solver(ctx=context)
    solver.add(term, z3.Real("x", context) != z3.RealVal(value, context))
    assert solver.check() == z3.unsat


def test_what_is_not_of_the_logic_is_refused() -> None:
    """Integers, functions, quantifiers and products of unknowns are never written."""
    context = z3.Context()
    x, i = z3.Real("x", context), z3.Int("i", context)
    f = z3.Function("f", x.sort(), x.sort())
    for term in (x * x > 1, i > 0, f(x) > 0, z3.ForAll([x], x > 0), z3.ToReal(i) > 0):
        with pytest.raises(ValueError, match=r"not linear|neither a truth|not a term"):
            Reader().read(term)
    for name in ("a|b", "a\\b", "ä", "a\nb"):
        with pytest.raises(ValueError, match="no symbol"):
            symbol(name)


SCRIPT = """\
(set-info :smt-lib-version 2.6)
(set-logic QF_LRA)
(declare-fun |a b| () Real)
(assert (<= (* 2.0 |a b|) 1.5))
(check-sat)
(exit)
"""


def test_the_reader_of_these_tests_can_refuse() -> None:
    """It takes a standard script, and none that strays from the standard in one place."""
    assert read(SCRIPT).assertions == [["<=", ["*", "2.0", "|a b|"], "1.5"]]
    for old, new in (
        ("2.0", "2"),
        ("2.0", "|a b|"),
        ("1.5", "true"),
        ("<=", "<<"),
        ("QF_LRA", "QF_NRA"),
        ("(check-sat)", "(check-sat-assuming ())"),
        ("() Real", "(Real) Real"),
        ("() Real", "() Int"),
        ("(exit)\n", ""),
        ("(assert", "(assert ("),
        ("1.5", "1.5 1.5"),
        ("|a b| ()", "|a\u00e4b| ()"),
    ):
        with pytest.raises(NotStandard):
            read(SCRIPT.replace(old, new))
