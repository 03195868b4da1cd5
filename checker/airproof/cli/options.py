"""Options that several commands have."""

from __future__ import annotations

import math

import click

from airproof.cli.days import day

SECONDS = 60.0  # default limit for each property
LONGEST = 1_000_000.0  # [s]


def finite(_: click.Context, __: click.Parameter, seconds: float) -> float:
    """The seconds, if they are a number of them."""
    if not math.isfinite(seconds):
        raise click.BadParameter("say a number of seconds")
    return seconds


steps = click.option(
    "--steps",
    type=click.IntRange(1, 1000),
    metavar="N",
    help="Longest sequence searched for.",
)
workers = click.option(
    "--workers",
    type=click.IntRange(1, 64),
    default=2,
    show_default=True,
    metavar="N",
    help="Processes that share the work.",
)
date = click.option(
    "--date",
    callback=day,
    metavar="YEAR-MONTH-DAY",
    help="The date on the page; today's if none is said.",
)
