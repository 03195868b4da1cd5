"""Source text and places in it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Span:
    """A place in a text: lines and columns count from 1, the end column is one past the last."""

    path: str
    line: int
    column: int
    end_line: int
    end_column: int

    def to(self, other: Span) -> Span:
        """From the beginning of this span to the end of the other."""
        return Span(self.path, self.line, self.column, other.end_line, other.end_column)


@dataclass(frozen=True, slots=True)
class SourceText:
    """A text under the name a person knows it by."""

    path: str
    text: str
