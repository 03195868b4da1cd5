"""`airproof compare`: what a change does."""

from __future__ import annotations

import datetime

import click

from airproof.cli import options
from airproof.cli.shell import defect
from airproof.report.caution import CAUTION


@click.command(epilog=CAUTION)
@click.argument("file")
@click.argument("changes", nargs=-1, required=True, metavar="CHANGE...")
@click.option("--stages", is_flag=True, help="Judge the half-fitted circuit after each step too.")
@click.option(
    "--slow",
    is_flag=True,
    help="Ask both circuits again what holds for every run: each device slow, and in instants.",
)
@click.option(
    "-o",
    "--output",
    metavar="HTML",
    help="Write the comparison there as one page, with both drawings; - prints it.",
)
@options.date
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
@click.option(
    "--limit",
    type=click.FloatRange(0, options.LONGEST, min_open=True),
    callback=options.finite,
    default=options.SECONDS,
    show_default=True,
    metavar="SECONDS",
    help="Time for each property of each circuit.",
)
@options.steps
@options.workers
@click.option(
    "--certificates",
    metavar="FOLDER",
    help="Write what proves the part about watchers there, for other solvers.",
)
@click.option("--quiet", is_flag=True, help="A line for each property, no progress.")
@click.pass_context
def compare(
    context: click.Context,
    file: str,
    changes: tuple[str, ...],
    stages: bool,
    slow: bool,
    output: str | None,
    date: datetime.date | None,
    as_json: bool,
    limit: float,
    steps: int | None,
    workers: int,
    certificates: str | None,
    quiet: bool,
) -> None:
    """Say what each CHANGE does to the circuit of FILE.

    CHANGE is a change file, whose steps are applied in order, or another
    circuit. Every property is judged before and after; with up to four
    changes each set of them is (with more, each one and all), and the
    smallest that is found to breach a property is named.
    Whether somebody who watches could tell the two circuits apart is said too.

    \b
    airproof compare winder.circuit blank_bypass.change --stages
    airproof compare winder.circuit winder_as_found.circuit -o compared.html

    The exit code is that of `prove` for the changed circuit and, where they
    are asked for, for the half-fitted ones, whichever is graver.
    """
    from airproof.cli.comparing import Comparing, proposed

    plan = proposed(file, changes)  # before the rest is imported: a slip is answered at once
    from airproof.cli.exporting import check_folder, put
    from airproof.cli.output import print_comparison, screen
    from airproof.cli.showing import Page
    from airproof.report.apart_certificates import apart_files

    page = Page(output, (file, *changes), date)
    page.check(as_json)
    if certificates is not None:
        check_folder(certificates)
    comparing = Comparing(plan, limit, steps, workers, screen(quiet))
    compared = comparing.compared(stages=stages, slow=slow)
    if not comparing.defects:
        page.write(compared, quiet)
    if output != "-":
        print_comparison(compared, as_json, quiet or (output is not None and not as_json))
    if certificates is not None and not comparing.defects:
        put(certificates, apart_files(compared), quiet)
    if comparing.defects:
        context.exit(defect(comparing.defects))
    context.exit(comparing.code)
