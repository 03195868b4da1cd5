"""Texts from files: what may be read, from where, and what is refused."""

from __future__ import annotations

import stat
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path, PurePosixPath, PureWindowsPath

from airproof.base.diagnostics import Problem, Rejected
from airproof.base.source import Span
from airproof.language.parser import LARGEST_TEXT
from airproof.resources import folder

LARGEST = LARGEST_TEXT

Report = Callable[[str], Problem]


@dataclass(frozen=True, slots=True)
class Room:
    """A folder from which, and from below which, files may be included."""

    root: Path
    shown: str  # how a person knows the folder, with its last stroke; empty for the present one


def library() -> Room:
    """The folder of circuits that ships with airproof."""
    return Room(folder("models") / "library", "library/")


def read_file(path: Path, report: Report) -> str:
    """The text of a file with line ends made equal.

    Raises Rejected with the problem that `report` makes of one of the codes
    no_file, is_folder, not_a_file, unreadable, file_too_large, file_not_text.
    """
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise Rejected([report("is_folder")])
        if not stat.S_ISREG(mode):
            raise Rejected([report("not_a_file")])
        with path.open("rb") as file:
            data = file.read(LARGEST + 1)
    except FileNotFoundError as missing:
        raise Rejected([report("no_file")]) from missing
    except (OSError, ValueError) as failed:
        raise Rejected([report("unreadable")]) from failed
    return decode(data, report)


def decode(data: bytes, report: Report) -> str:
    """Bytes as text; raises Rejected with file_too_large or file_not_text."""
    if len(data) > LARGEST:
        raise Rejected([report("file_too_large")])
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as failed:
        raise Rejected([report("file_not_text")]) from failed
    if "\0" in text:
        raise Rejected([report("file_not_text")])
    return text.replace("\r\n", "\n").replace("\r", "\n")


@dataclass(frozen=True, slots=True)
class Found:
    """An included file: where it is, what it is called in messages, and the room it is in."""

    path: Path
    shown: str
    room: Room


def find_include(written: str, span: Span, beside: Room | None, room: Room | None) -> Found:
    """The file that an include names: beside its own text, or in the library.

    Raises Rejected if the name leads out of the folder or to no file.
    """
    data = {"path": written}
    if _leaves(written):
        raise Rejected([Problem("include_outside", span, data)])
    places = [] if beside is None or room is None else [(beside, room)]
    for start, within in (*places, (library(), library())):
        path = start.root / written
        try:
            there = path.is_symlink() or path.exists()
        except (OSError, ValueError):
            there = False
        if there and _linked(path, within.root):
            raise Rejected([Problem("include_link", span, data)])
        if there:
            return Found(path, start.shown + str(PurePosixPath(written)), within)
    raise Rejected([Problem("include_missing", span, data)])


def _leaves(written: str) -> bool:
    """Absolute, or with a step up, in either system's way of writing."""
    for kind in (PurePosixPath, PureWindowsPath):
        path = kind(written)
        if path.is_absolute() or path.drive or path.root or ".." in path.parts:
            return True
    return not written.strip() or "\0" in written


def _linked(path: Path, root: Path) -> bool:
    """Whether a link lies on the way from the root, which might lead anywhere."""
    steps = path.relative_to(root).parts
    ways = (root.joinpath(*steps[: number + 1]) for number in range(len(steps)))
    return any(way.is_symlink() for way in ways)
