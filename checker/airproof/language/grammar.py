"""The one place where lark is set up: a statement's text to its tree."""

from __future__ import annotations

import re
from functools import cache

from lark import Lark, Token, Tree
from lark.lexer import PatternRE, PatternStr, TerminalDef

from airproof.language import tables
from airproof.resources import folder


@cache
def parser() -> Lark:
    """The parser of one statement, read only; its tables are kept for the next run."""
    text = (folder("grammar") / "circuit.lark").read_text(encoding="utf-8")
    kept = tables.file_for(text)
    return tables.read(kept) or tables.write(kept, built(text, "start"))


def built(text: str, start: str) -> Lark:
    """A parser of the grammar's text that begins with that rule."""
    return Lark(
        text,
        parser="lalr",
        start=start,
        propagate_positions=True,
        maybe_placeholders=True,
        edit_terminals=_whole_words,
    )


def _whole_words(terminal: TerminalDef) -> None:
    """`starts` is not the beginning of `startsuit`; a word goes before a name of its letters."""
    if isinstance(terminal.pattern, PatternStr) and terminal.pattern.value.isalpha():
        terminal.pattern = PatternRE(re.escape(terminal.pattern.value) + r"(?!\w)")
        terminal.priority = 1


def tree_of(text: str) -> Tree[Token]:
    """The tree of one statement; raises lark's UnexpectedInput."""
    return parser().parse(text)


@cache
def spelled() -> dict[str, str]:
    """How each terminal is written or, if it has no fixed letters, what it is called."""
    return {terminal.name: _spelled(terminal) for terminal in parser().terminals}


_CALLED = {
    "NAME": "a name",
    "NUMBER": "a number",
    "STRING": "a text in quotes",
    "UNIT": "a unit",
    "ITEM": "an item number",
    "ORDER": "`>=`",
    "SIGN": "`+`",
    "SIDE": "`below`",
    "NOT": "`not`",
    "BOUND": "`least`",
    "BINDING_WORD": "`from`",
    "ON_THE_WAY": "`closed on the way`",
    "HAS_LASTED": "`has lasted`",
    "DRAWING": "`drawing`",
    "REASON": "`reason`",
    "HAZARD": "`hazard`",
    "$END": "the end of the statement",
}


def _spelled(terminal: TerminalDef) -> str:
    if terminal.name in _CALLED:
        return _CALLED[terminal.name]
    text = terminal.pattern.value.replace(r"(?!\w)", "").replace("\\", "")
    return f"`{text}`"


def called(name: str) -> str:
    """What a person calls the terminal of this name."""
    return _CALLED.get(name) or spelled().get(name, "something else")
