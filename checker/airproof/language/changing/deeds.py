"""Lark's tree of a step to what is to be done."""

from __future__ import annotations

from typing import cast

from lark import Tree

from airproof.base.source import Span
from airproof.language.changing import nodes
from airproof.language.clauses import SPOKEN
from airproof.language.layout import Chunk
from airproof.language.reader import Child, Node, Reader
from airproof.language.syntax import Extent, Name, Title
from airproof.language.tidying import spaced

# Clauses of which a statement may have several that no word tells apart.
WHOLE = ("joins", "branch", "changes")
EXTENTS = ("single", "range", "tolerated")


def deed_of(
    reader: Reader, said: Child, chunk: Chunk, new: nodes.Inserted | None
) -> nodes.Deed | None:
    """The deed; None if it is wrong, with the reason among the reader's problems."""
    if not isinstance(said, Tree):
        raise TypeError("a step is a tree")
    before = len(reader.problems)
    deed = _READERS[str(said.data)](reader, said, chunk, new)
    return deed if len(reader.problems) == before else None


def _fix(reader: Reader, tree: Node, chunk: Chunk, new: nodes.Inserted | None) -> nodes.Deed:
    name, position = tree.children
    return nodes.Fix(reader.name(name), reader.name(position))


def _remove(reader: Reader, tree: Node, chunk: Chunk, new: nodes.Inserted | None) -> nodes.Deed:
    return nodes.Remove(_called(reader, tree.children[0]))


def _called(reader: Reader, tree: Child) -> Name | Title:
    if isinstance(tree, Tree) and tree.data == "title":
        return reader.title(tree)
    return reader.name(tree)


def _withdraw(reader: Reader, tree: Node, chunk: Chunk, new: nodes.Inserted | None) -> nodes.Deed:
    name, reason = tree.children
    why = reader.title(reason)
    if not why.text.strip():
        reader.problem("step_ends", why.span, found="", form='`withdraw PROPERTY because "..."`')
    return nodes.Withdraw(reader.name(name), why)


def _add(reader: Reader, tree: Node, chunk: Chunk, new: nodes.Inserted | None) -> nodes.Deed:
    assert new is not None
    return nodes.Add(new)


def _replace(reader: Reader, tree: Node, chunk: Chunk, new: nodes.Inserted | None) -> nodes.Deed:
    assert new is not None
    return nodes.Replace(_called(reader, tree.children[0]), new)


def _set(reader: Reader, tree: Node, chunk: Chunk, new: nodes.Inserted | None) -> nodes.Deed:
    name, *said = tree.children
    clauses = [_clause(reader, cast(Node, one), chunk) for one in said]
    seen: set[tuple[str, str]] = set()
    for clause in clauses:
        word = SPOKEN.get(clause.rule, clause.text)
        if clause.rule in WHOLE:
            reader.problem("step_whole", clause.span, clause=word)
        elif (clause.rule, clause.place) in seen:
            reader.problem("clause_twice", clause.span, clause=word)
        seen.add((clause.rule, clause.place))
    return nodes.SetClauses(reader.name(name), tuple(clauses))


def _clause(reader: Reader, tree: Node, chunk: Chunk) -> nodes.Clause:
    rule, span = str(tree.data), reader.span(tree)
    place = reader.name(tree.children[0]).text if rule == "moves" else ""
    if rule in EXTENTS:
        reader.extent(tree)
        rule = "extent"
    return nodes.Clause(rule, place, text_in(chunk, span), span)


def text_in(chunk: Chunk, span: Span) -> str:
    """The chunk's words in the span, on one line."""
    start, end = (span.line, span.column), (span.end_line, span.end_column)
    tokens = [t for t in chunk.tokens if start <= (t.span.line, t.span.column) < end]
    return "".join(spaced(tokens))


def _swap(reader: Reader, tree: Node, chunk: Chunk, new: nodes.Inserted | None) -> nodes.Deed:
    name, *values = tree.children
    old, then = (_value(reader, value, chunk) for value in values)
    if old.unit != then.unit:
        reader.problem("step_values", then.span, old=old.text, new=then.text)
    return nodes.Swap(reader.name(name), old, then)


def _value(reader: Reader, tree: Child, chunk: Chunk) -> nodes.Value:
    extent: Extent = reader.extent(tree)
    last = None if extent.last is None else extent.last.value
    unit = str(extent.first.unit.dimension.powers)
    text = text_in(chunk, extent.span)
    return nodes.Value(extent.first.value, last, unit, extent.tolerance, text, extent.span)


def _connect(reader: Reader, tree: Node, chunk: Chunk, new: nodes.Inserted | None) -> nodes.Deed:
    name, *ends = tree.children
    found = {str(end.data): reader.name(end.children[0]) for end in ends if isinstance(end, Tree)}
    return nodes.Connect(reader.name(name), found.get("from_end"), found.get("to_end"))


_READERS = {
    "fix": _fix,
    "remove": _remove,
    "withdraw": _withdraw,
    "add": _add,
    "replace": _replace,
    "set": _set,
    "swap": _swap,
    "connect": _connect,
}
