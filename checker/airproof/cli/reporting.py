"""`report`: the pack for a hazard meeting, and the record of what it decides."""

from __future__ import annotations

import datetime
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from airproof.cli import recording
from airproof.cli.files import check_place, put
from airproof.cli.passing import Disposed, Passed, disposed
from airproof.cli.shell import Refused
from airproof.evidence.dependence import Dependence
from airproof.evidence.health import Finding
from airproof.evidence.verdict import Verdict
from airproof.language.load import Loaded
from airproof.report.pack import Pack, Present, key_of, render
from airproof.report.pack.keys import moves_of
from airproof.report.pack.matrix import MATRICES
from airproof.report.results import Results

NOTHING: Mapping[str, Dependence] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Wanted:
    """What kind of pack, and where it and the record of decisions go."""

    file: str
    output: str
    record: str | None
    matrix: str
    date: datetime.date | None

    def check(self) -> None:
        """Raises Refused if the record is unreadable, or the pack could not be written."""
        if self.record is not None:
            recording.load(self.record)
        if self.output != "-":
            check_place(self.output, "the pack")
            if self.record is not None and same(self.output, self.record):
                raise Refused(f"{self.output} cannot be both the pack and the record")
            if self.file != "-" and same(self.output, self.file):
                raise Refused(f"{self.output} is the circuit; name another file for the pack")


@dataclass(frozen=True, slots=True)
class Found:
    """What goes into the pack: the verdicts with the sequences to be told, and health."""

    passed: Passed
    findings: tuple[Finding, ...]


def pack(
    loaded: Loaded,
    found: Found,
    wanted: Wanted,
    depends: Mapping[str, Dependence] = NOTHING,
) -> str:
    """The pack's HTML text; every breach then has an entry in the record, if one is named.

    Raises Refused if the record cannot be read or written.
    """
    circuit, fingerprint = loaded.circuit, loaded.text_fingerprint
    present = present_of(loaded, found.passed.verdicts)
    kept = recording.keep(wanted.record, present) if wanted.record is not None else None
    date = wanted.date or datetime.date.today()
    results = Results(circuit, fingerprint, found.passed.verdicts, found.findings)
    return render(
        Pack(
            results,
            wanted.file,
            date.isoformat(),
            MATRICES[wanted.matrix],
            wanted.record,
            kept.about(present) if kept else {},
            depends,
            found.passed.none,
            recorded=kept is None or bool(kept.text),
        )
    )


def present_of(loaded: Loaded, verdicts: Iterable[Verdict]) -> Present:
    """What a record is told of: the texts, and what moves in the sequence of each breach."""
    circuit = loaded.circuit
    breached = [one for one in verdicts if one.word == "breached"]
    runs = {one.property: one.sequence for one in breached if one.sequence is not None}
    return Present(
        loaded.text_fingerprint,
        _texts(loaded),
        {one.property: key_of(circuit, one.sequence) for one in breached},
        {name: (moves_of(circuit, run), len(run.steps)) for name, run in runs.items()},
    )


def aside(loaded: Loaded, record: str | None) -> Mapping[str, Disposed]:
    """By property, what the record sets aside in this very text; raises Refused."""
    if record is None:
        return {}
    known, fingerprint = recording.load(record), loaded.text_fingerprint
    names = loaded.circuit.properties
    found = {
        name: [one for one in known.disposed(name, fingerprint) if one.aside()] for name in names
    }
    return {name: disposed(decisions) for name, decisions in found.items() if decisions}


def deliver(text: str, output: str) -> None:
    """Puts the pack into its file, whole or not at all; raises Refused."""
    put(output, text)


def _texts(loaded: Loaded) -> Mapping[str, str]:
    """The texts by file name, as they are told apart in a record."""
    paths = [Path(path) for path in loaded.sources]
    folder = paths[0].parent if paths else Path()
    return {
        (path.relative_to(folder) if path.is_relative_to(folder) else path).as_posix(): source.text
        for path, source in zip(paths, loaded.sources.values(), strict=True)
    }


def same(one: str, other: str) -> bool:
    """They are one file."""
    return os.path.realpath(one) == os.path.realpath(other)
