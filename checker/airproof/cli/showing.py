"""`compare -o`: the comparison as a page."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import click

from airproof.cli.files import check_place, put
from airproof.cli.reporting import same
from airproof.cli.shell import Refused, remark
from airproof.report.comparison import Comparison
from airproof.report.pack import ComparisonPack, render_comparison


@dataclass(frozen=True, slots=True)
class Page:
    """Where it goes (None: nowhere), the files that are compared, and its date."""

    output: str | None
    files: tuple[str, ...]
    date: datetime.date | None

    def check(self, as_json: bool) -> None:
        """Raises Refused if the page could not be put there."""
        if self.output == "-" and as_json:
            raise Refused("only one of --json and -o - can go to standard output")
        if self.output in (None, "-"):
            return
        assert self.output is not None
        check_place(self.output, "the page")
        for file in self.files:
            if file != "-" and same(self.output, file):
                raise Refused(f"{self.output} is what is compared; name another file for the page")

    def write(self, compared: Comparison, quiet: bool) -> None:
        """Writes or prints it; raises Refused."""
        if self.output is None:
            return
        date = self.date or datetime.date.today()
        text = render_comparison(ComparisonPack(compared, self.files, date.isoformat()))
        if self.output == "-":
            click.echo(text, nl=False)
            return
        put(self.output, text)
        remark(f"{self.output}: written", quiet)
