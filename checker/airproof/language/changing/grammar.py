"""Where lark is set up for change files: the text of a head or a step to its tree."""

from __future__ import annotations

from functools import cache

from lark import Lark, Token, Tree

from airproof.language import tables
from airproof.language.grammar import built
from airproof.resources import folder


@cache
def _parser() -> Lark:
    """Read only; its tables are kept for the next run."""
    texts = ((folder("grammar") / name).read_text("utf-8") for name in _FILES)
    text = "".join(texts)
    kept = tables.file_for(text)
    return tables.read(kept) or tables.write(kept, built(text, "change_start"))


_FILES = ("circuit.lark", "change.lark")


def step_tree_of(text: str) -> Tree[Token]:
    """The tree of a head or step; raises lark's UnexpectedInput."""
    return _parser().parse(text)
