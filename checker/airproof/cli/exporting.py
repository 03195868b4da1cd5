"""`--certificates`: a folder that holds the last call's certificates and nothing else."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from airproof.cli.errors import described
from airproof.cli.shell import Refused, remark
from airproof.report.certificates import PAGE, files, is_ours
from airproof.report.results import Results

_UNFINISHED = ".unfinished"  # ends the name of a file that is not written to its end yet
_FIRST = 200  # bytes of a file that are read to see whose it is


def check_folder(folder: str) -> None:
    """Raises Refused if certificates could not be put there; changes nothing."""
    path = Path(folder)
    if not folder:
        raise Refused("--certificates needs the name of a folder")
    with _told(folder):
        if path.exists():
            _check_ours(path)
        place = next(one for one in (path, *path.absolute().parents) if one.exists())
        if not place.is_dir():
            raise Refused(f"{place} is not a folder, so no certificates can be put in {folder}")
        if not os.access(place, os.W_OK | os.X_OK):
            raise Refused(f"{place} is write-protected, so no certificates can be put there")


def export(folder: str, results: Results, defects: Sequence[str], quiet: bool) -> None:
    """Puts the certificates into the folder, none if airproof was found wrong; says what it did.

    Raises Refused if the folder holds anything else, or cannot be written.
    """
    if defects:
        remark(f"no certificates were put into {folder}, for airproof itself is wrong", quiet=False)
        return
    put(folder, files(results), quiet)


def put(folder: str, made: Mapping[str, str], quiet: bool) -> None:
    """Puts these files in the place of those of an earlier call; says what it did.

    Raises Refused if the folder holds anything else, or cannot be written.
    """
    path = Path(folder)
    with _told(folder):
        gone = _replaced(path, made)
    if made:
        remark(f"{len(made)} files are in {folder}; begin with {PAGE}", quiet)
        return
    earlier = f", and the files of an earlier call in {folder} are gone" if gone else ""
    remark(f"nothing to export: nothing rests on an invariant{earlier}", quiet=False)


def _replaced(path: Path, made: Mapping[str, str]) -> int:
    """Puts the files in the place of those of an earlier call; how many were there.

    The old page goes first and the new one comes last, so that a folder
    without a page is not complete.  Each file is written whole or not at all.
    """
    old = _check_ours(path) if path.exists() else []
    if made:
        path.mkdir(parents=True, exist_ok=True)
    going = [name for name in old if name == PAGE or name not in made]
    for name in sorted(going, key=lambda name: name != PAGE):
        (path / name).unlink()
    for name, text in made.items():
        _put(path / name, text)
    return len(old)


@contextlib.contextmanager
def _told(folder: str) -> Iterator[None]:
    """What the system refuses, as a message of ours."""
    try:
        yield
    except OSError as error:
        raise Refused(
            f"cannot put all certificates into {folder}: {described(error)}; "
            f"without {PAGE} what is there is not complete"
        ) from error


def _check_ours(folder: Path) -> list[str]:
    """The names of the files of an earlier call; raises Refused if there is anything else."""
    if not folder.is_dir():
        raise Refused(f"{folder} is not a folder, so no certificates can be put there")
    names = sorted(entry.name for entry in folder.iterdir())
    foreign = [name for name in names if not _left_by_us(folder / name)]
    if foreign:
        most = ", ".join(foreign[:3]) + (", ..." if len(foreign) > 3 else "")
        raise Refused(
            f"{folder} holds files that are no certificates of airproof ({most}); "
            "name a new or empty folder"
        )
    return names


def _left_by_us(path: Path) -> bool:
    if path.is_symlink() or not path.is_file():
        return False
    with path.open("rb") as file:
        beginning = file.read(_FIRST).decode("utf-8", "replace")
    name = path.name
    if name.endswith(_UNFINISHED):  # of a call that was killed; it may have written nothing
        return is_ours(name.removesuffix(_UNFINISHED), beginning) or not beginning
    return is_ours(name, beginning)


def _put(path: Path, text: str) -> None:
    unfinished = path.with_name(path.name + _UNFINISHED)
    try:
        with unfinished.open("xb") as file:
            file.write(text.encode("utf-8"))
            file.flush()
            os.fsync(file.fileno())
        unfinished.replace(path)
    except BaseException:
        with contextlib.suppress(OSError):
            unfinished.unlink()
        raise
