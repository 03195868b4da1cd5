"""Reading a text, and rewriting a file whole or not at all."""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
from pathlib import Path

from airproof.base.diagnostics import Problem
from airproof.cli.errors import said_by
from airproof.cli.shell import Refused
from airproof.language.files import LARGEST, decode, read_file


def read(file: str) -> str:
    """The text of the file, or of standard input for `-`, with line ends made equal.

    Raises Rejected if it cannot be read or is no text.
    """
    name = "standard input" if file == "-" else file

    def problem(code: str) -> Problem:
        return Problem(code, None, {"path": name, "most": f"{LARGEST // 1000} kB"})

    if file == "-":
        return decode(sys.stdin.buffer.read(LARGEST + 1), problem)
    return read_file(Path(file), problem)


def check_place(file: str, made: str) -> None:
    """Raises Refused if no file can be put there; `made` is what would be in it."""
    if Path(file).is_dir():
        raise Refused(f"{file} is a folder; name a file for {made}")
    real = Path(os.path.realpath(file))
    beside = Path(file).parent
    folder = real.parent if beside.is_dir() else beside
    if not folder.is_dir():
        raise Refused(f"there is no folder {folder}, so {made} cannot be put there")
    if not os.access(folder, os.W_OK | os.X_OK) and (real.is_file() or not real.exists()):
        raise Refused(f"the folder {folder} is write-protected, so {made} cannot be put there")


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
        raise Refused(f"cannot write {file}, which is as it was: {said_by(error)}") from error


def put(file: str, text: str) -> None:
    """Puts the text into the file, new or not; into a pipe or a terminal it is written as it goes.

    Raises Refused, an earlier file as it was, if any of it cannot be written.
    """
    path = Path(os.path.realpath(file))
    try:
        if path.is_file():
            rewrite(file, text)
        elif path.exists() and not path.is_dir():
            path.write_text(text, encoding="utf-8")
        else:
            _replace(path, text)
    except OSError as error:
        raise Refused(f"cannot write {file}: {said_by(error)}") from error


def _replace(path: Path, text: str) -> None:
    if path.is_dir():
        raise IsADirectoryError(None, "it is a folder", str(path))
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as temporary:
            temporary.write(text.encode("utf-8"))
            temporary.flush()
            os.fsync(temporary.fileno())
        Path(name).chmod(path.stat().st_mode & 0o7777 if path.exists() else 0o666 & ~_masked())
        Path(name).replace(path)
    except BaseException:
        with contextlib.suppress(OSError):
            Path(name).unlink()
        raise


def _masked() -> int:
    """The permissions that new files of this process do without."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
