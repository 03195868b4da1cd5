"""The command line.  Nothing heavy is imported until a command needs it."""

from __future__ import annotations

import click

from airproof import __version__
from airproof.cli.commands.compare import compare
from airproof.cli.commands.draw import draw
from airproof.cli.commands.prove import prove
from airproof.cli.commands.replay import replay
from airproof.cli.commands.report import report
from airproof.cli.commands.tidy import tidy
from airproof.cli.shell import Shell
from airproof.report.caution import CAUTION


@click.group(
    cls=Shell,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
    epilog=CAUTION,
)
@click.version_option(__version__, prog_name="airproof", message="%(prog)s %(version)s")
def main() -> None:
    """Proves safety properties of compressed-air control circuits.

    FILE is a circuit written as text; - reads standard input.

    \b
    airproof prove winder.circuit          is every property so?
    airproof replay winder.circuit slack_rope  how it is breached, step by step
    airproof compare winder.circuit plug.change  what does a change do?
    airproof draw winder.circuit -o w.svg  a drawing of it
    airproof report winder.circuit -o w.html  the pack for a hazard meeting
    airproof tidy --write winder.circuit   bring the text into its usual shape

    \b
    Exit codes: 0 all hold; 1 at least one is breached; 2 the text, the call
    or the circuit's health is wrong; 3 none is breached, but at least one is
    undecided.
    """


for command in (prove, replay, tidy, draw, report, compare):
    main.add_command(command)


def entry() -> None:
    """The program `airproof`."""
    main(prog_name="airproof")


if __name__ == "__main__":
    entry()
