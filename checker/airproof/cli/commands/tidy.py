"""`airproof tidy`: a text brought into its usual shape."""

from __future__ import annotations

import click

from airproof.cli.shell import remark
from airproof.report.caution import CAUTION


@click.command(epilog=CAUTION)
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
