"""Cuts in a text: pieces of it replaced, whatever stands around them left as it is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from airproof.base.source import Span

WIDEST = 100  # columns; a clause that would reach beyond them begins a line


@dataclass(frozen=True, slots=True)
class Cut:
    """What is put in the place of the span; an empty span inserts."""

    span: Span
    text: str


def after(span: Span) -> Span:
    """The empty place behind a span."""
    line, column = span.end_line, span.end_column
    return Span(span.path, line, column, line, column)


def cut_out(text: str, cuts: Iterable[Cut]) -> str:
    """The text with every cut made; the cuts do not overlap."""
    rows = text.split("\n")
    for cut in sorted(cuts, key=lambda one: (one.span.line, one.span.column), reverse=True):
        span = cut.span
        head = rows[span.line - 1][: span.column - 1]
        tail = rows[span.end_line - 1][span.end_column - 1 :]
        rows[span.line - 1 : span.end_line] = f"{head}{cut.text}{tail}".split("\n")
    return "\n".join(rows)


def without_rows(text: str, gone: range, instead: Iterable[str] = ()) -> str:
    """The text with other rows in the place of these; no two blank rows are left together."""
    rows = text.split("\n")
    put = list(instead)
    before, behind = rows[: gone.start - 1], rows[gone.stop - 1 :]
    if not put and (not before or not before[-1].strip()) and behind and not behind[0].strip():
        behind = behind[1:]
    return "\n".join([*before, *put, *behind])


def with_rows(text: str, rows: Iterable[str]) -> str:
    """The text with more rows at its end, set off by a blank one."""
    return "\n".join([text.rstrip("\n"), "", *rows, ""])
