"""Letters to tokens: everything that can be said about a text without its grammar."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from airproof.base.diagnostics import Problem, nearest
from airproof.base.quantities import find_unit, unit_names
from airproof.base.source import Span
from airproof.language.words import KEYWORDS

LONGEST_NUMBER = 30  # characters
LARGEST_POWER = 12  # of ten, in an exponent
LONGEST_NAME = 60  # characters
DEEPEST_NESTING = 40  # brackets and `not` within one another

_TOKEN = re.compile(
    r"""
    (?P<space>[ \t]+)
  | (?P<comment>\#.*)
  | (?P<string>"(?:\\.|[^"\\])*")
  | (?P<unclosed>".*)
  | (?P<number>\d+(?:\.\d+)?(?:[eE][+-]?\d+)?)
  | (?P<word>(?:self-lapping|quick-exhaust|spring-applied)(?![\w-])
            |[A-Za-z][A-Za-z0-9_]*(?:\.[A-Za-z0-9][A-Za-z0-9_]*)*)
  | (?P<symbol>->|\.\.|\+-|>=|<=|[-+=<>(),;:%/.±])
  | (?P<other>.)
    """,
    re.VERBOSE,
)
_AFTER_NUMBER = re.compile(
    r"[ ]*(cubic +inch(?:es)?\b|[A-Za-z]+(?:[./][A-Za-z]+)*(?:/\([^()]*\))?(?: abs\b)?)"
)
_ITEM = re.compile(r"[ ]+[A-Za-z0-9][A-Za-z0-9_.\-/]*")

# What a hand or an office program writes for a letter of the language.
_INSTEAD: dict[str, str] = {
    "\u2265": "`>=`",
    "\u2264": "`<=`",
    "\u2192": "`->`",
    "\u2013": "`-`",  # en dash
    "\u2014": "`-`",  # em dash
    "\u2212": "`-`",  # minus sign
    "\u2026": "`..`",
    "\u201c": '`"`',  # curly quotes
    "\u201d": '`"`',
    "\u201e": '`"`',
    "\u2018": '`"`',
    "\u2019": '`"`',
    "'": '`"`',
    "[": "`(`",
    "]": "`)`",
    "{": "`(`",
    "}": "`)`",
    "&": "`and`",
    "|": "`or`",
    "!": "`not`",
    "*": "`times`",
    "\u00d7": "`times`",  # multiplication sign
    "\u00a0": "a plain space",  # no-break space
}


@dataclass(frozen=True, slots=True)
class Token:
    """A piece of a line; `kind` is a group of the pattern above, without spaces."""

    kind: str
    text: str
    span: Span


@dataclass(frozen=True, slots=True)
class Line:
    """A line's tokens; `indent` is the column of the first one minus 1."""

    number: int
    indent: int
    tokens: tuple[Token, ...]
    comment: Token | None
    problems: tuple[Problem, ...]


def lines_of(text: str, path: str) -> list[Line]:
    """Every line of the text as tokens, with what is wrong in its letters."""
    return [scan_line(path, number, raw) for number, raw in enumerate(text.split("\n"), 1)]


def scan_line(path: str, number: int, raw: str) -> Line:
    """One line as tokens."""
    tokens: list[Token] = []
    comment = None
    problems = _indent_problems(path, number, raw)
    place = 0
    while match := _TOKEN.match(raw, place):
        kind = match.lastgroup or "other"
        token = Token(kind, match.group(), _span(path, number, place, match.end()))
        place = match.end()
        if kind == "comment":
            comment = token
            problems += _unseen_problems(token)
        elif kind != "space":
            problems += _letter_problems(token, raw, place)
            tokens.append(token)
        if kind == "word" and token.text == "item" and (item := _ITEM.match(raw, place)):
            tokens.append(_item_token(path, number, place, item))
            place = item.end()
    indent = tokens[0].span.column - 1 if tokens else 0
    return Line(number, indent, tuple(tokens), comment, tuple(problems))


def _item_token(path: str, number: int, place: int, match: re.Match[str]) -> Token:
    text = match.group().strip()
    return Token("word", text, _span(path, number, match.end() - len(text), match.end()))


def _span(path: str, number: int, start: int, end: int) -> Span:
    return Span(path, number, start + 1, number, end + 1)


def _indent_problems(path: str, number: int, raw: str) -> list[Problem]:
    margin = raw[: len(raw) - len(raw.lstrip(" \t"))]
    if "\t" not in margin or not raw.strip(" \t"):
        return []
    at = margin.index("\t")
    return [Problem("tab", _span(path, number, at, at + 1))]


def _unseen_problems(token: Token) -> list[Problem]:
    return _turning_problems(token) + _control_problems(token)


def _control_problems(token: Token) -> list[Problem]:
    found = [c for c in token.text if unicodedata.category(c) == "Cc" and c != "\t"]
    return [_letter(token, found[0], "control_letter")] if found else []


def _turning_problems(token: Token) -> list[Problem]:
    """Marks that turn the reading direction make a line read other than it is."""
    turning = ("RLE", "LRE", "RLO", "LRO", "PDF", "RLI", "LRI", "FSI", "PDI")
    found = [c for c in token.text if unicodedata.bidirectional(c) in turning]
    return [_letter(token, found[0], "turning_mark")] if found else []


def _letter(token: Token, letter: str, code: str = "letter") -> Problem:
    return Problem(code, token.span, {"letter": _spelled(letter)})


def _spelled(letter: str) -> str:
    category = unicodedata.category(letter)
    if category[0] in "CZ" or unicodedata.bidirectional(letter) in ("R", "AL"):
        return f"U+{ord(letter):04X} {unicodedata.name(letter, '')}".strip()
    return letter


def _letter_problems(token: Token, raw: str, end: int) -> list[Problem]:
    match token.kind:
        case "other":
            return _other_problems(token, raw, end)
        case "unclosed":
            return [Problem("unclosed_quote", token.span)]
        case "string":
            return _string_problems(token)
        case "number":
            return _number_problems(token, raw, end)
        case "symbol":
            return _symbol_problems(token, raw, end)
    if len(token.text) > LONGEST_NAME:
        return [Problem("long_name", token.span, {"limit": str(LONGEST_NAME)})]
    return []


def _other_problems(token: Token, raw: str, end: int) -> list[Problem]:
    letter = token.text
    instead = _INSTEAD.get(letter)
    if instead is not None:
        return [Problem("letter_instead", token.span, {"letter": letter, "instead": instead})]
    if letter == "_" or letter.isalpha():
        return [Problem("name_letters", token.span, {"letter": _spelled(letter)})]
    return _unseen_problems(token) or [_letter(token, letter)]


def _string_problems(token: Token) -> list[Problem]:
    for match in re.finditer(r"\\(.)", token.text):
        if match.group(1) not in '"\\':
            return [Problem("escape", token.span, {"escape": match.group()})]
    return _turning_problems(token) + _control_problems(token)


def _number_problems(token: Token, raw: str, end: int) -> list[Problem]:
    power = re.search(r"[eE]([+-]?\d+)", token.text)
    if len(token.text) > LONGEST_NUMBER or (power and abs(int(power.group(1))) > LARGEST_POWER):
        return [Problem("number_size", token.span, {"number": token.text})]
    if re.match(r",\d", raw[end : end + 2]):
        data = {"number": token.text, "rest": raw[end + 1]}
        return [Problem("decimal_comma", token.span, data)]
    return _unit_problems(token, raw, end)


def _unit_problems(token: Token, raw: str, end: int) -> list[Problem]:
    match = _AFTER_NUMBER.match(raw, end)
    if match is None or find_unit(match.group(1)):
        return []
    word = match.group(1)
    first = re.split(r"[ ./]", word)[0]
    if first in KEYWORDS or (find_unit(first) and "/" not in word and "." not in word):
        return []
    span = _span(token.span.path, token.span.line, match.start(1), match.end(1))
    return [Problem("unknown_unit", span, {"unit": word}, nearest(word, unit_names()))]


def _symbol_problems(token: Token, raw: str, end: int) -> list[Problem]:
    start = end - len(token.text)
    if token.text == "." and raw[end : end + 1].isdigit():
        return [Problem("bare_point", token.span)]
    if token.text == ".":
        return [Problem("stray_point", token.span)]
    if raw[start : end + 1] == "//":
        return [Problem("slashes", token.span)]
    if raw[start : end + 1] in ("==", "=>", "=<"):
        return [Problem("order_spelling", token.span, {"found": raw[start : end + 1]})]
    return []


def nesting_problems(tokens: list[Token]) -> list[Problem]:
    """Brackets without a partner, or too many within one another."""
    open_ones: list[Token] = []
    negations = 0
    for token in tokens:
        negations = negations + 1 if token.text == "not" else negations
        if token.kind == "symbol" and token.text == "(":
            open_ones.append(token)
        elif token.kind == "symbol" and token.text == ")":
            if not open_ones:
                return [Problem("bracket_closed", token.span)]
            open_ones.pop()
        elif token.kind == "word" and token.text != "not":
            negations = 0
        if len(open_ones) + negations > DEEPEST_NESTING:
            return [Problem("nesting", token.span, {"limit": str(DEEPEST_NESTING)})]
    return [Problem("bracket_open", open_ones[-1].span)] if open_ones else []
