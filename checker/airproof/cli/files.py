"""Reading a text, and rewriting a file whole or not at all."""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
from pathlib import Path

from airproof.cli.errors import described
from airproof.cli.shell import Refused


def read(file: str) -> str:
    """The text of the file, or of standard input for `-`; line ends as they are.

    Raises Refused if it cannot be read or is no text.
    """
    name = "standard input" if file == "-" else file
    try:
        data = sys.stdin.buffer.read() if file == "-" else Path(file).read_bytes()
    except OSError as error:
        raise Refused(f"cannot read {name}: {error.strerror}") from error
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise Refused(f"{name}: not UTF-8 text, from line {line} on") from error


def rewrite(file: str, text: str) -> None:
    """Puts the text in the place of the file's, keeping its permissions and links to it.

    Raises Refused, the file as it was, if any of it cannot be written.
    """
    path = Path(os.path.realpath(file))
    try:
        if not os.access(path, os.W_OK):
            raise PermissionError(None, "it is write-protected", str(path))
        _replace(path, text)
    except OSError as error:
        raise Refused(f"cannot write {file}, which is as it was: {described(error)}") from error


def _replace(path: Path, text: str) -> None:
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as temporary:
            temporary.write(text.encode("utf-8"))
            temporary.flush()
            os.fsync(temporary.fileno())
        Path(name).chmod(path.stat().st_mode & 0o7777)
        Path(name).replace(path)
    except BaseException:
        with contextlib.suppress(OSError):
            Path(name).unlink()
        raise
