"""Problems carry data; their sentences are made here, late.

A code names a sentence in `wording_text` (how a text is written),
`wording_circuit` (what it says) or `wording_change` (change files); its
`{fields}` are filled from the data.
"""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from airproof.base.source import SourceText, Span
from airproof.base.wording_change import CHANGE
from airproof.base.wording_circuit import CIRCUIT
from airproof.base.wording_text import TEXT

WIDEST_QUOTE = 110  # characters of a source line shown under a message
LONGEST_PATH = 1000  # characters of a path
LONGEST_DATUM = 80  # characters of the text repeated inside a sentence
LISTS = ("expected", "allowed")  # what airproof itself says at length


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with a text.  `nearest` is what was probably meant."""

    code: str
    span: Span | None
    data: Mapping[str, str] = field(default_factory=dict)
    nearest: str | None = None

    @property
    def sentence(self) -> str:
        """What is wrong and what was expected, for a person."""
        template = next(said[self.code] for said in (TEXT, CIRCUIT, CHANGE) if self.code in said)
        return template.format_map({key: _datum(key, value) for key, value in self.data.items()})

    @property
    def message(self) -> str:
        """The sentence and, if there is one, the suggestion."""
        if self.nearest is None:
            return self.sentence
        return f"{self.sentence}; did you mean `{self.nearest}`?"


class Rejected(Exception):
    """A text was refused; holds every problem that a stage found."""

    def __init__(
        self, problems: Iterable[Problem], sources: Mapping[str, SourceText] | None = None
    ):
        self.problems = tuple(problems)
        self.sources = dict(sources or {})
        super().__init__(render(self.problems, self.sources))


def nearest(word: str, candidates: Iterable[str]) -> str | None:
    """The candidate most like the word, or None if none is like it."""
    lowered = {candidate.lower(): candidate for candidate in candidates}
    found = difflib.get_close_matches(word[:LONGEST_DATUM].lower(), lowered, n=1, cutoff=0.6)
    return lowered[found[0]] if found else None


def listed(words: Sequence[str], joint: str = "or") -> str:
    """`a`, `b` or `c`, each in backquotes."""
    quoted = [f"`{word}`" for word in words]
    if len(quoted) < 2:
        return "".join(quoted)
    return f"{', '.join(quoted[:-1])} {joint} {quoted[-1]}"


def render(problems: Iterable[Problem], sources: Mapping[str, SourceText]) -> str:
    """Every problem as `file:line:column: message`, its line and a marker under it."""
    lines = {path: source.text.split("\n") for path, source in sources.items()}
    return "\n".join(_rendered(problem, lines) for problem in problems)


def _rendered(problem: Problem, lines: Mapping[str, Sequence[str]]) -> str:
    span = problem.span
    if span is None:
        return problem.message
    known = lines.get(span.path, ())
    line = known[span.line - 1] if 0 < span.line <= len(known) else None
    return pointed(problem.message, span, line)


def pointed(message: str, span: Span, line: str | None) -> str:
    """`file:line:column: message`, and under it the line, if it is known, with a marker."""
    head = f"{_safe(span.path)}:{span.line}:{span.column}: {message}"
    return head if line is None else head + _quoted(line, span)


def _quoted(line: str, span: Span) -> str:
    first = max(0, span.column - 1 - WIDEST_QUOTE // 2)
    shown = line[first : first + WIDEST_QUOTE]
    last = span.end_column - 1 if span.end_line == span.line else len(line)
    start = min(span.column - 1 - first, len(shown))
    width = max(1, min(last - first, len(shown)) - start)
    return f"\n    {_safe(shown)}\n    {' ' * start}{'^' * width}"


def _datum(key: str, value: str) -> str:
    """A piece of the text inside a sentence, never longer than a person reads."""
    if key in LISTS or len(value) <= LONGEST_DATUM:
        return _safe(value)
    if key == "path":  # its end is what tells files apart
        return _safe(value if len(value) <= LONGEST_PATH else "..." + value[3 - LONGEST_PATH :])
    return _safe(value[: LONGEST_DATUM - 3]) + "..."


def _safe(text: str) -> str:
    """One column per character; what a screen would obey or turn round becomes `?`."""
    return "".join(" " if c == "\t" else c if _visible(c) else "?" for c in text)


def _visible(character: str) -> bool:
    return unicodedata.category(character) not in ("Cc", "Cf", "Cs", "Zl", "Zp")
