"""A record's text as TOML: what it says, in which line, and whether anything can be added to it."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from typing import Any

MARK = "\ufeff"  # an editor's byte order mark; it stays where it is and says nothing
_PLACE = re.compile(r"\(at line (\d+), column (\d+)\)")
_HEADER = re.compile(r"\s*\[\[\s*(decision|\"decision\"|'decision')\s*\]\]")


class Unreadable(Exception):
    """A record cannot be read; `line` and `column` count from 1."""

    def __init__(self, message: str, line: int, column: int = 1):
        super().__init__(message)
        self.message, self.line, self.column = message, line, column


def parsed(text: str) -> dict[str, Any]:
    """What it says; raises Unreadable."""
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise Unreadable("it is nested too deeply", 1) from None
    except tomllib.TOMLDecodeError as error:
        said, found = str(error), _PLACE.search(str(error))
        line, column = (int(found[1]), int(found[2])) if found else (text.count("\n") + 1, 1)
        told = said.split(" (at ")[0]
        raise Unreadable(f"{told[:1].lower()}{told[1:]}", line, column) from None


def check_open(text: str, circuits: Iterable[str]) -> None:
    """Raises Unreadable unless a decision and a circuit beside those known can be added."""
    unused = "x" * (1 + max(map(len, circuits), default=0))
    with_decision = f"{text}\n[[decision]]\n"
    if _parses(f"{with_decision}[circuits.{unused}]\n"):
        return
    key, place = "circuits", "each circuit under a line [circuits.FINGERPRINT]"
    if not _parses(with_decision):
        key, place = "decision", "each decision under a line [[decision]]"
    raise Unreadable(f"nothing can be added to this: write {place}", line_at(text, key))


def _parses(text: str) -> bool:
    try:
        tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError):
        return False
    return True


def line_at(text: str, key: str) -> int:
    """The first line that gives the key a value or heads its table, or 1."""
    sought = re.compile(rf"[\s\[]*[\"']?{key}[\"']?\s*[.=\]]")
    lines = text.split("\n")
    return next((number for number, line in enumerate(lines, start=1) if sought.match(line)), 1)


def line_of(text: str, place: int, key: str) -> int:
    """The line of a key of a decision, or the line where that begins."""
    lines = text.split("\n")
    heads = [number for number, line in enumerate(lines) if _HEADER.match(line)]
    if place >= len(heads):
        return line_at(text, "decision")
    for number in range(heads[place] + 1, len(lines)):
        if lines[number].lstrip().startswith("["):
            break
        if key and re.match(rf"\s*[\"']?{key}[\"']?\s*=", lines[number]):
            return number + 1
    return heads[place] + 1
