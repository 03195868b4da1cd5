"""What lets somebody else check the proofs: scripts for any solver, and a page about them."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from airproof import __version__
from airproof.certify.obligations import DUTIES, Duty, Obligation, Part, Role, obligations
from airproof.certify.reading import Reader
from airproof.certify.smtlib import Words, script
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Possible, Property
from airproof.evidence.certificate import Invariant
from airproof.evidence.verdict import Verdict
from airproof.report.caution import CAUTION
from airproof.report.findings import reason
from airproof.report.granted import granted
from airproof.report.results import Results
from airproof.report.terminal import shown
from airproof.report.words import sentence, units

PAGE = "README.md"
BY = "Written by airproof"  # how the first line of every file begins, behind its comment sign

_LISTED = 4  # variables named above a conjunct that defines none
_NAMED = 60  # characters of a property's name in a file's name
_FILE = re.compile(r"\d+-[A-Za-z0-9_-]+-[1-4]-(start|switch|elapse|safe)\.smt2")

_STATES: Mapping[Duty, str] = {
    "start": "some run starts in a state that is not in the invariant",
    "switch": "some switch step (controls and devices move, no time passes) leads from a state "
    "in the invariant to one that is not",
    "elapse": "some elapse step (time passes, pressures change) leads from a state in the "
    "invariant to one that is not",
    "safe": "in some state of the invariant {} is recorded",
}
_SECTIONS: Mapping[Role, str] = {
    "start": "---- How the circuit may start",
    "inside": "---- The state is in the invariant: every clause is so",
    "step": "---- What the step must satisfy; ' marks values after it",
    "outside": "---- The state reached is not in the invariant: some clause is not so",
    "breached": "---- What must not be",
}
_AT_START: Mapping[Role, str] = {
    "outside": "---- The start is not in the invariant: some clause is not so",
}


@dataclass(frozen=True, slots=True)
class Proof:
    """A property with the invariant that proves its verdict; `number` is its place in the text."""

    number: int
    asked: Property
    invariant: Invariant

    @property
    def goal(self) -> str:
        """What the invariant excludes."""
        possible = isinstance(self.asked.sentence, Possible)
        return "what was asked to be possible" if possible else "a breach of the property"

    def file(self, duty: Duty) -> str:
        """The file of one obligation: of characters that every file system takes."""
        name = re.sub(r"[^A-Za-z0-9_]", "-", self.asked.name)[:_NAMED]
        return f"{self.number:02d}-{name}-{DUTIES.index(duty) + 1}-{duty}.smt2"


def is_ours(name: str, first_line: str) -> bool:
    """Whether a file of this name that begins so is one that `files` made."""
    return first_line.lstrip(";<!- ").startswith(BY) and (
        name == PAGE or _FILE.fullmatch(name) is not None
    )


def proofs(results: Results) -> list[Proof]:
    """Every property whose verdict, as reported, rests on an invariant."""
    places = {name: i for i, name in enumerate(results.circuit.properties, start=1)}
    return [
        Proof(places[v.property], results.circuit.properties[v.property], v.certificate)
        for v in results.verdicts
        if v.word != "undecided" and v.certificate is not None
    ]


def files(results: Results) -> dict[str, str]:
    """The text of each file by its name, the page last; empty if nothing rests on an invariant."""
    found = proofs(results)
    if not found:
        return {}
    made = {name: text for proof in found for name, text in _scripts(results, proof)}
    return made | {PAGE: "\n".join(_page(results, found))}


# ---- scripts


def _scripts(results: Results, proof: Proof) -> Iterator[tuple[str, str]]:
    reader = Reader()
    for each in obligations(results.circuit, proof.asked, proof.invariant):
        head = tuple(_head(results, proof, each.duty))
        words = words_of(each, results.circuit, head, proof.goal)
        yield proof.file(each.duty), script(each, words, reader)


def words_of(obligation: Obligation, circuit: Circuit, head: tuple[str, ...], goal: str) -> Words:
    """The comments of a script about one circuit; `goal` is what the invariant excludes."""
    inside = [id(part) for part in obligation.parts if part.role == "inside"]
    numbers = {known: number for number, known in enumerate(inside, start=1)}

    def remark(part: Part, about: tuple[str, ...]) -> str:
        if part.role == "inside":
            return f"clause {numbers[id(part)]} of {len(numbers)}"
        if part.role in ("start", "step"):
            return f"defines {', '.join(part.defines)}" if part.defines else _restricts(about)
        return "of these clauses" if part.role == "outside" else f"{goal} is recorded"

    sections = {**_SECTIONS, **(_AT_START if obligation.duty == "start" else {})}
    return Words(tuple(map(_ascii, head)), sections, _legend(circuit), remark)


def _restricts(about: tuple[str, ...]) -> str:
    return f"restricts {', '.join(about) if len(about) <= _LISTED else f'{len(about)} variables'}"


def _legend(circuit: Circuit) -> dict[str, str]:
    """Which of two positions is meant where a position is a truth."""
    pairs = {name: places for name, places in circuit.positions.items() if len(places) == 2}
    return {
        f"position {n}": f"true: {second}, false: {first}" for n, (first, second) in pairs.items()
    }


def _head(results: Results, proof: Proof, duty: Duty) -> Iterator[str]:
    circuit, asked = results.circuit, proof.asked
    yield f"{BY} {__version__}."
    yield f"Circuit:   {circuit.name}{_quoted(circuit.title)}"
    yield f"Text:      SHA-256 {results.fingerprint}"
    yield f"Property:  {asked.name}{_quoted(asked.title)}"
    yield from wrapped(_stated(circuit, asked), 11)
    yield f"Obligation {DUTIES.index(duty) + 1} of {len(DUTIES)}, {duty}. This file states that"
    yield from wrapped(f"{states(duty, proof.goal)}.", 2)
    yield "It must not be so: the answer must be"
    yield "  unsat"
    yield f"{PAGE} beside this file says what follows from all four."


def wrapped(text: str, margin: int) -> list[str]:
    return textwrap.wrap(text, 95, initial_indent=" " * margin, subsequent_indent=" " * margin)


def states(duty: Duty, goal: str) -> str:
    """What a file states, of an invariant that excludes the goal."""
    return _STATES[duty].format(goal)


def _stated(circuit: Circuit, asked: Property) -> str:
    """The property's sentence, with where its runs start and whether instants are judged."""
    start = f" from {asked.start}" if asked.start else ""
    instant = " even for an instant" if asked.even_for_an_instant else ""
    return sentence(asked.sentence, units(circuit)) + start + instant


def _quoted(title: str) -> str:
    return f', "{shown(title)}"' if title else ""


def _ascii(line: str) -> str:
    return shown(line).encode("ascii", "backslashreplace").decode()


# ---- the page


def _page(results: Results, found: list[Proof]) -> Iterator[str]:
    circuit = results.circuit
    yield f"<!-- {BY} {__version__}: a later call that names this folder replaces its files. -->"
    yield f"# Certificates for the circuit {_plain(circuit.name)}"
    yield ""
    if circuit.title:
        yield from (_plain(circuit.title), "")
    yield f"- Written by airproof {__version__} (`airproof prove --certificates`)."
    yield f"- SHA-256 of the circuit's text: `{results.fingerprint}`; `airproof prove --json`"
    yield "  says the same of a text that has not been changed since."
    yield from _MEANING
    yield from _proved(circuit, found)
    yield from _missing(results, found)
    yield from _LIMITS
    yield from (f"- {_plain(item.text)}" for item in granted(circuit))
    yield from ("", CAUTION, "")


_MEANING = f"""
## What the files are

For each property that is proved there is an *invariant*: a list of clauses about one state of
the circuit (positions, pressures, what the property remembers of the run so far). Four files
go with it. Each states, in SMT-LIB 2.6 with the logic QF_LRA, something that must not be:

| file ends in | it states that |
|---|---|
| `-1-start.smt2` | {_STATES["start"]} |
| `-2-switch.smt2` | {_STATES["switch"]} |
| `-3-elapse.smt2` | {_STATES["elapse"]} |
| `-4-safe.smt2` | {_STATES["safe"].format("a breach of the property")} |

`unsat` means that it cannot be so. If all four answers are `unsat`, the property holds for
every run, however long: a run begins inside the invariant (1); whatever its next step is, of
the only two kinds there are, it stays inside (2, 3), and so does the step after that, and so
on; and nowhere inside is a breach recorded (4). The memory of a breach is never wiped out, so
a run that breached the property at any time would still carry it. For a property that asks
whether something is *possible*, what is recorded is that it was reached, and the four answers
mean that no run reaches it. One answer other than `unsat` and nothing is shown.

The names in the files say what they stand for; `'` marks the value after the step:

| name | it is |
|---|---|
| `position X` | the second of the two positions of X, else the first (a comment says which) |
| `position X P` | X is in position P; if it is on its way, it is bound for P |
| `left X P`, `way X`, `aged X` | X has left P; X is on its way; time has passed since it set off |
| `running T`, `expired T` | the timer T runs; it has expired |
| `fresh C` | the control C moved in this instant, or the present stretch began with its move |
| `rested` | time has passed since anything moved |
| `value V` | a pressure in bar (gauge), or a quantity in its own unit |
| `amount F`, `duration` | what flows through F in this step, in bar litre; its length in s |
| `monitor ...` | what the property remembers: `breached` for good, and what it needs to know |

## How to check them

With any solver that reads SMT-LIB 2.6 and knows QF_LRA; put its name for `SOLVER`:

```sh
for file in *.smt2; do echo "$file: $(SOLVER "$file")"; done
```

Every line must end in `unsat`. It need not be the solver that airproof used.
""".splitlines()

_LIMITS = """
## What they do not show

- That the text describes the machine as it is built, or that the properties are the ones
  that keep people safe.
- That airproof turned the text into these formulas as its reference says. Every formula is
  written out, under a comment that names what it defines, so that it can be read.
- That time can pass in the circuit at all. airproof examines that apart (its report, under
  *Health*), and reports no proof of a circuit in which it found such an error.
- Anything that depends on how fast things are. The steps leave chokes, timers and moving times
  open, so the proofs hold whatever these are; a volume with a stated size keeps its stored air.
- What becomes of it when a device without a moving time is slow. In these formulas it moves
  at once; the report of `airproof prove` says which of them must.
- What is so for an instant only: properties are judged while time passes, unless they say
  `even for an instant`.

Taken for granted:
""".splitlines()


def _proved(circuit: Circuit, found: list[Proof]) -> Iterator[str]:
    yield from ("", "## What is proved", "")
    for proof in found:
        possible = isinstance(proof.asked.sentence, Possible)
        yield f"- **{_plain(proof.asked.name)}**: {'not possible' if possible else 'holds'}"
        if proof.asked.title:
            yield f'  "{_plain(proof.asked.title)}"'
        yield f"  `{_stated(circuit, proof.asked)}`"
        count = len(proof.invariant.clauses)
        yield f"  Files `{proof.file('start')}` to `{proof.file('safe')}`; clauses: {count}."


def _missing(results: Results, found: list[Proof]) -> Iterator[str]:
    proved = {proof.asked.name for proof in found}
    left = [verdict for verdict in results.verdicts if verdict.property not in proved]
    asked = {verdict.property for verdict in results.verdicts}
    unasked = [name for name in results.circuit.properties if name not in asked]
    if not left and not unasked:
        return
    yield from ("", "## What has no files here", "")
    for verdict in left:
        yield f"- **{_plain(verdict.property)}**: {_plain(_why_not(results.circuit, verdict))}"
    yield from (f"- **{_plain(name)}**: was not asked for" for name in unasked)


def _why_not(circuit: Circuit, verdict: Verdict) -> str:
    if (said := reason(verdict)) is not None:
        return f"undecided: {said}"
    if isinstance(circuit.properties[verdict.property].sentence, Possible):
        return "possible: the report shows a run, and a run needs no certificate"
    return "breached: the report shows the run"


def _plain(text: str) -> str:
    """Text from the circuit as a page shows it, whatever characters it has."""
    return re.sub(r"([\\`*_{}\[\]<>#|&~])", r"\\\1", shown(text))
