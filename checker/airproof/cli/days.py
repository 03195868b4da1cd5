"""Dates on the command line."""

from __future__ import annotations

import datetime
import re

import click

_WRITTEN = re.compile(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})")


def day(_: click.Context, __: click.Parameter, written: str | None) -> datetime.date | None:
    """The day of `2026-11-28`; raises BadParameter if that is no date, or there is no such day."""
    if written is None:
        return None
    found = _WRITTEN.fullmatch(written.strip())
    if found is None:
        raise click.BadParameter(f"`{written}` is no date; write it as 2026-11-28")
    try:
        return datetime.date(*map(int, found.groups()))
    except ValueError:
        raise click.BadParameter(f"there is no such day as {written}") from None
