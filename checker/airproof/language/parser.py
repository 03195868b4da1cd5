"""Text to tree: scan letters, cut into statements, read each statement, assemble parts.

Every problem of a text is found at once, because no statement needs another.
"""

from __future__ import annotations

from dataclasses import replace

from lark.exceptions import UnexpectedInput

from airproof.base.diagnostics import Problem, Rejected
from airproof.base.source import SourceText, Span
from airproof.language import syntax
from airproof.language.complaints import complaint, plain_text
from airproof.language.grammar import tree_of
from airproof.language.layout import Chunk, Layout, PartChunk, cut, head_of, head_problem
from airproof.language.reader import Reader
from airproof.language.scan import lines_of
from airproof.language.statements import Ports, statement

LARGEST_TEXT = 150_000  # bytes; a large circuit has 20,000
MOST_PROBLEMS = 100


def parse(text: str, path: str) -> syntax.Document:
    """The tree of a text; raises Rejected with every problem found."""
    plain = normal(text, path)
    layout = cut(lines_of(plain, path))
    problems = list(layout.problems)
    found = statements_of(layout, problems)
    if not layout.chunks and not problems:
        problems.append(Problem("no_statement", Span(path, 1, 1, 1, 2)))
    if problems:
        raise Rejected(ordered(problems), {path: SourceText(path, plain)})
    return syntax.Document(path, tuple(found))


def statements_of(layout: Layout, problems: list[Problem]) -> list[syntax.Statement]:
    """The nodes of a text cut into statements; what is wrong with them joins the problems."""
    found: list[syntax.Statement] = []
    for chunk in layout.chunks:
        node = _part(chunk, problems) if isinstance(chunk, PartChunk) else _plain(chunk, problems)
        if node is not None:
            found.append(node)
        if len(problems) > MOST_PROBLEMS:
            break
    return found


def normal(text: str, path: str) -> str:
    """The text with plain line ends; raises Rejected if it is too long."""
    size = len(text.encode("utf-8", "replace"))
    if size > LARGEST_TEXT:
        raise _refused("too_long", path, size=str(size), limit=str(LARGEST_TEXT))
    return text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")


def _refused(code: str, path: str, **data: str) -> Rejected:
    return Rejected([Problem(code, Span(path, 1, 1, 1, 2), data)])


def ordered(problems: list[Problem]) -> list[Problem]:
    """In the order of the text, and no more than a person mends at once."""

    def place(problem: Problem) -> tuple[int, int]:
        return (problem.span.line, problem.span.column) if problem.span else (0, 0)

    found = sorted(problems, key=place)
    if len(found) <= MOST_PROBLEMS:
        return found
    last = Problem("too_many", found[MOST_PROBLEMS].span, {"limit": str(MOST_PROBLEMS)})
    return [*found[:MOST_PROBLEMS], last]


def _plain(chunk: Chunk, problems: list[Problem]) -> syntax.Statement | None:
    node = read_chunk(chunk, problems)
    if isinstance(node, tuple):
        problems.append(Problem("ports_outside", chunk.first.span))
        return None
    return node


def _part(chunk: PartChunk, problems: list[Problem]) -> syntax.Part | None:
    header = read_chunk(chunk.header, problems)
    ports: list[syntax.Name] = []
    body: list[syntax.Statement] = []
    for inner in chunk.body:
        node = read_chunk(inner, problems)
        if isinstance(node, tuple):
            ports += node
        elif isinstance(node, syntax.Part):
            problems.append(Problem("part_in_part", node.name.span))
        elif node is not None:
            body.append(node)
    if not isinstance(header, syntax.Part):
        return None
    span = header.span.to(chunk.end or chunk.header.span)
    return replace(header, ports=tuple(ports), body=tuple(body), span=span)


def read_chunk(chunk: Chunk, problems: list[Problem]) -> syntax.Statement | Ports | None:
    """The node of one statement, or None and what is wrong with it among the problems."""
    if chunk.problems:
        problems += chunk.problems[:1]
        return None
    head = head_of(chunk.tokens)
    if not head and chunk.first.text != "ports":
        problems.append(head_problem(chunk))
        return None
    text = plain_text(chunk)
    try:
        tree = tree_of(text)
    except UnexpectedInput as error:
        problems.append(complaint(chunk, text, error))
        return None
    reader = Reader(chunk.first.span.path, chunk.lines[0].number - 1)
    node = statement(reader, tree, head)
    problems += reader.problems
    return node if not reader.problems else None
