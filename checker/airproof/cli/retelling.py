"""Where a replayed sequence goes: the screen, standard output as data, files."""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass
from pathlib import Path

import click
from rich.console import Console

from airproof.circuit.kinds import Circuit
from airproof.cli import recording
from airproof.cli.depending import depending
from airproof.cli.files import check_place, put
from airproof.cli.output import WIDEST
from airproof.cli.passing import Disposed, disposed
from airproof.cli.replaying import Replaying
from airproof.cli.reporting import present_of
from airproof.cli.shell import Refused, remark
from airproof.evidence.dependence import Dependence
from airproof.evidence.verdict import Verdict
from airproof.language.load import Loaded
from airproof.report import replay, table, waves
from airproof.report.pack.decisions import Decision
from airproof.report.pack.keys import key_of
from airproof.report.replayed import Told, none_told, show_dependence, show_run

STANDARD = "-"  # standard output


@dataclass(frozen=True, slots=True)
class Wanted:
    """In which forms; a form that goes to standard output goes there alone."""

    file: str
    as_json: bool
    csv: str | None
    vcd: str | None
    quiet: bool
    record: str | None = None

    def check(self) -> None:
        """Raises Refused if two of them would go to one place, one over the circuit or nowhere."""
        if self.printed > 1:
            raise Refused("only one of --json, --csv - and --vcd - can go to standard output")
        files = [one for one in (self.csv, self.vcd, self.record) if one not in (None, STANDARD)]
        places = [_place(one) for one in (*files, self.file) if one is not None]
        if len(set(places)) < len(places):
            raise Refused("--csv, --vcd and --record need a file each, none of them the circuit")
        for file in (self.csv, self.vcd):
            if file not in (None, STANDARD):
                assert file is not None
                check_place(file, "the sequence")

    @property
    def printed(self) -> int:
        """How many forms go to standard output instead of the words."""
        return self.as_json + (self.csv == STANDARD) + (self.vcd == STANDARD)


def _place(file: str) -> str:
    return file if file == STANDARD else os.path.realpath(Path(file))


@dataclass(frozen=True, slots=True)
class Meeting:
    """What a record says of the property's sequences: in this text, and how often in another."""

    decisions: tuple[Decision, ...] = ()
    elsewhere: int = 0

    @property
    def gone(self) -> Disposed:
        return disposed(self.decisions)


def meeting(loaded: Loaded, name: str, record: str | None) -> Meeting:
    """What the record has disposed of; raises Refused if it cannot be read."""
    if record is None:
        return Meeting()
    known, here = recording.load(record), loaded.text_fingerprint
    about = [one for one in known.decisions if one.property == name and one.disposition]
    return Meeting(known.disposed(name, here), sum(one.fingerprint != here for one in about))


@dataclass(frozen=True, slots=True)
class Retelling:
    """One call of `replay`: what it finds, told as it is wanted."""

    loaded: Loaded
    replaying: Replaying
    wanted: Wanted
    meeting: Meeting = Meeting()

    @property
    def circuit(self) -> Circuit:
        return self.loaded.circuit

    def tell(self, further: int) -> int:
        """Finds the sequence after so many further ones and tells it; the exit code."""
        if self.meeting.elsewhere:
            remark(
                f"{self.wanted.record}: {self.meeting.elsewhere} of its decisions on "
                f"{self.replaying.name} are about another text and pass over nothing here",
                self.wanted.quiet,
            )
        first = self.replaying.first()
        last, known = self._sought(first, further)
        if last.sequence is None:
            self._none(last, known)
        else:
            self._one(last, known)
        return self.replaying.exit_code(first)

    # ---- which one

    def _sought(self, first: Verdict, further: int) -> tuple[Verdict, tuple[Verdict, ...]]:
        """The sequence to be told, or the verdict that there is none; those found before it.

        Those disposed of are passed over, and so many further ones that are
        not; the first counts as one of these if it was passed over.
        """
        known: tuple[Verdict, ...] = ()
        last = first
        if first.sequence is not None and self.meeting.decisions:
            known = (first,) if self._gone(first) else ()
            last = self.replaying.another(known, self.meeting.gone.deeds, after=first.depth)
            if self._key(last) == self._key(first):
                last = first  # as `prove` has it
            elif further:
                further -= 1
        while last.sequence is not None and not self.replaying.defects:
            if not self._gone(last):
                if not further:
                    break
                further -= 1
            known = (*known, last)
            last = self.replaying.another(known, self.meeting.gone.deeds, after=first.depth)
        return last, known

    def _gone(self, verdict: Verdict) -> bool:
        return self._key(verdict) in self.meeting.gone.keys

    def _key(self, verdict: Verdict) -> str:
        return key_of(self.circuit, verdict.sequence)

    def _number(self, known: tuple[Verdict, ...]) -> int:
        """Which of the property's sequences it is, those passed over before it."""
        return len(self.meeting.gone.keys | {self._key(one) for one in known}) + 1

    # ---- telling it

    def _none(self, verdict: Verdict, known: tuple[Verdict, ...]) -> None:
        if self.wanted.as_json:
            self._json(verdict, known, None)
        elif not self.wanted.printed:
            click.echo(none_told(Told(self.circuit, verdict, self._number(known))))
        if self.wanted.csv is not None or self.wanted.vcd is not None:
            remark("there is no sequence, so no file was written", self.wanted.quiet)

    def _one(self, verdict: Verdict, known: tuple[Verdict, ...]) -> None:
        assert verdict.sequence is not None
        told, wanted = Told(self.circuit, verdict, self._number(known)), self.wanted
        console = Console(file=sys.stdout, markup=False, highlight=False, emoji=False)
        console.width = min(console.width, WIDEST)
        if not wanted.printed:
            show_run(told, console)
        self._write(verdict)
        self._keep(verdict)
        if wanted.as_json or not (wanted.printed or wanted.quiet):
            found = self._depends(verdict)
            if wanted.as_json:
                self._json(verdict, known, found)
            else:
                show_dependence(told, found, console)

    def _depends(self, verdict: Verdict) -> Dependence | None:
        asked = self.replaying.asked
        needs = depending(
            self.circuit,
            (verdict,),
            asked.seconds,
            asked.workers,
            self.replaying.told,
            self.replaying.work,
        )
        self.replaying.defects += needs.defects
        return needs.found.get(verdict.property)

    def _write(self, verdict: Verdict) -> None:
        circuit, run = self.circuit, verdict.sequence
        assert run is not None
        made = ((self.wanted.csv, table.to_csv), (self.wanted.vcd, waves.to_vcd))
        for file, form in made:
            if file == STANDARD:
                click.echo(form(circuit, run), nl=False)
            elif file is not None:
                put(file, form(circuit, run))
                remark(f"{file}: written", self.wanted.quiet)

    def _keep(self, verdict: Verdict) -> None:
        """An entry for a breach that is told, so that it can be disposed of."""
        record = self.wanted.record
        if record is not None and verdict.word == "breached":
            recording.keep(record, present_of(self.loaded, [verdict]))
            remark(f"{record}: has this as sequence {self._key(verdict)}", self.wanted.quiet)

    def _json(self, verdict: Verdict, known: tuple[Verdict, ...], found: Dependence | None) -> None:
        whole = replay.Replayed(
            self.circuit,
            self.loaded.text_fingerprint,
            verdict,
            known,
            found,
            self.meeting.decisions,
        )
        click.echo(replay.to_json(whole))
