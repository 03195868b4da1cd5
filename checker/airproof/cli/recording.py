"""The file of a meeting's decisions: read, and added to so that nobody loses anything."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path

import filelock

from airproof.base.diagnostics import pointed
from airproof.base.source import Span
from airproof.cli.errors import said_by
from airproof.cli.files import check_place, put
from airproof.cli.shell import Refused
from airproof.report.pack.records import Present, Record, added, read
from airproof.report.pack.toml_text import MARK, Unreadable

LARGEST = 20_000_000  # bytes
PATIENCE = 20.0  # [s] until another writer has done
ATTEMPTS = 20  # while somebody without a lock keeps saving the file


def load(file: str) -> Record:
    """The record, an empty one if there is none yet; raises Refused, with the line of a mistake."""
    known = _read(file, _bytes(file))
    check_place(file, "the record")
    return known


def keep(file: str, present: Present) -> Record:
    """The record with an entry for every breach; what was written in it stays as it was.

    Where there is no breach no file is made, not even for a moment.

    Raises Refused, the file as it was, if it cannot be read or written.
    """
    check_place(file, "the record")
    if not present.keys:
        return _read(file, _bytes(file))
    with _locked(file):
        for _ in range(ATTEMPTS):
            before = _bytes(file)
            record = _read(file, before)
            text = added(record, present)
            if text == record.text:
                return record
            if _bytes(file) == before:  # nobody saved it meanwhile
                put(file, text)
                _settle(Path(os.path.realpath(file)).parent)
                return read(text)
    raise Refused(f"{file} is being written by somebody else all the time; nothing was added")


@contextlib.contextmanager
def _locked(file: str) -> Iterator[None]:
    """One writer at a time; the system lets go of the lock of a process that was killed."""
    path = Path(os.path.realpath(file))
    lock = filelock.FileLock(path.with_name(f".{path.name}.lock"), timeout=PATIENCE)
    try:
        lock.acquire()
    except filelock.Timeout:
        raise Refused(f"{file} is in use by another airproof; nothing was added") from None
    except OSError as error:
        raise Refused(f"cannot write {file}: {said_by(error)}") from error
    try:
        yield
    finally:
        lock.release()


def _bytes(file: str) -> bytes:
    """What the file holds; nothing if there is none."""
    try:
        with Path(file).open("rb") as opened:
            data = opened.read(LARGEST + 1)
    except FileNotFoundError:
        return b""
    except (OSError, ValueError) as error:
        said = said_by(error) if isinstance(error, OSError) else str(error)
        raise Refused(f"cannot read {file}: {said}") from error
    if len(data) > LARGEST:
        raise Refused(f"{file} is longer than {LARGEST // 1_000_000} MB, so it is no record")
    return data


def _read(file: str, data: bytes) -> Record:
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise Refused(f"{file}:{line}: this is no text in UTF-8") from None
    try:
        return read(text)
    except Unreadable as error:
        raise Refused(_told(file, text, error)) from None


def _told(file: str, text: str, error: Unreadable) -> str:
    """The mistake with its line and a marker."""
    lines = text.removeprefix(MARK).split("\n")
    line = lines[error.line - 1].rstrip("\r") if error.line <= len(lines) else ""
    column = min(error.column, len(line) + 1)
    span = Span(file, error.line, column, error.line, max(len(line), column) + 1)
    return pointed(error.message, span, line)


def _settle(folder: Path) -> None:
    """The folder's own entry reaches the disk, too."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
