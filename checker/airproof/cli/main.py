"""The command line.  Nothing heavy is imported until a command needs it."""

from __future__ import annotations

import datetime
import math

import click

from airproof import __version__
from airproof.cli.days import day
from airproof.cli.shell import Shell, defect, remark
from airproof.report.caution import CAUTION

SECONDS = 60.0  # default limit for each property
LONGEST = 1_000_000.0  # [s]


def _finite(_: click.Context, __: click.Parameter, seconds: float) -> float:
    if not math.isfinite(seconds):
        raise click.BadParameter("say a number of seconds")
    return seconds


_steps = click.option(
    "--steps",
    type=click.IntRange(1, 1000),
    metavar="N",
    help="Longest sequence searched for.",
)
_workers = click.option(
    "--workers",
    type=click.IntRange(1, 64),
    default=2,
    show_default=True,
    metavar="N",
    help="Processes that share the work.",
)
_date = click.option(
    "--date",
    callback=day,
    metavar="YEAR-MONTH-DAY",
    help="The date on the page; today's if none is said.",
)


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


@main.command(epilog=CAUTION)
@click.argument("file")
@click.argument("properties", nargs=-1, metavar="[PROPERTY]...")
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
@click.option(
    "--limit",
    type=click.FloatRange(0, LONGEST, min_open=True),
    callback=_finite,
    default=SECONDS,
    show_default=True,
    metavar="SECONDS",
    help="Time for each property, and twice that for trying all of them again with slow devices.",
)
@_steps
@_workers
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


@main.command(epilog=CAUTION)
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
    type=click.FloatRange(0, LONGEST, min_open=True),
    callback=_finite,
    default=SECONDS,
    show_default=True,
    metavar="SECONDS",
    help="Time for each sequence, and as much for what the last one depends on.",
)
@click.option(
    "--steps", type=click.IntRange(1, 1000), metavar="N", help="Longest sequence searched for."
)
@_workers
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


@main.command(epilog=CAUTION)
@click.argument("file")
@click.option("--write", is_flag=True, help="Rewrite FILE instead of printing its tidy text.")
@click.option("--check", is_flag=True, help="Only say whether FILE is tidy: 0 tidy, 1 not.")
@click.option("--quiet", is_flag=True, help="Say nothing but what is wrong.")
@click.pass_context
def tidy(context: click.Context, file: str, write: bool, check: bool, quiet: bool) -> None:
    """Print the text of FILE in its usual shape.

    \b
    airproof tidy --check winder.circuit

    \b
    Exit codes: 0 done, or tidy; 1 not tidy (with --check); 2 the text or the
    call is wrong.
    """
    from airproof.cli.files import read, rewrite
    from airproof.language import tidy as tidied

    if write and (check or file == "-"):
        raise click.UsageError("--write needs a file, and goes without --check")
    text = read(file)
    shape = tidied(text, file)
    if check:
        remark(None if text == shape else f"{file}: not tidy", quiet)
        context.exit(int(text != shape))
    if not write:
        click.echo(shape, nl=False)
    elif text != shape:
        rewrite(file, shape)
        remark(f"{file}: tidied", quiet)


@main.command(epilog=CAUTION)
@click.argument("file")
@click.option(
    "-o",
    "--output",
    metavar="SVG",
    default="-",
    help="Write the picture there; without it, or with -, print it.",
)
@click.option("--state", metavar="NAME", help="As FILE's standing state NAME, not as it starts.")
@click.option("--quiet", is_flag=True, help="Say nothing but what is wrong.")
def draw(file: str, output: str, state: str | None, quiet: bool) -> None:
    """Draw the circuit of FILE as an SVG picture.

    Symbols and lines of air, and under them a panel of what moves what. It
    shows the circuit as it stands: positions, pressures, where air moves.

    \b
    airproof draw winder.circuit -o winder.svg
    airproof draw winder.circuit --state running -o running.svg

    \b
    Exit codes: 0 drawn; 2 the text or the call is wrong.
    """
    from airproof.cli.files import check_place, put
    from airproof.cli.reporting import same
    from airproof.cli.shell import Refused
    from airproof.language import load

    loaded = load(file)
    if output != "-":
        check_place(output, "the picture")
    if output != "-" and any(same(output, name) for name in (file, *loaded.sources)):
        raise Refused(f"{output} is the circuit; name another file for the picture")
    from airproof.cli.picture import picture

    drawn = picture(loaded.circuit, state, file)
    if output == "-":
        click.echo(drawn, nl=False)
        return
    put(output, drawn)
    remark(f"{output}: drawn", quiet)


@main.command(epilog=CAUTION)
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
@_date
@click.option(
    "--limit",
    type=click.FloatRange(0, LONGEST, min_open=True),
    callback=_finite,
    default=SECONDS,
    show_default=True,
    metavar="SECONDS",
    help="Time for each property, and twice that for trying all of them again with slow devices.",
)
@_steps
@_workers
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


@main.command(epilog=CAUTION)
@click.argument("file")
@click.argument("changes", nargs=-1, required=True, metavar="CHANGE...")
@click.option("--stages", is_flag=True, help="Judge the half-fitted circuit after each step too.")
@click.option(
    "-o",
    "--output",
    metavar="HTML",
    help="Write the comparison there as one page, with both drawings; - prints it.",
)
@_date
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
@click.option(
    "--limit",
    type=click.FloatRange(0, LONGEST, min_open=True),
    callback=_finite,
    default=SECONDS,
    show_default=True,
    metavar="SECONDS",
    help="Time for each property of each circuit.",
)
@_steps
@_workers
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
    circuit. Every property is judged before and after; with several changes
    each set of them is, and the smallest that breaches a property is named.
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
    compared = comparing.compared(stages=stages)
    if not comparing.defects:
        page.write(compared, quiet)
    if output != "-":
        print_comparison(compared, as_json, quiet or (output is not None and not as_json))
    if certificates is not None and not comparing.defects:
        put(certificates, apart_files(compared), quiet)
    if comparing.defects:
        context.exit(defect(comparing.defects))
    context.exit(comparing.code)


def entry() -> None:
    """The program `airproof`."""
    main(prog_name="airproof")


if __name__ == "__main__":
    entry()
