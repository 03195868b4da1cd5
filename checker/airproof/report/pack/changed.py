"""What has changed in a circuit's texts since a decision was written down."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping


def changes(before: Mapping[str, str] | None, now: Mapping[str, str]) -> Iterator[str]:
    """The lines that went and came, comments and spacing left out; never nothing.

    Both have the circuit's own file first; under another name it is still that file.
    """
    if before is None:
        yield "the circuit's text; as it was then is not in the record"
        return
    before, found = _as_called_now(before, now), False
    for name in dict.fromkeys([*before, *now]):
        old, new = _lines(before.get(name, "")), _lines(now.get(name, ""))
        for line in _differences(old, new):
            found = True
            yield f"{name}: {line}" if len(before) > 1 or len(now) > 1 else line
    if not found:
        yield "only comments, spacing or file names; every statement reads as it did"


def _as_called_now(before: Mapping[str, str], now: Mapping[str, str]) -> Mapping[str, str]:
    """The earlier texts by the names that the files have now."""
    gone = [name for name in before if name not in now]
    come = [name for name in now if name not in before]
    names: dict[str, str] = {}
    own = next(iter(before), ""), next(iter(now), "")
    if own[0] in gone and own[1] in come:
        names[own[0]] = own[1]
    for old in gone:
        alike = (new for new in come if _lines(now[new]) == _lines(before[old]))
        free = next((new for new in alike if new not in names.values()), None)
        if old not in names and free is not None:
            names[old] = free
    return {names.get(name, name): text for name, text in before.items()}


def _differences(old: list[str], new: list[str]) -> Iterator[str]:
    matcher = difflib.SequenceMatcher(None, old, new, autojunk=False)
    for kind, first, last, start, end in matcher.get_opcodes():
        if kind != "equal":
            yield from (f"was: {line}" for line in old[first:last])
            yield from (f"is:  {line}" for line in new[start:end])


def _lines(text: str) -> list[str]:
    """The lines that say something, their words one blank apart."""
    told = (" ".join(_code(line).split()) for line in text.splitlines())
    return [line for line in told if line]


def _code(line: str) -> str:
    """A line without its comment; a `#` between quotes begins none."""
    quoted = False
    for place, character in enumerate(line):
        if character == '"':
            quoted = not quoted
        elif character == "#" and not quoted:
            return line[:place]
    return line
