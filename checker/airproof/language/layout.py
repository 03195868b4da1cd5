"""Lines to statements, by the left margin; a part's statements by their own margin."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from airproof.base.diagnostics import Problem, nearest
from airproof.base.source import Span
from airproof.language.scan import Line, Token, nesting_problems
from airproof.language.words import CLAUSE_STARTS, HEADS

LONGEST_STATEMENT = 5000  # words, numbers and signs

_MULTIPLE = {head.split()[0]: tuple(head.split()) for head in HEADS if " " in head}
_SINGLE = frozenset(head for head in HEADS if " " not in head)


@dataclass(slots=True)
class Chunk:
    """The lines of one statement, growing while the text is cut."""

    lines: list[Line]
    problems: list[Problem] = field(default_factory=list)

    @property
    def tokens(self) -> list[Token]:
        return [token for line in self.lines for token in line.tokens]

    @property
    def first(self) -> Token:
        return self.lines[0].tokens[0]

    @property
    def span(self) -> Span:
        return self.first.span.to(self.lines[-1].tokens[-1].span)


@dataclass(slots=True)
class PartChunk:
    """A part's header, its statements and the line that ends it."""

    header: Chunk
    body: list[Chunk] = field(default_factory=list)
    margin: int | None = None
    end: Span | None = None


@dataclass(slots=True)
class Layout:
    """A text cut into statements, with what is wrong in letters and layout."""

    chunks: list[Chunk | PartChunk] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


def cut(lines: Sequence[Line]) -> Layout:
    """Cuts the lines into statements; everything wrong is kept beside the statement it is in."""
    layout = Layout()
    part: PartChunk | None = None
    for line in lines:
        if not line.tokens:
            layout.problems += line.problems
        elif line.indent == 0:
            part = _at_margin(layout, part, line)
        elif part is not None and _opens_statement(part, line):
            part.body.append(_chunk(line))
        else:
            _continue(layout, part, line)
    if part is not None:
        layout.problems.append(_unended(part))
    for chunk in _every(layout.chunks):
        if not chunk.problems:
            chunk.problems += nesting_problems(chunk.tokens) or _size_problems(chunk)
    return layout


def _size_problems(chunk: Chunk) -> list[Problem]:
    if sum(len(line.tokens) for line in chunk.lines) <= LONGEST_STATEMENT:
        return []
    return [Problem("long_statement", chunk.first.span, {"limit": str(LONGEST_STATEMENT)})]


def _every(chunks: list[Chunk | PartChunk]) -> list[Chunk]:
    found: list[Chunk] = []
    for chunk in chunks:
        found += [chunk.header, *chunk.body] if isinstance(chunk, PartChunk) else [chunk]
    return found


def _chunk(line: Line) -> Chunk:
    return Chunk([line], list(line.problems))


def _at_margin(layout: Layout, part: PartChunk | None, line: Line) -> PartChunk | None:
    words = [token.text for token in line.tokens]
    if words[0] == "end":
        _end(layout, part, line)
        return None
    if part is not None:
        layout.problems.append(_unended(part))
    if words[0] == "part":
        opened = PartChunk(_chunk(line))
        layout.chunks.append(opened)
        return opened
    layout.chunks.append(_chunk(line))
    return None


def _end(layout: Layout, part: PartChunk | None, line: Line) -> None:
    words = [token.text for token in line.tokens]
    span = line.tokens[0].span.to(line.tokens[-1].span)
    if words != ["end", "part"]:
        layout.problems.append(Problem("end_what", span))
    elif part is None:
        layout.problems.append(Problem("end_without_part", span))
    if part is not None:
        part.end = span


def _unended(part: PartChunk) -> Problem:
    tokens = part.header.tokens
    name = tokens[1].text if len(tokens) > 1 else ""
    return Problem("part_unended", part.header.span, {"name": name})


def _opens_statement(part: PartChunk, line: Line) -> bool:
    if part.margin is None:
        part.margin = line.indent
    return line.indent == part.margin


def _continue(layout: Layout, part: PartChunk | None, line: Line) -> None:
    first = line.tokens[0]
    if part is not None and part.margin is not None and line.indent < part.margin:
        data = {"columns": str(part.margin)}
        part.body.append(Chunk([line], [Problem("part_indent", first.span, data)]))
        return
    if not layout.chunks:
        layout.chunks.append(Chunk([line], [Problem("margin", first.span)]))
        return
    last = layout.chunks[-1]
    chunk = (last.body or [last.header])[-1] if isinstance(last, PartChunk) else last
    if _names_statement(line):
        chunk.problems.append(Problem("indented_statement", first.span))
    chunk.lines.append(line)
    chunk.problems += line.problems


def _names_statement(line: Line) -> bool:
    """The line begins like `flow NAME:`, which nothing inside a statement does."""
    words = [token.text for token in line.tokens]
    size = len(head_of(line.tokens).split())
    return size > 0 and words[size + 1 : size + 2] == [":"]


def head_of(tokens: Sequence[Token]) -> str:
    """The kind of statement that the tokens begin, empty if none."""
    words = tuple(token.text for token in tokens[:3])
    if not words:
        return ""
    whole = _MULTIPLE.get(words[0])
    if whole is not None and words[: len(whole)] == whole:
        return " ".join(whole)
    return words[0] if words[0] in _SINGLE else ""


def head_problem(chunk: Chunk) -> Problem:
    """Why the chunk begins no statement."""
    tokens = chunk.tokens
    first = tokens[0]
    if first.text in CLAUSE_STARTS:
        return Problem("lost_indent", first.span, {"word": first.text})
    guess, size = _guess(tokens)
    span = first.span.to(tokens[size - 1].span)
    found = " ".join(token.text for token in tokens[:size])
    return Problem("unknown_statement", span, {"found": found}, guess)


def _guess(tokens: Sequence[Token]) -> tuple[str | None, int]:
    """The nearest statement and how many words it stands for."""
    for size in (3, 2):
        words = [token.text for token in tokens[:size] if token.kind == "word"]
        if len(words) == size and tokens[0].span.line == tokens[size - 1].span.line:
            heads = [head for head in HEADS if len(head.split()) == size]
            spaced = [head.replace("-", " ") for head in HEADS if "-" in head]
            found = nearest(" ".join(words), [*heads, *spaced])
            if found is not None and _alike(words, found):
                return next(
                    h for h in HEADS if h.replace("-", " ") == found.replace("-", " ")
                ), size
    return nearest(tokens[0].text, _SINGLE), 1


def _alike(words: list[str], head: str) -> bool:
    """The last word is meant so: a name after a one-word statement is no part of its kind."""
    return nearest(words[-1], [head.split()[-1]]) is not None
