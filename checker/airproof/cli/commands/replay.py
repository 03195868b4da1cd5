"""`airproof replay`: one sequence, step by step."""

from __future__ import annotations

import click

from airproof.cli import options
from airproof.cli.shell import defect
from airproof.report.caution import CAUTION


@click.command(epilog=CAUTION)
@click.argument("file")
@click.argument("property")
@click.option(
    "--another",
    count=True,
    help="The next sequence, one that differs in what moves; twice: the one after that.",
)
@click.option(
    "--record",
    metavar="TOML",
    help="Pass over what the meeting's decisions there dispose of; a breach told gets an entry.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
@click.option("--csv", metavar="FILE", help="Write the sequence as a table; - prints it alone.")
@click.option(
    "--vcd", metavar="FILE", help="Write it as a value change dump (IEEE 1364); - prints it alone."
)
@click.option(
    "--limit",
    type=click.FloatRange(0, options.LONGEST, min_open=True),
    callback=options.finite,
    default=options.SECONDS,
    show_default=True,
    metavar="SECONDS",
    help="Time for each sequence, and as much for what the last one depends on.",
)
@click.option(
    "--steps", type=click.IntRange(1, 1000), metavar="N", help="Longest sequence searched for."
)
@options.workers
@click.option("--quiet", is_flag=True, help="Only the sequence, no progress.")
@click.pass_context
def replay(
    context: click.Context,
    file: str,
    property: str,
    another: int,
    record: str | None,
    as_json: bool,
    csv: str | None,
    vcd: str | None,
    limit: float,
    steps: int | None,
    workers: int,
    quiet: bool,
) -> None:
    """Tell the sequence of PROPERTY step by step.

    What moved and why it was due, how long passed where that is known, the
    pressures, and what it depends on: the moves and settings without any one
    of which it cannot happen.

    \b
    airproof replay winder.circuit no_lift_on_low_supply
    airproof replay winder.circuit no_lift_on_low_supply --another
    airproof replay winder.circuit no_lift_on_low_supply --record hazards.toml
    airproof replay winder.circuit no_lift_on_low_supply --vcd run.vcd

    The exit code is that of `prove` for this property.
    """
    from airproof.language import load

    loaded = load(file)
    from airproof.cli.collecting import Asked
    from airproof.cli.output import screen
    from airproof.cli.proving import chosen
    from airproof.cli.replaying import Replaying
    from airproof.cli.retelling import Retelling, Wanted, meeting

    names = chosen(loaded.circuit, (property,), file)
    wanted = Wanted(file, as_json, csv, vcd, quiet, record)
    wanted.check()
    known = meeting(loaded, property, record)
    asked = Asked(loaded.circuit, names, limit, steps, workers)
    replaying = Replaying(asked, screen(quiet))
    code = Retelling(loaded, replaying, wanted, known).tell(another)
    if replaying.defects:
        defect(replaying.defects)
    context.exit(code)
