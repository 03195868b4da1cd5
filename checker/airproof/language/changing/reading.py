"""A change file's text to its head and steps, every problem of it found at once."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from lark import Tree
from lark.exceptions import UnexpectedInput

from airproof.base.diagnostics import Problem, Rejected
from airproof.base.source import SourceText, Span
from airproof.language.changing import nodes
from airproof.language.changing.complaints import head_complaint, step_complaint, verb_problem
from airproof.language.changing.deeds import deed_of
from airproof.language.changing.grammar import step_tree_of
from airproof.language.complaints import plain_text
from airproof.language.layout import Chunk, cut
from airproof.language.parser import normal, ordered, statements_of
from airproof.language.reader import Reader
from airproof.language.scan import Line, lines_of, nesting_problems
from airproof.language.syntax import Title

_HEAD = re.compile(r"change\b")


def is_change(text: str) -> bool:
    """Whether the first line that says something begins with `change`."""
    rows = (row.strip() for row in text.removeprefix("\ufeff").splitlines())
    first = next((row for row in rows if row and not row.startswith("#")), "")
    return _HEAD.match(first) is not None


def parse_change(text: str, path: str) -> nodes.Change:
    """The change of a text; raises Rejected with every problem found."""
    plain = normal(text, path)
    reading = _Reading(path, plain.split("\n"))
    for chunk in reading.groups(lines_of(plain, path)):
        reading.take(chunk)
    if not reading.problems and reading.head is None:
        reading.problems.append(Problem("change_no_head", Span(path, 1, 1, 1, 2)))
    elif not reading.problems and reading.head is not None and not reading.count:
        reading.problems.append(Problem("change_no_step", reading.head.circuit.span))
    if reading.problems or reading.head is None:
        raise Rejected(ordered(reading.problems), {path: SourceText(path, plain)})
    return replace(reading.head, steps=tuple(reading.steps))


class _Reading:
    """What was read so far.

    count: steps begun, also those that are wrong
    """

    def __init__(self, path: str, rows: list[str]) -> None:
        self.path, self.rows = path, rows
        self.head: nodes.Change | None = None
        self.steps: list[nodes.Step] = []
        self.problems: list[Problem] = []
        self.count = 0

    def groups(self, lines: Sequence[Line]) -> list[Chunk]:
        """The lines of the head and of each step, without what stands behind their last word."""
        found: list[Chunk] = []
        for line in lines:
            if not line.tokens:
                self.problems += line.problems
            elif line.indent == 0:
                found.append(Chunk([line], list(line.problems)))
            elif not found:
                self.problems.append(Problem("step_margin", line.tokens[0].span))
            else:
                found[-1].lines.append(line)
                found[-1].problems += line.problems
        return found

    def take(self, chunk: Chunk) -> None:
        """Reads the head or one step."""
        word = chunk.first.text
        self.count += word == "step"
        if chunk.problems:
            self.problems += chunk.problems[:1]
        elif word == "step":
            self._step(chunk)
        elif word == "change":
            self._head(chunk)
        else:
            self.problems.append(verb_problem(chunk, self.count + 1))

    def _head(self, chunk: Chunk) -> None:
        if self.head is not None:
            line = str(self.head.circuit.span.line)
            self.problems.append(Problem("change_second_head", chunk.first.span, {"line": line}))
            return
        try:
            tree = step_tree_of(plain_text(chunk))
        except UnexpectedInput as error:
            self.problems.append(head_complaint(chunk, error))
            self.head = nodes.Change(self.path, "", Title("", chunk.first.span), None, ())
            return
        reader = Reader(self.path, chunk.lines[0].number - 1)
        title, circuit, reason = tree.children
        why = reader.title(reason.children[-1]).text if isinstance(reason, Tree) else None
        self.head = nodes.Change(
            self.path, reader.title(title).text, reader.title(circuit), why, ()
        )

    def _step(self, chunk: Chunk) -> None:
        own, brought = _divided(chunk)
        nested = nesting_problems(own.tokens)
        if nested:
            self.problems += nested
            return
        try:
            tree = step_tree_of(plain_text(own))
        except UnexpectedInput as error:
            self.problems.append(step_complaint(own, error, self.count))
            return
        reader = Reader(self.path, own.lines[0].number - 1)
        number, said = tree.children
        if str(number) != str(self.count):
            data = {"found": str(number), "due": str(self.count)}
            self.problems.append(Problem("step_number", own.tokens[1].span, data))
        new = self._brought(own, brought) if brought is not None else None
        if brought is not None and new is None:
            return
        deed = deed_of(reader, said, own, new)
        self.problems += reader.problems
        if deed is not None:
            self.steps.append(nodes.Step(self.count, deed, self._text(chunk), chunk.span))

    def _text(self, chunk: Chunk) -> str:
        first, last = chunk.lines[0].number, chunk.lines[-1].number
        return "\n".join(row.rstrip() for row in self.rows[first - 1 : last])

    def _brought(self, own: Chunk, lines: list[Line]) -> nodes.Inserted | None:
        """The statements that the step brings; None if they are bad, and why is noted."""
        if not lines:
            word = "added" if own.tokens[3].text == "add" else "put in its place"
            span = own.tokens[-1].span
            self.problems.append(Problem("step_brings_nothing", span, {"word": word}))
            return None
        margin = lines[0].indent
        inner = [replace(line, indent=max(0, line.indent - margin)) for line in lines]
        before = len(self.problems)
        layout = cut(inner)
        self.problems += layout.problems
        statements_of(layout, self.problems)
        if len(self.problems) > before:
            return None
        span = lines[0].tokens[0].span.to(lines[-1].tokens[-1].span)
        return nodes.Inserted(tuple(self._rows(lines, margin)), span)

    def _rows(self, lines: list[Line], margin: int) -> list[str]:
        """The rows from the first line's first word on, comments between them included."""
        first = lines[0].tokens[0].span
        rows = [self.rows[first.line - 1][first.column - 1 :].rstrip()]
        for row in self.rows[first.line : lines[-1].number]:
            indent = len(row) - len(row.lstrip(" "))
            rows.append(row[min(margin, indent) :].rstrip())
        return rows


def _divided(chunk: Chunk) -> tuple[Chunk, list[Line] | None]:
    """A step's own words, and the lines of what it brings; None if it brings nothing."""
    first = chunk.lines[0]
    words = [token.text for token in first.tokens]
    size = 4 if words[3:4] == ["add"] else 6 if words[3:4] == ["replace"] else 0
    if not size or (size == 6 and words[5:6] != ["with"]):
        return chunk, None
    own = Chunk([replace(first, tokens=first.tokens[:size])])
    rest = first.tokens[size:]
    begun = [replace(first, indent=0, tokens=rest)] if rest else []
    return own, [*begun, *chunk.lines[1:]]
