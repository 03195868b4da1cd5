"""Where results and progress go: standard output, and the terminal if there is one."""

from __future__ import annotations

import sys

import click
from rich.console import Console

from airproof.cli.collecting import Told
from airproof.cli.progress import Ticker
from airproof.report.results import Results, to_json
from airproof.report.terminal import show, show_briefly

WIDEST = 100  # columns; longer lines are hard to read


def print_json(results: Results) -> None:
    click.echo(to_json(results))


def print_report(results: Results, quiet: bool) -> None:
    """The report on standard output: at most 100 columns, in plain text where nobody looks."""
    console = Console(file=sys.stdout, markup=False, highlight=False, emoji=False)
    console.width = min(console.width, WIDEST)
    (show_briefly if quiet else show)(results, console)


def screen(quiet: bool) -> Told:
    """Progress goes to the standard error stream if that is a terminal, else to nobody."""
    if quiet or not sys.stderr.isatty():
        return Told()
    ticker = Ticker(sys.stderr, Console(file=sys.stderr).width)
    return Told(ticker.depth, ticker.verdict, ticker.further, ticker.clear)
