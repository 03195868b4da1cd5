"""The pages of a pack as data: the verdicts, and a chapter for each property."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Possible, Property
from airproof.evidence.dependence import Dependence
from airproof.evidence.verdict import Retried, Verdict
from airproof.report import again, depending, leaning, schematic, words
from airproof.report.findings import reason, remarks
from airproof.report.pack.causes import causes
from airproof.report.pack.decisions import Decision
from airproof.report.pack.keys import key_of, moves_told
from airproof.report.pack.matrix import Matrix, weight
from airproof.report.pack.telling import Telling, tell
from airproof.report.pack.testcard import Card, card_of
from airproof.report.replayed import no_other
from airproof.report.words import ruling, sentence, units


@dataclass(frozen=True, slots=True)
class Other:
    """A decision about another sequence, with what happens in that where the record says so."""

    decision: Decision
    happens: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A record sheet: what the circuit says, and what a meeting has decided so far.

    `earlier`: decisions about another text
    `others`:  those about other sequences of this property, in this text
    `passed`:  some of those were set aside, and this sequence comes after them
    `no_other`: why none comes after them, "" where one does
    """

    sequence: str
    causes: tuple[str, ...]
    safeguards: tuple[str, ...]
    column: str  # of the matrix, for the stated severity; "" if none is stated
    decision: Decision | None
    earlier: tuple[Decision, ...]
    others: tuple[Other, ...] = ()
    passed: bool = False
    no_other: str = ""


@dataclass(frozen=True, slots=True)
class Retold:
    """What was found when a property that holds was asked again otherwise."""

    heading: str
    telling: Telling
    card: Card
    note: str  # what the card is about, beside the circuit as it is taken to be


@dataclass(frozen=True, slots=True)
class Proof:
    """What can be said of a certificate in a page: how large it is, and its SHA-256."""

    clauses: int
    digest: str
    runs: int


@dataclass(frozen=True, slots=True)
class Depends:
    """What a breach depends on, in plain words."""

    introduction: str
    chapters: tuple[depending.Chapter, ...]
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Chapter:
    """One property's pages; `word` is its verdict, or `possible`."""

    key: str
    asked: Property
    word: str
    strength: str
    mark: str  # what goes with the verdict, such as what must move at once; "" if nothing does
    sentence: str
    drawing: str
    notes: tuple[str, ...]
    telling: Telling | None
    card: Card | None
    sheet: Sheet | None
    leans: str
    proof: Proof | None
    lines: tuple[str, ...]
    retold: tuple[Retold, ...]
    depends: Depends | None

    @property
    def breached(self) -> bool:
        return self.word == "breached"


@dataclass(frozen=True, slots=True)
class Writer:
    """Writes the chapters of one pack.

    runs: random runs that a proof is held against where nothing cut them off
    depends: what each breach depends on, where that was found out
    """

    circuit: Circuit
    fingerprint: str
    studio: schematic.Studio
    matrix: Matrix
    decisions: Mapping[str, tuple[Decision, ...]]
    depends: Mapping[str, Dependence]
    none: Mapping[str, Verdict]
    runs: int

    def chapters(self, verdicts: tuple[Verdict, ...]) -> tuple[Chapter, ...]:
        """Breaches first, then what is undecided, then what holds; each by severity."""
        order = {"breached": 0, "undecided": 1, "holds": 2}
        place = {name: number for number, name in enumerate(self.circuit.properties)}
        ranked = sorted(
            verdicts,
            key=lambda v: (order[v.word], weight(self._asked(v).severity), place[v.property]),
        )
        return tuple(self._chapter(f"p{n}", verdict) for n, verdict in enumerate(ranked, start=1))

    def _asked(self, verdict: Verdict) -> Property:
        return self.circuit.properties[verdict.property]

    def _chapter(self, key: str, verdict: Verdict) -> Chapter:
        asked, run = self._asked(verdict), verdict.sequence
        breached = verdict.word == "breached"
        found = list(again.lines(verdict))
        return Chapter(
            key,
            asked,
            _word(verdict, asked),
            verdict.strength or "",
            again.mark(verdict),
            sentence(asked.sentence, units(self.circuit)),
            self.circuit.drawings.get(asked.name, ""),
            tuple(_notes(verdict, asked)),
            self._told(f"{key}s", verdict, asked),
            card_of(self.circuit, run, asked, certain=verdict.word != "undecided") if run else None,
            self._sheet(verdict, asked) if breached else None,
            self._leans(verdict),
            _proof(verdict, self.runs),
            tuple(line.text for line in found),
            tuple(self._retold(key, verdict, found)),
            self._depends(asked),
        )

    def _told(self, key: str, verdict: Verdict, asked: Property) -> Telling | None:
        if verdict.sequence is None:
            return None
        certain = verdict.word != "undecided"
        return tell(key, self.circuit, verdict.sequence, asked, self.studio, certain=certain)

    def _leans(self, verdict: Verdict) -> str:
        if verdict.word == "undecided":
            return ""
        if verdict.leans is not None:
            return f"This proof leans on {leaning.told(self.circuit, verdict.leans)}."
        return f"{leaning.UNASKED.capitalize()}." if verdict.certificate is not None else ""

    def _retold(self, key: str, verdict: Verdict, found: list[again.Line]) -> Iterator[Retold]:
        stories = [one for line in found for one in line.stories]
        for number, one in enumerate(stories, start=1):
            yield self._again(f"{key}r{number}", verdict, one)

    def _again(self, key: str, verdict: Verdict, one: Retried) -> Retold:
        assert one.sequence is not None
        changed = again.changed(self.circuit, verdict, one)
        asked, certain = changed.properties[verdict.property], one.word != "undecided"
        telling = tell(key, changed, one.sequence, asked, self.studio, certain=certain)
        card = card_of(changed, one.sequence, asked, certain=certain)
        return Retold(again.heading(verdict, one), telling, card, _if_slow(one))

    def _depends(self, asked: Property) -> Depends | None:
        found = self.depends.get(asked.name)
        if found is None:
            return None
        return Depends(
            depending.introduction(asked, found),
            depending.chapters(self.circuit, found),
            depending.remarks(self.circuit, asked, found),
        )

    # ---- record sheets

    def _sheet(self, verdict: Verdict, asked: Property) -> Sheet:
        key = key_of(self.circuit, verdict.sequence)
        known = [one for one in self.decisions.get(asked.name, ()) if not one.blank()]
        standing = [one for one in known if one.stands()]
        others = [one for one in standing if one.sequence != key]
        none = self.none.get(asked.name)
        return Sheet(
            key,
            causes(self.circuit, verdict.sequence, self.depends.get(asked.name)),
            tuple(dict.fromkeys(_safeguards(self.circuit))),
            self.matrix.severities.get(asked.severity or "", ""),
            next((one for one in standing if one.sequence == key), None),
            tuple(one for one in known if not one.stands()),
            tuple(Other(one, tuple(moves_told(one.moves))) for one in others),
            any(one.aside() for one in others),
            no_other(none) if none is not None else "",
        )


def _word(verdict: Verdict, asked: Property) -> str:
    possible = isinstance(asked.sentence, Possible)
    return "possible" if possible and verdict.word == "holds" else verdict.word


def _if_slow(one: Retried) -> str:
    if one.device is None:
        return "This is so for an instant only: nothing of it lasts while time passes."
    at_once = "where it moves at once, some step does not come about"
    return f"This needs {one.device} to be slow: {at_once}."


def _notes(verdict: Verdict, asked: Property) -> Iterator[str]:
    said = reason(verdict)
    if said is not None:
        yield said
    if verdict.word == "breached" and isinstance(asked.sentence, Possible):
        yield "no run of any length reaches it"
    yield from remarks(verdict)


def _proof(verdict: Verdict, runs: int) -> Proof | None:
    known = verdict.certificate
    if known is None or verdict.word == "undecided":
        return None
    digest = hashlib.sha256(known.text.encode("utf-8")).hexdigest()
    return Proof(len(known.clauses), digest, runs if verdict.met is None else verdict.met)


def _safeguards(circuit: Circuit) -> Iterator[str]:
    """The interlocks, in the words of the circuit."""
    for lock in circuit.interlocks.values():
        if lock.title:
            yield lock.title
        else:
            when = words.condition(lock.condition, units(circuit))
            yield ruling(lock.rule, lock.control, lock.position, when)
