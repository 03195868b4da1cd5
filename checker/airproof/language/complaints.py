"""What lark could not read, said in the language's own words.

Rows of `grammar/mistakes.toml` with a `sentence` are examples: the parser's
state and the token in which an example goes wrong name the sentence for every
statement that goes wrong in the same way.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from functools import cache
from typing import cast

from lark import Token
from lark.exceptions import UnexpectedCharacters, UnexpectedInput, UnexpectedToken

from airproof.base.diagnostics import Problem, nearest
from airproof.base.source import Span
from airproof.language.clauses import spoken_clauses
from airproof.language.grammar import called, tree_of
from airproof.language.layout import Chunk, PartChunk, cut, head_of
from airproof.language.scan import Line, lines_of
from airproof.language.words import HEADS, KEYWORDS
from airproof.resources import folder

MOST_LISTED = 12  # words offered in one message
ANYTHING = "*"  # any token in the parser's state

_STATEMENT = re.compile(
    rf"(?:{'|'.join(HEADS)})\s+\w+\s*:|(?:property|interlock|fit|state)\s+\w+\s"
)


def complaint(chunk: Chunk, text: str, error: UnexpectedInput) -> Problem:
    """The problem behind lark's error in the chunk's text."""
    token = token_of(error)
    first = chunk.lines[0].number
    span = span_of(chunk, token)
    found = str(token).strip() if token.type != "$END" else ""
    data = {
        "found": found,
        "statement": head_of(chunk.tokens) or chunk.first.text,
        **_around(chunk, span),
    }
    offset = _offset(text, span.line - first + 1, span.column)
    if found and _STATEMENT.match(text, offset):
        return Problem("statement_inside", span, data)
    names = _expected(error)
    code = _by_words(data, names) or _by_example(error, token, data)
    if code is not None:
        return Problem(code, span, data)
    words = _offered(names, data["statement"])
    data["expected"] = _joined(words)
    guess = nearest(found, [word.strip("`") for word in words if word[0] == "`"]) if found else None
    return Problem("unexpected" if found else "breaks_off", span, data, guess)


_SENTENCES = ("never", "always", "whenever", "after", "once", "possible")


def _by_words(data: dict[str, str], names: frozenset[str]) -> str | None:
    """Mistakes that the words themselves give away, wherever they stand."""
    for word in (data["found"], data["previous"]):
        if word in ("drawing", "reason", "hazard"):
            data["word"] = word
            return "quoted_after"
    if data["found"] in _SENTENCES and "EVEN" in names and "NEVER" not in names:
        return "second_sentence"
    if data["found"] == "not":
        return "not_first"
    if data["found"] in ("if", "else", "then", "unless"):
        return "if"
    if data["previous"] in ("while", "when", "is", "and", "or") and "NAME" not in names:
        return "name_before" if data["found"] else None
    return None


def token_of(error: UnexpectedInput) -> Token:
    if isinstance(error, UnexpectedToken):
        return cast(Token, error.token)
    if isinstance(error, UnexpectedCharacters):
        return Token("CHARACTER", error.char, line=error.line, column=error.column)
    return Token("$END", "")


def span_of(chunk: Chunk, token: Token) -> Span:
    """The token's place; at the end of a statement, the place just after its last token."""
    if token.type == "$END" or not token:
        last = chunk.tokens[-1].span
        column = last.end_column
        return Span(last.path, last.end_line, column, last.end_line, column + 1)
    line = (token.line or 1) + chunk.lines[0].number - 1
    column = token.column or 1
    for known in chunk.tokens:
        if known.span.line == line and known.span.column == column:
            return known.span
    return Span(chunk.first.span.path, line, column, line, column + 1)


def _around(chunk: Chunk, span: Span) -> dict[str, str]:
    """The words before and after the place, for the sentence."""
    before = [t.text for t in chunk.tokens if _place(t.span) < _place(span)]
    after = [t.text for t in chunk.tokens if _place(t.span) > _place(span)]
    return {"previous": before[-1] if before else "", "following": after[0] if after else ""}


def _place(span: Span) -> tuple[int, int]:
    return span.line, span.column


def _offset(text: str, line: int, column: int) -> int:
    start = 0
    for _ in range(line - 1):
        start = text.find("\n", start) + 1
    return start + column - 1


def _expected(error: UnexpectedInput) -> frozenset[str]:
    """The names of the terminals that could stand here."""
    names = getattr(error, "accepts", None) or getattr(error, "expected", None) or ()
    return frozenset(cast(Iterable[str], names))


def _offered(names: frozenset[str], statement: str) -> list[str]:
    """What could stand here, in the language's own words; clauses only of this statement."""
    order = ("NAME", "NUMBER", "STRING", "COLON", "COMMA")
    ranked = sorted(names, key=lambda n: (order.index(n) if n in order else 9, called(n)))
    if "CHOKE" not in names:
        return list(dict.fromkeys(called(name) for name in ranked))
    plain = [called(name) for name in ranked if not called(name)[1:2].isalpha()]
    joints = [called(name) for name in ("AND", "OR") if name in names]
    return [*plain, *joints, *(f"`{clause}`" for clause in spoken_clauses(statement))]


def _joined(words: list[str]) -> str:
    if len(words) > MOST_LISTED:
        return ", ".join(words[:MOST_LISTED]) + ", ..."
    return " or ".join(filter(None, [", ".join(words[:-1]), words[-1] if words else ""]))


def _key(error: UnexpectedInput, token: Token) -> tuple[int, str]:
    return cast(int, getattr(error.state, "position", error.state)), token.type


def _by_example(error: UnexpectedInput, token: Token, data: dict[str, str]) -> str | None:
    state, kind = _key(error, token)
    code = _examples().get((state, kind)) or _examples().get((state, ANYTHING))
    return code if code is None or _fits(code, data) else None


def _fits(code: str, data: dict[str, str]) -> bool:
    """Whether the words around bear out what the parser's state suggests."""
    match code:
        case "second_rule":
            return data["following"] in ("moves", "is", "locked", "forced")
        case "semicolon":
            return data["previous"] in KEYWORDS
        case "not_side":
            return data["previous"] in ("below", "above")
        case "per":
            return data["found"] == "per"
    return True


@cache
def _examples() -> dict[tuple[int, str], str]:
    rows = tomllib.loads((folder("grammar") / "mistakes.toml").read_text(encoding="utf-8"))
    known: dict[tuple[int, str], str] = {}
    for row in rows.get("mistake", ()):
        if "sentence" in row:
            error = _first_error(row["text"])
            if error is not None:
                state, kind = _key(error, token_of(error))
                known.setdefault((state, kind), row["sentence"])
                if row.get("any_word"):
                    known.setdefault((state, ANYTHING), row["sentence"])
    return known


def _first_error(text: str) -> UnexpectedInput | None:
    for chunk in cut(lines_of(text, "")).chunks:
        one = chunk.header if isinstance(chunk, PartChunk) else chunk
        try:
            tree_of(plain_text(one))
        except UnexpectedInput as error:
            return error
    return None


def plain_text(chunk: Chunk) -> str:
    """The chunk's lines with every token in its place and nothing else, for lark."""
    first, last = chunk.lines[0].number, chunk.lines[-1].number
    rows = [""] * (last - first + 1)
    for line in chunk.lines:
        rows[line.number - first] = _placed(line)
    return "\n".join(rows)


def _placed(line: Line) -> str:
    row: list[str] = []
    width = 0
    for token in line.tokens:
        row += [" " * (token.span.column - 1 - width), token.text]
        width = token.span.end_column - 1
    return "".join(row)
