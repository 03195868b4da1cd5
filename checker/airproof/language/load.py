"""Reads a circuit's text and what it includes, and resolves it."""

from __future__ import annotations

import hashlib
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from airproof.base.diagnostics import Problem, Rejected
from airproof.base.source import SourceText, Span
from airproof.circuit.kinds import Circuit
from airproof.language import syntax
from airproof.language.files import LARGEST, Found, Report, Room, decode, find_include, read_file
from airproof.language.parser import parse
from airproof.language.resolver import resolve

MOST_FILES = 100  # included by one circuit
STANDARD_INPUT = "-"


@dataclass(frozen=True, slots=True)
class Loaded:
    """A circuit with its texts; spans are only to be quoted."""

    circuit: Circuit
    sources: Mapping[str, SourceText]
    spans: Mapping[str, Span]

    def span_of(self, name: str) -> Span | None:
        """Where the thing of this name is written."""
        return self.spans.get(name)

    @property
    def text_fingerprint(self) -> str:
        """SHA-256 over the circuit's text and the texts it includes, in hexadecimal."""
        digest = hashlib.sha256()
        for source in self.sources.values():
            data = source.text.encode("utf-8")
            digest.update(f"{len(data)}\n".encode())
            digest.update(data)
        return digest.hexdigest()


def load(path: str | Path) -> Loaded:
    """The circuit of a file, or of standard input for `-`.

    Raises Rejected with every problem found.
    """
    name = str(Path(path))
    if name == STANDARD_INPUT:
        data = sys.stdin.buffer.read(LARGEST + 1)
        return load_text(decode(data, _file_problem("standard input")), "<standard input>")
    text = read_file(Path(path), _file_problem(name))
    return load_text(text, name, Path(path).parent)


def load_text(text: str, name: str = "<text>", folder: str | Path | None = None) -> Loaded:
    """The circuit of a text; without a folder it includes from the library only.

    Raises Rejected with every problem found.
    """
    shown = name[: -len(Path(name).name)] if folder is not None else ""
    room = None if folder is None else Room(Path(folder), shown)
    gathered = _Gathered()
    gathered.add(text, name, _Place(room, room))
    if gathered.problems:
        raise Rejected(gathered.problems, gathered.sources)
    resolved = resolve(gathered.documents, gathered.sources)
    return Loaded(resolved.circuit, gathered.sources, resolved.spans)


def _file_problem(name: str, span: Span | None = None) -> Report:
    """Makes the problem of a file that cannot be read."""
    return lambda code: Problem(code, span, {"path": name, "most": f"{LARGEST // 1000} kB"})


@dataclass(frozen=True, slots=True)
class _Place:
    """The folder a text is in, and the room that its includes may not leave."""

    beside: Room | None
    room: Room | None
    chain: tuple[str, ...] = ()


class _Gathered:
    """The texts read so far, parsed, and what is wrong with them."""

    def __init__(self) -> None:
        self.documents: list[syntax.Document] = []
        self.sources: dict[str, SourceText] = {}
        self.problems: list[Problem] = []
        self._done: set[Path] = set()

    def add(self, text: str, name: str, place: _Place) -> None:
        """Parses one text and gathers what it includes."""
        self.sources[name] = SourceText(name, text)
        try:
            document = parse(text, name)
        except Rejected as rejected:
            self.problems += rejected.problems
            return
        self.documents.append(document)
        inner = _Place(place.beside, place.room, (*place.chain, name))
        for statement in document.statements:
            if isinstance(statement, syntax.Include):
                self._include(statement, inner)

    def _include(self, statement: syntax.Include, place: _Place) -> None:
        span = statement.path.span
        try:
            found = find_include(statement.path.text, span, place.beside, place.room)
            self._include_found(found, span, place)
        except Rejected as rejected:
            self.problems += rejected.problems

    def _include_found(self, found: Found, span: Span, place: _Place) -> None:
        if found.shown in place.chain:
            loop = (*place.chain[place.chain.index(found.shown) :], found.shown)
            way = " -> ".join(f"`{Path(each).name}`" for each in loop)
            raise Rejected([Problem("include_loop", span, {"way": way})])
        if found.path.resolve() in self._done:
            return
        if len(self.sources) > MOST_FILES:
            raise Rejected([Problem("too_many_includes", span, {"most": str(MOST_FILES)})])
        self._done.add(found.path.resolve())
        text = read_file(found.path, _file_problem(found.shown, span))
        parent = found.shown[: -len(found.path.name)]
        beside = Room(found.path.parent, parent)
        self.add(text, found.shown, _Place(beside, found.room, place.chain))
