"""Who is called what: each part's view of the names, the table of things, looking one up."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Literal

from airproof.base.diagnostics import Problem, nearest
from airproof.base.quantities import Dimension
from airproof.base.source import Span
from airproof.circuit.kinds import ATMOSPHERE
from airproof.language import syntax

MOST_SHOWN = 100  # problems of one circuit

Use = Literal[
    "place",
    "value",
    "positions",
    "control",
    "device",
    "timer",
    "flow",
    "signal",
    "state",
    "supply",
    "target",
    "watched",
]


@dataclass(frozen=True, slots=True)
class Entry:
    """A named thing and what its name may stand for.

    word:      the trade's word for it: `reservoir`, `relief valve`
    positions: of the control or device `stands`, which it is or contains
    dimension: of its value, if it has one
    flows:     those that `NAME is flowing` speaks of
    moving:    it takes time on the way
    """

    name: str
    word: str
    span: Span
    uses: frozenset[Use] = frozenset()
    positions: tuple[str, ...] = ()
    stands: str = ""
    dimension: Dimension | None = None
    flows: tuple[str, ...] = ()
    moving: bool = False


@dataclass(frozen=True, slots=True)
class Scope:
    """What a statement sees: names behind a prefix, and ports bound to names outside."""

    prefix: str = ""
    ports: Mapping[str, str] = field(default_factory=dict)

    def full(self, text: str) -> str:
        """The name of the whole circuit that is written `text` here."""
        if text == ATMOSPHERE:
            return text
        head, dot, rest = text.partition(".")
        if head in self.ports:
            return self.ports[head] + dot + rest
        return self.prefix + text


class Problems:
    """Collects what is wrong; the same fault of a part that is fitted twice counts once."""

    def __init__(self) -> None:
        self._found: dict[tuple[str, Span | None], Problem] = {}

    def __len__(self) -> int:
        return len(self._found)

    def add(self, code: str, span: Span | None, meant: str | None = None, **data: str) -> None:
        self._found.setdefault((code, span), Problem(code, span, data, meant))

    def sorted(self) -> list[Problem]:
        """In the order of the text; beyond the most that is shown, one that says so."""
        found = sorted(self._found.values(), key=_place)
        if len(found) <= MOST_SHOWN:
            return found
        limit = {"limit": str(MOST_SHOWN)}
        return [*found[:MOST_SHOWN], Problem("too_many", found[MOST_SHOWN].span, limit)]


def _place(problem: Problem) -> tuple[str, int, int]:
    span = problem.span
    return (span.path, span.line, span.column) if span else ("", 0, 0)


class Table:
    """Every named thing of the circuit by its full name."""

    def __init__(self, problems: Problems) -> None:
        self._entries: dict[str, Entry] = {}
        self._problems = problems

    def add(self, entry: Entry) -> None:
        """Enters the thing unless its name is taken."""
        first = self._entries.setdefault(entry.name, entry)
        if entry.name.rpartition(".")[2] == ATMOSPHERE:
            self._problems.add("name_of_the_air", entry.span, name=entry.name)
        elif first is not entry:
            where = _line(first.span, entry.span)
            data = {"name": entry.name, "word": first.word, "where": where}
            self._problems.add("duplicate_name", entry.span, **data)

    def get(self, name: str) -> Entry | None:
        return self._entries.get(name)

    def entries(self) -> Iterator[Entry]:
        return iter(self._entries.values())

    def seen_from(self, scope: Scope, use: Use) -> list[str]:
        """The names, as written in this scope, of all that may be used so."""
        cut = len(scope.prefix)
        inside = [
            entry.name[cut:]
            for entry in self._entries.values()
            if use in entry.uses and entry.name.startswith(scope.prefix)
        ]
        bound = [port for port, name in scope.ports.items() if self._fits(name, use)]
        return inside + bound + ([ATMOSPHERE] if use in ("place", "target") else [])

    def _fits(self, name: str, use: Use) -> bool:
        entry = self._entries.get(name)
        return entry is not None and use in entry.uses

    def find(self, name: syntax.Name, scope: Scope, use: Use) -> Entry | None:
        """The thing of this name if it may be used so; otherwise a problem and None."""
        entry = self._entries.get(scope.full(name.text))
        if entry is not None and use in entry.uses:
            return entry
        bound = name.text.partition(".")[0] in scope.ports
        if bound and (entry is None or "target" not in entry.uses):
            return None  # said where the port is bound
        meant = None
        if len(self._problems) < MOST_SHOWN:
            meant = nearest(name.text, self.seen_from(scope, use))
        if entry is None:
            self._problems.add(f"unknown_{use}", name.span, meant, name=name.text)
        else:
            meant = None if meant == name.text else meant
            shown = f"{name.text} = {entry.name}" if bound else name.text
            data = {"name": shown, "a_word": _with_article(entry.word)}
            self._problems.add(f"due_{use}", name.span, meant, **data)
        return None


def _with_article(word: str) -> str:
    return f"{'an' if word[0] in 'aeiou' else 'a'} {word}"


def _line(first: Span, second: Span) -> str:
    if first.path == second.path:
        return f"line {first.line}"
    return f"line {first.line} of {first.path}"
