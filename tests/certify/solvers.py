"""Exported scripts given to two solvers, as text: what somebody with another solver would do."""

from __future__ import annotations

import cvc5
import z3

from airproof.certify.obligations import Meaningless
from airproof.circuit.kinds import Circuit
from airproof.evidence.certificate import Invariant
from airproof.evidence.verdict import Verdict
from airproof.report.certificates import PAGE, files
from airproof.report.results import Results


def exported(circuit: Circuit, *verdicts: Verdict) -> dict[str, str]:
    """The scripts for these verdicts, by file name, without the page."""
    made = files(Results(circuit, "0" * 64, verdicts, ()))
    return {name: text for name, text in made.items() if name != PAGE}


def claim(circuit: Circuit, name: str, invariant: Invariant) -> Verdict:
    """A proof claimed with this invariant, whatever it is worth."""
    possible = type(circuit.properties[name].sentence).__name__ == "Possible"
    word = "breached" if possible else "holds"
    return Verdict(name, word, "any speed", certificate=invariant)  # type: ignore[arg-type]


def cvc5_answer(text: str) -> str:
    """What cvc5 prints when it reads the script, keeping to the standard without exceptions."""
    solver = cvc5.Solver(cvc5.TermManager())
    solver.setOption("strict-parsing", "true")
    symbols = cvc5.SymbolManager(solver.getTermManager())
    parser = cvc5.InputParser(solver, symbols)
    parser.setStringInput(cvc5.InputLanguage.SMT_LIB_2_6, text, "certificate")
    said = []
    while not (command := parser.nextCommand()).isNull():
        said.append(command.invoke(solver, symbols))
    return "".join(said).strip()


def z3_answer(text: str) -> str:
    """What z3 answers to the script."""
    solver = z3.Solver(ctx=z3.Context())
    solver.from_string(text)
    return str(solver.check())


def valid(circuit: Circuit, name: str, invariant: Invariant) -> bool:
    """Whether cvc5 takes the invariant for a proof; raises AssertionError if it does not know.

    What names another property's memory cannot even be written out, and is none.
    """
    try:
        texts = exported(circuit, claim(circuit, name, invariant))
    except Meaningless:
        return False
    answers = [cvc5_answer(text) for text in texts.values()]
    assert len(answers) == 4
    assert set(answers) <= {"sat", "unsat"}, answers
    return set(answers) == {"unsat"}
