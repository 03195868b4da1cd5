"""What lets somebody else check that two circuits cannot, or can, be told apart."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from airproof import __version__
from airproof.analyses.apart import Laid, laid
from airproof.analyses.showing import ASKED, asking
from airproof.certify.following import following
from airproof.certify.obligations import DUTIES, Duty, Obligation, obligations
from airproof.certify.reading import Reader
from airproof.certify.smtlib import script
from airproof.circuit.kinds import Circuit
from airproof.evidence.difference import Apart, Showing
from airproof.report.caution import CAUTION
from airproof.report.certificates import BY, PAGE, states, words_of, wrapped
from airproof.report.comparison import Comparison
from airproof.report.seen import headline

PARTED = "a step that is none of the other circuit's"
TOLD = "the whole list of views"


@dataclass(frozen=True, slots=True)
class _Proof:
    """One direction's certificate: over which circuit, and what its invariant excludes."""

    number: int
    word: str
    one: str
    showing: Showing
    circuit: Circuit
    goal: str
    duties: tuple[Obligation, ...]

    def file(self, duty: Duty) -> str:
        return f"{self.number:02d}-{self.word}-{DUTIES.index(duty) + 1}-{duty}.smt2"


def apart_files(compared: Comparison) -> dict[str, str]:
    """The text of each file by its name, the page last; empty if nothing rests on an invariant."""
    if compared.apart is None:
        return {}
    found = [*_proofs(compared, compared.apart)]
    if not found:
        return {}
    made = {name: text for proof in found for name, text in _scripts(compared, proof)}
    return made | {PAGE: "\n".join(_page(compared, compared.apart, found))}


def _proofs(compared: Comparison, apart: Apart) -> Iterator[_Proof]:
    plan = laid(compared.before.circuit, compared.after.circuit)
    ways = (
        ("new", "the changed circuit", apart.new, plan.now, plan.was),
        ("gone", "the circuit before", apart.gone, plan.was, plan.now),
    )
    for number, (word, one, showing, circuit, other) in enumerate(ways, start=1):
        if showing.certificate is not None:
            about, goal, duties = _stated(plan, showing, circuit, other)
            yield _Proof(number, word, one, showing, about, goal, duties)


def _stated(
    plan: Laid, showing: Showing, circuit: Circuit, other: Circuit
) -> tuple[Circuit, str, tuple[Obligation, ...]]:
    """The circuit that the certificate is about, what it excludes, its obligations."""
    assert showing.certificate is not None
    if showing.means == "followed":
        return circuit, PARTED, following(circuit, other, plan.sight, showing.certificate)
    there = asking(other, plan.sight, showing.scenes)
    asked = there.properties[ASKED]
    part = showing.certificate.ground(there, asked)
    return part, TOLD, obligations(part, asked, showing.certificate)


def _scripts(compared: Comparison, proof: _Proof) -> Iterator[tuple[str, str]]:
    reader = Reader()
    for each in proof.duties:
        head = tuple(_head(compared, proof, each.duty))
        words = words_of(each, proof.circuit, head, proof.goal)
        yield proof.file(each.duty), script(each, words, reader)


def _head(compared: Comparison, proof: _Proof, duty: Duty) -> Iterator[str]:
    yield f"{BY} {__version__}."
    yield f"Before:    {compared.before.circuit.name}, SHA-256 {compared.before.fingerprint}"
    yield f"After:     {compared.after.circuit.name}, SHA-256 {compared.after.fingerprint}"
    yield f"Question:  what only {proof.one} shows"
    yield f"Obligation {DUTIES.index(duty) + 1} of {len(DUTIES)}, {duty}. This file states that"
    yield from wrapped(f"{states(duty, proof.goal)}.", 2)
    yield "It must not be so: the answer must be"
    yield "  unsat"
    yield f"{PAGE} beside this file says what follows from all four."


def _page(compared: Comparison, apart: Apart, found: list[_Proof]) -> Iterator[str]:
    yield f"<!-- {BY} {__version__}: a later call that names this folder replaces its files. -->"
    yield "# Certificates for what a watcher could see of a change"
    yield ""
    yield f"- Written by airproof {__version__} (`airproof compare --certificates`)."
    yield f"- SHA-256 of the text before: `{compared.before.fingerprint}`,"
    yield f"  and after: `{compared.after.fingerprint}`."
    yield from _MEANING
    for word, one, showing in (
        ("new", "the changed circuit", apart.new),
        ("gone", "the circuit before", apart.gone),
    ):
        yield f"- **{word}**: {headline(showing, one)}."
        yield from (
            f"  Files `{proof.file('start')}` to `{proof.file('safe')}`."
            for proof in found
            if proof.word == word
        )
    yield from _LIMITS
    yield from ("", CAUTION, "")


_MEANING = """
## What the files are

Each question goes one way: what does one of the two circuits show that the other never does?
Four files go with an answer that rests on an *invariant*, a list of clauses about one state.
`1-start`: a start outside it; `2-switch` and `3-elapse`: a step that leaves it; `4-safe`: a
state of it in which something is recorded that must not be. `unsat` four times means that no
run, however long, comes to where it is recorded.

- Where *nothing* is shown, what is recorded is a step of the one circuit that is none of the
  other's. If there is never one, the other circuit has every run of the one, and shows all
  that it shows. Both are laid over the same variables; what only the other has stays as it
  starts.
- Where *something* is shown, the report tells the run that shows it. The files are about the
  other circuit, and what is recorded is that it has shown the whole list of views.

Put the name of any solver of SMT-LIB 2.6 with QF_LRA for `SOLVER`:

```sh
for file in *.smt2; do echo "$file: $(SOLVER "$file")"; done
```

## What they show
""".splitlines()

_LIMITS = """
## What they do not show

- That the texts describe the machine, or that the right things are watched.
- How fast anything goes: chokes, timers and moving times may be anything here.
- What was left out because nothing watched depends on it, that more landmarks change nothing
  of what runs show, and that some amounts of air fit a step where every set of connected
  volumes can be served, which is how steps are stated here: the reference says why.
- That the circuit before was brought to the names and the order of words of the changed one.
""".splitlines()
