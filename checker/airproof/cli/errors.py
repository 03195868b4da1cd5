"""Exceptions in one line each."""

from __future__ import annotations

from pathlib import Path


def told(error: BaseException) -> str:
    """What an exception says and where it was raised."""
    place = error.__traceback__
    while place is not None and place.tb_next is not None:
        place = place.tb_next
    said = " ".join(str(error).split())
    text = f"{type(error).__name__}: {said}" if said else type(error).__name__
    if place is None:
        return text
    code = place.tb_frame.f_code
    return f"{text} ({Path(code.co_filename).name}, line {place.tb_lineno}, {code.co_name})"


def described(error: OSError) -> str:
    """What the system refused, and about which file."""
    said = said_by(error)
    return f"{error.filename}: {said}" if error.filename else said


def said_by(error: OSError) -> str:
    """What the system refused; for a message that names the file already."""
    return error.strerror or str(error)
