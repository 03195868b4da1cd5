"""A look that notes what is read of it, so that a picture is drawn anew only where it differs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Set
from dataclasses import replace
from typing import Any, TypeVar

from airproof.report.schematic.look import Look

V = TypeVar("V")
Note = tuple[str, str | None]  # a field and a key of it; None: all of it

_GONE = object()
_OF_LOOK = ("positions", "leaving", "values", "timers", "open", "moving", "amounts")
_OF_READER = ("positions", "values", "leaving", "timers")


class Notes:
    """What was read, each with what was found."""

    def __init__(self) -> None:
        self.read: dict[Note, Any] = {}


class _Watched(Mapping[str, V]):
    """A mapping that notes each key that is asked for, found or not."""

    def __init__(self, field: str, known: Mapping[str, V], notes: Notes) -> None:
        self._field, self._known, self._notes = field, known, notes

    def __getitem__(self, key: str) -> V:
        self._notes.read[self._field, key] = self._known.get(key, _GONE)
        return self._known[key]

    def __iter__(self) -> Iterator[str]:
        self._notes.read[self._field, None] = dict(self._known)
        return iter(self._known)

    def __len__(self) -> int:
        self._notes.read[self._field, None] = dict(self._known)
        return len(self._known)


class _WatchedSet(Set[str]):
    """A set that notes that it was read."""

    def __init__(self, known: Set[str], notes: Notes) -> None:
        self._known, self._notes = known, notes

    @classmethod
    def _from_iterable(cls, it: Iterable[Any]) -> Any:
        return frozenset(it)

    def __contains__(self, key: object) -> bool:
        self._notes.read["fresh", None] = self._known
        return key in self._known

    def __iter__(self) -> Iterator[str]:
        self._notes.read["fresh", None] = self._known
        return iter(self._known)

    def __len__(self) -> int:
        self._notes.read["fresh", None] = self._known
        return len(self._known)


def watched(look: Look, notes: Notes) -> Look:
    """The same look; whatever is read of it is noted."""

    def seen(owner: Any, fields: Iterable[str]) -> dict[str, Any]:
        return {field: _Watched(field, getattr(owner, field), notes) for field in fields}

    fresh = _WatchedSet(look.reader.fresh, notes)
    reader = replace(look.reader, fresh=fresh, **seen(look.reader, _OF_READER))
    return replace(look, reader=reader, **seen(look, _OF_LOOK))


def alike(read: Mapping[Note, Any], look: Look) -> bool:
    """Whether whoever read that finds the same in this look."""
    for (field, key), value in read.items():
        if field == "fresh":
            if look.reader.fresh != value:
                return False
        elif key is None:
            if dict(getattr(look, field)) != value:
                return False
        elif getattr(look, field).get(key, _GONE) != value:
            return False
    return True
