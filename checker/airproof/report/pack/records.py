"""The record of a meeting's decisions as TOML text: read, checked, and added to at its end.

What a person wrote is never touched: a text only grows.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

import tomlkit

from airproof.base.diagnostics import listed, nearest
from airproof.report.pack.decisions import DISPOSITIONS, Decision

Key = tuple[str, str, str]  # property, sequence, fingerprint

HEADING = """\
# Decisions of hazard meetings.  `airproof report --record` adds an entry for each new breach
# and changes nothing else: fill the entries in, and add what you like.
# disposition is one of: accepted, needs change, not credible because, model wrong.
"""
_NEEDED = ("property", "sequence", "fingerprint")
_WRITTEN = (
    "disposition",
    "because",
    "frequency",
    "severity",
    "consequences",
    "safeguards",
    "action",
    "owner",
    "date",
)
_PLACE = re.compile(r"\(at line (\d+), column (\d+)\)")
_HEADER = re.compile(r"\s*\[\[\s*(decision|\"decision\"|'decision')\s*\]\]")


class Unreadable(Exception):
    """A record cannot be read; `line` and `column` count from 1."""

    def __init__(self, message: str, line: int, column: int = 1):
        super().__init__(message)
        self.message, self.line, self.column = message, line, column


@dataclass(frozen=True, slots=True)
class Record:
    """A record as it was read: its text, its entries, and the circuits that they were about."""

    text: str
    decisions: tuple[Decision, ...]
    circuits: Mapping[str, Mapping[str, str]]

    def about(self, present: Present) -> Mapping[str, tuple[Decision, ...]]:
        """By property, each decision with what has changed since then."""
        found: dict[str, list[Decision]] = {}
        for one in self.decisions:
            found.setdefault(one.property, []).append(self._changed(one, present))
        return {name: tuple(known) for name, known in found.items()}

    def _changed(self, one: Decision, present: Present) -> Decision:
        if one.fingerprint != present.fingerprint:
            before = self.circuits.get(one.fingerprint)
            return replace(one, changes=tuple(changes(before, present.texts)))
        if present.sequences.get(one.property) != one.sequence:
            now = present.sequences.get(one.property)
            text = "another sequence is found now" if now else "no breach is found now"
            return replace(one, changes=(f"{text}; the decision was about {one.sequence}",))
        return one


@dataclass(frozen=True, slots=True)
class Present:
    """What is true now: the circuit's texts by name, and the key of each breach's sequence."""

    fingerprint: str
    texts: Mapping[str, str]
    sequences: Mapping[str, str]

    @property
    def keys(self) -> tuple[Key, ...]:
        return tuple((name, key, self.fingerprint) for name, key in self.sequences.items())


# ---- reading


def read(text: str) -> Record:
    """The record that a text holds; raises Unreadable with the line of the first mistake."""
    data = _parsed(text)
    entries, circuits = data.get("decision", []), data.get("circuits", {})
    if not isinstance(entries, list):
        raise Unreadable("each decision begins with a line [[decision]]", _line(text, "decision"))
    decisions = tuple(_decision(text, place, entry) for place, entry in enumerate(entries))
    _check_once(text, decisions)
    return Record(text, decisions, _circuits(text, circuits))


def _parsed(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise Unreadable("it is nested too deeply", 1) from None
    except tomllib.TOMLDecodeError as error:
        said, found = str(error), _PLACE.search(str(error))
        line, column = (int(found[1]), int(found[2])) if found else (text.count("\n") + 1, 1)
        told = said.split(" (at ")[0]
        raise Unreadable(f"{told[:1].lower()}{told[1:]}", line, column) from None


def _decision(text: str, place: int, entry: Any) -> Decision:
    def wrong(message: str, key: str = "") -> Unreadable:
        return Unreadable(message, _line_of(text, place, key))

    if not isinstance(entry, dict):
        raise wrong("each decision begins with a line [[decision]]")
    for key in _NEEDED:
        if not isinstance(entry.get(key), str) or not entry[key]:
            raise wrong(f"the decision needs a text for `{key}`; airproof writes it", key)
    for key in _WRITTEN:
        if key != "date" and not isinstance(entry.get(key, ""), str):
            raise wrong(f"`{key}` is a text between quotes", key)
    disposition = entry.get("disposition", "").strip()
    if disposition and disposition not in DISPOSITIONS:
        likely = nearest(disposition, DISPOSITIONS)
        hint = f"did you mean `{likely}`?" if likely else f"say {listed(DISPOSITIONS)}"
        raise wrong(f"there is no disposition `{disposition}`; {hint}", "disposition")
    names = entry.get("signatures", [])
    signatures = [names] if isinstance(names, str) else names
    if not isinstance(signatures, list) or not all(isinstance(one, str) for one in signatures):
        raise wrong("`signatures` is a list of texts", "signatures")
    written: dict[str, Any] = {k: str(entry.get(k, "")) for k in (*_NEEDED, *_WRITTEN)}
    written["disposition"] = disposition
    return replace(Decision(**written), signatures=tuple(signatures))


def _check_once(text: str, decisions: tuple[Decision, ...]) -> None:
    """One decision at most for each key, or nobody knows which of them stands."""
    seen: set[Key] = set()
    for place, one in enumerate(decisions):
        if one.blank():
            continue
        key = (one.property, one.sequence, one.fingerprint)
        if key in seen:
            raise Unreadable(
                f"`{one.property}` is decided twice for one sequence of one text; keep one",
                _line_of(text, place, ""),
            )
        seen.add(key)


def _circuits(text: str, circuits: Any) -> Mapping[str, Mapping[str, str]]:
    sound = isinstance(circuits, dict) and all(
        isinstance(texts, dict) and all(isinstance(one, str) for one in texts.values())
        for texts in circuits.values()
    )
    if not sound:
        raise Unreadable("`circuits` holds the texts that airproof put there", _line(text, "circ"))
    return circuits  # type: ignore[no-any-return]


def _line(text: str, word: str) -> int:
    """The first line in which a word stands, or 1."""
    lines = text.split("\n")
    return next((number for number, line in enumerate(lines, start=1) if word in line), 1)


def _line_of(text: str, place: int, key: str) -> int:
    """The line of a key of a decision, or the line where that begins."""
    lines = text.split("\n")
    heads = [number for number, line in enumerate(lines) if _HEADER.match(line)]
    if place >= len(heads):
        return _line(text, "decision")
    for number in range(heads[place] + 1, len(lines)):
        if lines[number].lstrip().startswith("["):
            break
        if key and re.match(rf"\s*[\"']?{key}[\"']?\s*=", lines[number]):
            return number + 1
    return heads[place] + 1


# ---- adding


def added(record: Record, present: Present) -> str:
    """The text with an entry for each breach that has none; the same text if none is missing.

    Raises Unreadable if the text has a shape that nothing can be added to.
    """
    known = {(one.property, one.sequence, one.fingerprint) for one in record.decisions}
    missing = [key for key in present.keys if key not in known]
    if not missing:
        return record.text
    pieces = [_entry(key) for key in missing]
    if present.fingerprint not in record.circuits:
        pieces.append(_circuit(present))
    before = record.text or HEADING
    text = before + ("" if before.endswith("\n") else "\n") + "".join(f"\n{p}" for p in pieces)
    _check_grown(record, text)
    return text


def _check_grown(record: Record, text: str) -> None:
    """The new text says all that the old one said, in the same order."""
    try:
        grown = read(text)
    except Unreadable as error:
        raise Unreadable(
            "nothing can be added to this: write each decision under a line [[decision]]",
            _line(record.text, "decision"),
        ) from error
    kept = grown.decisions[: len(record.decisions)] == record.decisions
    texts = all(grown.circuits.get(name) == known for name, known in record.circuits.items())
    assert kept
    assert texts
    assert text.startswith(record.text)


def _entry(key: Key) -> str:
    table = tomlkit.table()
    for name, value in zip(_NEEDED, key, strict=True):
        table[name] = value
    for name in _WRITTEN:
        table[name] = ""
    table["signatures"] = tomlkit.array()
    entries = tomlkit.aot()
    entries.append(table)
    return tomlkit.dumps({"decision": entries})


def _circuit(present: Present) -> str:
    """The texts, so that a later pack can say what has changed."""
    lines = [f"[circuits.{present.fingerprint}]"]
    for name, text in present.texts.items():
        key = tomlkit.string(name).as_string()
        lines.append(f"{key} = {tomlkit.string(text, multiline=True).as_string()}")
    return "\n".join(lines) + "\n"


# ---- what has changed


def changes(before: Mapping[str, str] | None, now: Mapping[str, str]) -> Iterator[str]:
    """The lines that went and came, comments and spacing left out; never nothing."""
    if before is None:
        yield "the circuit's text; as it was then is not in the record"
        return
    found = False
    for name in dict.fromkeys([*before, *now]):
        old, new = _lines(before.get(name, "")), _lines(now.get(name, ""))
        for line in _differences(old, new):
            found = True
            yield f"{name}: {line}" if len(before) > 1 or len(now) > 1 else line
    if not found:
        yield "only comments, spacing or file names; every statement reads as it did"


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
