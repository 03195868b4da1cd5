"""`airproof report`: the pack for a hazard meeting."""

from __future__ import annotations

import datetime

import click

from airproof.cli import options
from airproof.cli.shell import defect, remark
from airproof.report.caution import CAUTION


@click.command(epilog=CAUTION)
@click.argument("file")
@click.argument("properties", nargs=-1, metavar="[PROPERTY]...")
@click.option(
    "-o", "--output", metavar="HTML", required=True, help="Write the pack there; - prints it."
)
@click.option(
    "--record",
    metavar="TOML",
    help="The file of the meeting's decisions: shown in the pack, with an entry for each breach.",
)
@click.option(
    "--matrix",
    type=click.Choice(["classes", "railway", "defence"]),
    default="classes",
    show_default=True,
    help="The risk matrix on the record sheets.",
)
@options.date
@click.option(
    "--limit",
    type=click.FloatRange(0, options.LONGEST, min_open=True),
    callback=options.finite,
    default=options.SECONDS,
    show_default=True,
    metavar="SECONDS",
    help="Time for each property, and twice that for trying all of them again with slow devices.",
)
@options.steps
@options.workers
@click.option("--quiet", is_flag=True, help="Say nothing but what is wrong.")
@click.pass_context
def report(
    context: click.Context,
    file: str,
    properties: tuple[str, ...],
    output: str,
    record: str | None,
    matrix: str,
    date: datetime.date | None,
    limit: float,
    steps: int | None,
    workers: int,
    quiet: bool,
) -> None:
    """Prove each PROPERTY and write the pack for a hazard meeting.

    One HTML file that needs no network: verdicts and their scope, each breach
    step by step on the drawing, record sheets, test cards. It prints on A4.

    \b
    airproof report winder.circuit -o winder.html
    airproof report winder.circuit -o winder.html --record hazards.toml

    The exit code is that of `prove`.
    """
    from airproof.language import load

    loaded = load(file)
    from airproof.cli.collecting import Asked
    from airproof.cli.depending import depending
    from airproof.cli.output import print_report, screen
    from airproof.cli.passing import passed
    from airproof.cli.proving import chosen, gather
    from airproof.cli.reporting import Found, Wanted, aside, deliver, pack
    from airproof.report.results import Results

    names = chosen(loaded.circuit, properties, file)
    wanted = Wanted(file, output, record, matrix, date)
    wanted.check()
    asked = Asked(loaded.circuit, names, limit, steps, workers)
    gathered = gather(asked, screen(quiet))
    if gathered.defects:
        defect(gathered.defects)
        context.exit(gathered.exit_code)
    told = passed(asked, gathered.verdicts, aside(loaded, record), screen(quiet))
    breached = tuple(one for one in told.verdicts if one.word == "breached")
    needs = depending(loaded.circuit, breached, limit, workers, screen(quiet))
    if told.defects or needs.defects:
        context.exit(defect((*told.defects, *needs.defects)))
    text = pack(loaded, Found(told, gathered.findings), wanted, needs.found)
    if output == "-":
        click.echo(text, nl=False)
        context.exit(gathered.exit_code)
    deliver(text, output)
    if not quiet:
        found = (gathered.verdicts, gathered.findings)
        print_report(Results(loaded.circuit, loaded.text_fingerprint, *found), quiet=True)
    remark(f"{output}: written", quiet)
    context.exit(gathered.exit_code)
