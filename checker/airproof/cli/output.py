"""Where results and progress go: standard output, and the terminal if there is one."""

from __future__ import annotations

import os
import sys

import click
from rich.console import Console

from airproof.cli.collecting import Told
from airproof.cli.files import check_place, put
from airproof.cli.progress import Ticker
from airproof.cli.shell import Refused, remark
from airproof.report.compared import show_comparison, show_comparison_briefly
from airproof.report.comparison import Comparison
from airproof.report.comparison_data import comparison_json
from airproof.report.junit import to_junit
from airproof.report.results import Results, to_json
from airproof.report.terminal import show, show_briefly

WIDEST = 100  # columns; longer lines are hard to read


def print_json(results: Results) -> None:
    click.echo(to_json(results))


def print_results(results: Results, as_json: bool, quiet: bool) -> None:
    """On standard output, as data or as the report."""
    print_json(results) if as_json else print_report(results, quiet)


def check_junit(file: str | None, circuit: str, as_json: bool) -> None:
    """Raises Refused if the verdicts cannot go to that file as JUnit XML."""
    if file == "-" and as_json:
        raise Refused("only one of --json and --junit - can go to standard output")
    if file not in (None, "-") and os.path.realpath(file) == os.path.realpath(circuit):
        raise Refused(f"{file} is the circuit; name another file for --junit")
    if file not in (None, "-"):
        assert file is not None
        check_place(file, "the verdicts")


def put_junit(file: str | None, results: Results, quiet: bool) -> None:
    """The verdicts as JUnit XML in the file, or on standard output for `-`."""
    if file == "-":
        click.echo(to_junit(results), nl=False)
    elif file is not None:
        put(file, to_junit(results))
        remark(f"{file}: written", quiet)


def print_report(results: Results, quiet: bool) -> None:
    """The report on standard output: at most 100 columns, in plain text where nobody looks."""
    console = Console(file=sys.stdout, markup=False, highlight=False, emoji=False)
    console.width = min(console.width, WIDEST)
    (show_briefly if quiet else show)(results, console)


def print_comparison(compared: Comparison, as_json: bool, quiet: bool) -> None:
    """On standard output, as data or as the report."""
    if as_json:
        click.echo(comparison_json(compared))
        return
    console = Console(file=sys.stdout, markup=False, highlight=False, emoji=False)
    console.width = min(console.width, WIDEST)
    (show_comparison_briefly if quiet else show_comparison)(compared, console)


def screen(quiet: bool) -> Told:
    """Progress goes to the standard error stream if that is a terminal, else to nobody."""
    if quiet or not sys.stderr.isatty():
        return Told()
    ticker = Ticker(sys.stderr, Console(file=sys.stderr).width)
    return Told(ticker.depth, ticker.verdict, ticker.further, ticker.clear)
