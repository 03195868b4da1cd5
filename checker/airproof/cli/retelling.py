"""Where a replayed sequence goes: the screen, standard output as data, files."""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass
from pathlib import Path

import click
from rich.console import Console

from airproof.circuit.kinds import Circuit
from airproof.cli.files import put
from airproof.cli.output import WIDEST
from airproof.cli.replaying import Replaying
from airproof.cli.shell import Refused, remark
from airproof.evidence.dependence import Dependence
from airproof.evidence.verdict import Verdict
from airproof.language.load import Loaded
from airproof.report import replay, table, waves
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

    def check(self) -> None:
        """Raises Refused if two of them would go to one place, or over the circuit."""
        if self.printed > 1:
            raise Refused("only one of --json, --csv - and --vcd - can go to standard output")
        files = [one for one in (self.csv, self.vcd) if one not in (None, STANDARD)]
        places = [_place(one) for one in (*files, self.file) if one is not None]
        if len(set(places)) < len(places):
            raise Refused("--csv and --vcd need a file each, and another than the circuit's")

    @property
    def printed(self) -> int:
        """How many forms go to standard output instead of the words."""
        return self.as_json + (self.csv == STANDARD) + (self.vcd == STANDARD)


def _place(file: str) -> str:
    return file if file == STANDARD else os.path.realpath(Path(file))


@dataclass(frozen=True, slots=True)
class Retelling:
    """One call of `replay`: what it finds, told as it is wanted."""

    loaded: Loaded
    replaying: Replaying
    wanted: Wanted

    @property
    def circuit(self) -> Circuit:
        return self.loaded.circuit

    def tell(self, further: int) -> int:
        """Finds the sequence after so many further ones and tells it; the exit code."""
        first = self.replaying.first()
        known: tuple[Verdict, ...] = ()
        last = first
        while last.sequence is not None and len(known) < further and not self.replaying.defects:
            known = (*known, last)
            last = self.replaying.another(known)
        if last.sequence is None:
            self._none(last, known)
        else:
            self._one(last, known)
        return self.replaying.exit_code(first)

    def _none(self, verdict: Verdict, known: tuple[Verdict, ...]) -> None:
        if self.wanted.as_json:
            self._json(verdict, known, None)
        elif not self.wanted.printed:
            click.echo(none_told(Told(self.circuit, verdict, len(known) + 1)))
        if self.wanted.csv is not None or self.wanted.vcd is not None:
            remark("there is no sequence, so no file was written", self.wanted.quiet)

    def _one(self, verdict: Verdict, known: tuple[Verdict, ...]) -> None:
        assert verdict.sequence is not None
        told, wanted = Told(self.circuit, verdict, len(known) + 1), self.wanted
        console = Console(file=sys.stdout, markup=False, highlight=False, emoji=False)
        console.width = min(console.width, WIDEST)
        if not wanted.printed:
            show_run(told, console)
        self._write(verdict)
        if wanted.as_json or not (wanted.printed or wanted.quiet):
            found = self.replaying.depends_on(verdict.sequence)
            if wanted.as_json:
                self._json(verdict, known, found if isinstance(found, Dependence) else None)
            else:
                show_dependence(told, found, console)

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

    def _json(self, verdict: Verdict, known: tuple[Verdict, ...], found: Dependence | None) -> None:
        fingerprint = self.loaded.text_fingerprint
        whole = replay.Replayed(self.circuit, fingerprint, verdict, known, found)
        click.echo(replay.to_json(whole))
