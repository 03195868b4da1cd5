"""The record of a meeting's decisions as TOML text: read, checked, and added to at its end.

What a person wrote is never touched: a text only grows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import tomlkit

from airproof.base.diagnostics import listed, nearest
from airproof.report.pack.changed import changes
from airproof.report.pack.decisions import DISPOSITIONS, Decision
from airproof.report.pack.keys import done_in, key_of_moves
from airproof.report.pack.toml_text import MARK, Unreadable, check_open, line_at, line_of, parsed

Key = tuple[str, str, str]  # property, sequence, fingerprint

HEADING = """\
# Decisions of hazard meetings.  `airproof report --record` adds an entry for each new breach
# and changes nothing else: fill the entries in, and add what you like.
# disposition is one of: accepted, needs change, not credible because, model wrong.
# After one of the last two, the next pack tells another sequence of that property.
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
LONGEST = 1100  # steps of a sequence


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
        if one.property not in present.sequences:
            text = f"no breach is found now; the decision was about {one.sequence}"
            return replace(one, changes=(text,))
        return one

    def disposed(self, name: str, fingerprint: str) -> tuple[Decision, ...]:
        """What was decided of the property's sequences in this very text."""
        about = (one for one in self.decisions if one.property == name and one.disposition)
        return tuple(one for one in about if one.fingerprint == fingerprint)


@dataclass(frozen=True, slots=True)
class Present:
    """What is true now.

    texts:     the circuit's, by file name
    sequences: by property, the key of the sequence of each breach
    moves:     by property, what moves in that sequence and how many steps it has
    """

    fingerprint: str
    texts: Mapping[str, str]
    sequences: Mapping[str, str]
    moves: Mapping[str, tuple[tuple[str, ...], int]] = field(default_factory=dict)

    @property
    def keys(self) -> tuple[Key, ...]:
        return tuple((name, key, self.fingerprint) for name, key in self.sequences.items())


# ---- reading


def read(text: str) -> Record:
    """The record that a text holds, to which entries can be added.

    Raises Unreadable with the line of the first mistake.
    """
    body = text.removeprefix(MARK)
    data = parsed(body)
    entries, circuits = data.get("decision", []), data.get("circuits", {})
    if not isinstance(entries, list):
        raise Unreadable("each decision begins with a line [[decision]]", line_at(body, "decision"))
    decisions = tuple(_decision(body, place, entry) for place, entry in enumerate(entries))
    _check_once(body, decisions)
    record = Record(text, decisions, _circuits(body, circuits))
    check_open(body, record.circuits)
    return record


def _decision(text: str, place: int, entry: Any) -> Decision:
    def wrong(message: str, key: str = "") -> Unreadable:
        return Unreadable(message, line_of(text, place, key))

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
    moves, steps = entry.get("moves", []), entry.get("steps", 0)
    if not _known(entry["sequence"], moves):
        raise wrong("`moves` is not that of this `sequence`; airproof writes both", "moves")
    if type(steps) is not int or not 0 <= steps <= LONGEST:
        raise wrong("`steps` is a whole number; airproof writes it", "steps")
    told = replace(Decision(**written), signatures=tuple(signatures), steps=steps)
    return replace(told, moves=tuple(moves))


def _known(sequence: str, moves: Any) -> bool:
    """No moves at all, or those that the sequence's key was made of."""
    if not isinstance(moves, list) or not all(isinstance(one, str) for one in moves):
        return False
    try:
        done_in(moves, 0)
    except ValueError:
        return False
    return not moves or key_of_moves(moves) == sequence


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
                line_of(text, place, ""),
            )
        seen.add(key)


def _circuits(text: str, circuits: Any) -> Mapping[str, Mapping[str, str]]:
    sound = isinstance(circuits, dict) and all(
        isinstance(texts, dict) and all(isinstance(one, str) for one in texts.values())
        for texts in circuits.values()
    )
    if not sound:
        raise Unreadable(
            "`circuits` holds the texts that airproof put there", line_at(text, "circuits")
        )
    return circuits  # type: ignore[no-any-return]


# ---- adding


def added(record: Record, present: Present) -> str:
    """The text with an entry for each breach that has none; the same text if none is missing."""
    known = {(one.property, one.sequence, one.fingerprint) for one in record.decisions}
    missing = [key for key in present.keys if key not in known]
    if not missing:
        return record.text
    pieces = [_entry(key, *present.moves.get(key[0], ((), 0))) for key in missing]
    if present.fingerprint not in record.circuits:
        pieces.append(_circuit(present))
    before = record.text or HEADING
    text = before + ("" if before.endswith("\n") else "\n") + "".join(f"\n{p}" for p in pieces)
    _check_grown(record, text)
    return text


def _check_grown(record: Record, text: str) -> None:
    """The new text says all that the old one said, in the same order."""
    grown = read(text)
    kept = grown.decisions[: len(record.decisions)] == record.decisions
    texts = all(grown.circuits.get(name) == known for name, known in record.circuits.items())
    assert kept
    assert texts
    assert text.startswith(record.text)


def _entry(key: Key, moves: tuple[str, ...], steps: int) -> str:
    table = tomlkit.table()
    for name, value in zip(_NEEDED, key, strict=True):
        table[name] = value
    for name in _WRITTEN:
        table[name] = ""
    table["signatures"] = tomlkit.array()
    if moves:
        table["steps"] = steps
        table["moves"] = tomlkit.array()
        table["moves"].extend(moves)
        table["moves"].multiline(True)
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
