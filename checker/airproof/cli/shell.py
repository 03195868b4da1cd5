"""What a person sees when a command cannot go on: a message, never a traceback."""

from __future__ import annotations

import contextlib
import os
import platform
import sys
from collections.abc import Sequence
from typing import Any

import click

from airproof import __version__
from airproof.cli.errors import described, told

WRONG = 2


class Refused(click.ClickException):
    """The call cannot be carried out; the message says why and what would help."""

    exit_code = WRONG


class Shell(click.Group):
    """A group of commands in which every error ends as a message and an exit code."""

    def main(  # type: ignore[override]
        self, args: Sequence[str] | None = None, standalone_mode: bool = True, **extra: Any
    ) -> Any:
        """As click's, but every error ends here when `standalone_mode` is on."""
        if not standalone_mode:
            return super().main(args, standalone_mode=False, **extra)
        if sys.stdout is None:  # a file opened now would take its place
            sys.exit(_say("airproof: standard output is closed, so there is nowhere to write to"))
        with contextlib.suppress(AttributeError, ValueError):  # another stream stands in
            sys.stdout.reconfigure(errors="replace")  # type: ignore[union-attr]
            sys.stderr.reconfigure(errors="replace")  # type: ignore[union-attr]
        try:
            code = super().main(args, standalone_mode=False, **extra)
            sys.stdout.flush()
        except SystemExit:  # click's way with a broken pipe; its 1 would say `breached`
            code = _hushed()
        except Exception as error:
            code = _failed(error)
        except KeyboardInterrupt:
            code = _say("interrupted")
        sys.exit(code if isinstance(code, int) else 0)


def _failed(error: Exception) -> int:
    """Says what went wrong; the exit code is always 2."""
    from airproof.base.diagnostics import Rejected

    match error:
        case click.ClickException():
            _show(error)
            return WRONG
        case click.Abort():
            return _say("interrupted")
        case Rejected():
            return _say(str(error))
        case BrokenPipeError():
            return _hushed()
        case OSError():
            return _say(f"airproof: {described(error)}")
    return defect([told(error)])


def defect(lines: Sequence[str]) -> int:
    """Says that airproof itself is wrong, and what to report."""
    where = f"airproof {__version__}, Python {platform.python_version()}, {platform.system()}"
    _say("This is a defect of airproof, not of your circuit. Please report:")
    for line in (where, *lines):
        _say(f"  {line}")
    return _say("with the circuit, if you may pass it on. Do not rely on any result of this call.")


def remark(text: str | None, quiet: bool) -> None:
    """Something to know that is no part of the result."""
    if text and not quiet:
        _say(text)


def _say(text: str) -> int:
    with contextlib.suppress(OSError):  # nobody listens any more
        click.echo(text, err=True)
    return WRONG


def _show(error: click.ClickException) -> None:
    with contextlib.suppress(OSError):
        error.show()


def _hushed() -> int:
    """The reader of our output has gone: nothing more is written, nothing is said."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return WRONG
