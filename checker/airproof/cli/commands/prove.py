"""`airproof prove`: is every property so?"""

from __future__ import annotations

import click

from airproof.cli import options
from airproof.cli.shell import defect
from airproof.report.caution import CAUTION


@click.command(epilog=CAUTION)
@click.argument("file")
@click.argument("properties", nargs=-1, metavar="[PROPERTY]...")
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
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
@click.option(
    "--certificates",
    metavar="FOLDER",
    help="Put into FOLDER what lets any other SMT-LIB solver check each proof.",
)
@click.option(
    "--junit", metavar="FILE", help="Write the verdicts as JUnit XML; - prints them instead."
)
@click.option("--quiet", is_flag=True, help="One line for each property, no progress.")
@click.pass_context
def prove(
    context: click.Context,
    file: str,
    properties: tuple[str, ...],
    as_json: bool,
    limit: float,
    steps: int | None,
    workers: int,
    certificates: str | None,
    junit: str | None,
    quiet: bool,
) -> None:
    """Prove each PROPERTY, or show the shortest sequence that breaches it.

    Without PROPERTY every property of FILE is tried. What holds is tried again
    with each device slow that has no moving time, one at a time, and in
    passing instants; that changes no verdict. Ctrl-C leaves what was found.

    \b
    airproof prove winder.circuit no_lift_on_low_supply --limit 10
    airproof prove winder.circuit --certificates proofs
    """
    from airproof.language import load

    loaded = load(file)  # before the rest is imported: a slip is answered at once
    from airproof.cli.collecting import Asked
    from airproof.cli.exporting import check_folder, export
    from airproof.cli.output import check_junit, print_results, put_junit, screen
    from airproof.cli.proving import chosen, gather
    from airproof.report.results import Results

    names = chosen(loaded.circuit, properties, file)
    if certificates is not None:
        check_folder(certificates)
    check_junit(junit, file, as_json)
    asked = Asked(loaded.circuit, names, limit, steps, workers)
    gathered = gather(asked, screen(quiet))
    results = Results(loaded.circuit, loaded.text_fingerprint, gathered.verdicts, gathered.findings)
    print_results(results, as_json, quiet) if junit != "-" else None
    put_junit(junit, results, quiet)
    if gathered.defects:
        defect(gathered.defects)
    if certificates is not None:
        export(certificates, results, gathered.defects, quiet)
    context.exit(gathered.exit_code)
