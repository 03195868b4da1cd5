"""Starts the program; light, so that Ctrl-C while the rest is loaded ends as it does later."""

from __future__ import annotations

import sys

WRONG = 2


def entry() -> None:
    """The program `airproof`."""
    try:
        from airproof.cli.main import entry as begin

        begin()
    except KeyboardInterrupt:
        sys.stderr.write("interrupted\n")
        sys.exit(WRONG)
