"""Tidy text: the author's lines and comments, with even spaces and indents.

Line breaks stay where the author put them, so a comment stays beside what it
is about.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from airproof.language.layout import PartChunk, cut
from airproof.language.parser import normal, parse
from airproof.language.scan import Line, Token, lines_of
from airproof.language.words import KEYWORDS

INDENT = 4  # spaces

_TIGHT_BEFORE = frozenset(",;:)/")
_TIGHT_AFTER = frozenset("(/")


def tidy(text: str, path: str) -> str:
    """The text with even spaces, indents and blank lines; the same tree, every comment kept.

    Raises Rejected if the text is not a circuit's text.
    """
    parse(text, path)
    lines = lines_of(normal(text, path), path)
    depths = _depths(lines)
    rows: list[str] = []
    for at, line in enumerate(lines):
        depth = depths[line.number] if line.tokens else _comment_depth(lines, at, depths)
        row = (" " * (INDENT * depth) + _row(line)).rstrip()
        if row or (rows and rows[-1]):
            rows.append(row)
    return "\n".join(rows).rstrip("\n") + "\n"


def _depths(lines: Sequence[Line]) -> dict[int, int]:
    """How deep each line with tokens is indented; lines that stand alone are at the margin."""
    depths = {line.number: 0 for line in lines if line.tokens}
    for chunk in cut(lines).chunks:
        if not isinstance(chunk, PartChunk):
            depths |= _within(chunk.lines, 0)
            continue
        depths |= _within(chunk.header.lines, 0)
        for inner in chunk.body:
            depths |= _within(inner.lines, 1)
    return depths


def _within(lines: Sequence[Line], depth: int) -> dict[int, int]:
    """A line further in than the statement's first continuation stays one step further in."""
    first, *others = lines
    step = others[0].indent if others else 0
    depths = {line.number: depth + (2 if line.indent > step else 1) for line in others}
    return {first.number: depth, **depths}


def _comment_depth(lines: Sequence[Line], at: int, depths: dict[int, int]) -> int:
    """A comment at the margin stays there; any other goes with the statement it is in."""
    comment = lines[at].comment
    if comment is None or comment.span.column == 1:
        return 0
    after = next((depths[line.number] for line in lines[at:] if line.tokens), 0)
    before = next((depths[line.number] for line in reversed(lines[:at]) if line.tokens), 0)
    return after or before


def _row(line: Line) -> str:
    code = "".join(spaced(line.tokens))
    if line.comment is None:
        return code
    comment = _comment(line.comment)
    return f"{code}  {comment}" if code else comment


def _comment(token: Token) -> str:
    body = token.text[1:].rstrip()
    return f"# {body}" if body[:1].isalnum() else f"#{body}"


def spaced(tokens: Sequence[Token]) -> Iterator[str]:
    for at, token in enumerate(tokens):
        if at and not _joined(tokens, at):
            yield " "
        yield "+-" if token.text == "\u00b1" else token.text


def _joined(tokens: Sequence[Token], at: int) -> bool:
    """No space stands before this token."""
    before, here = tokens[at - 1], tokens[at]
    if here.kind == "symbol" and here.text in _TIGHT_BEFORE:
        return not (here.text == "/" and before.kind == "number")
    if before.kind == "symbol" and before.text in _TIGHT_AFTER:
        return True
    return before.text in ("-", "+") and not _operand(tokens, at - 2)


def _operand(tokens: Sequence[Token], at: int) -> bool:
    """What stands here can be added to, so a sign after it is no sign of a number."""
    if at < 0:
        return False
    token = tokens[at]
    if token.kind == "symbol":
        return token.text in (")", "%")
    return token.kind == "number" or token.text not in KEYWORDS
