"""`airproof draw`: a schematic."""

from __future__ import annotations

import click

from airproof.cli.shell import remark
from airproof.report.caution import CAUTION


@click.command(epilog=CAUTION)
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
