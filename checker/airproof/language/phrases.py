"""Lark's trees to conditions, rules and the sentences of properties."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Literal, cast

from lark import Token, Tree

from airproof.base.quantities import TIME
from airproof.language import syntax
from airproof.language.reader import Child, Node, Reader

Order = Literal[">=", ">", "<=", "<"]
Side = Literal["below", "above"]

_STRICT: dict[str, Order] = {"below": "<", "above": ">"}


def condition(reader: Reader, tree: Child) -> syntax.Condition:
    """Any condition."""
    if not isinstance(tree, Tree):
        raise TypeError("a condition is a tree")
    span = reader.span(tree)
    match tree.data:
        case "all":
            return syntax.All(tuple(condition(reader, child) for child in tree.children), span)
        case "some":
            return syntax.Some(tuple(condition(reader, child) for child in tree.children), span)
        case "negation":
            return syntax.Negation(condition(reader, tree.children[0]), span)
        case "comparison" | "beside" | "offset":
            return _comparison(reader, tree)
    return _about_one(reader, tree)


def optional_condition(reader: Reader, tree: Child) -> syntax.Condition | None:
    """A condition where there may be none."""
    return None if tree is None else condition(reader, tree)


def _comparison(reader: Reader, tree: Node) -> syntax.Comparison | syntax.Offset:
    children: Sequence[Child] = tree.children
    span = reader.span(tree)
    tolerance = None if children[-1] is None else reader.tolerance(children[-1])
    left, right = form(reader, children[0]), form(reader, children[-2])
    if tree.data == "offset":
        by = reader.measure(children[1])
        if by.unit.absolute or by.value < 0:
            reader.problem("offset_amount", by.span)
        return syntax.Offset(left, by, cast(Side, str(children[2])), right, tolerance, span)
    word = str(children[1])
    order = _STRICT.get(word) or cast(Order, word)
    return syntax.Comparison(left, order, right, tolerance, tree.data == "beside", span)


def _about_one(reader: Reader, tree: Node) -> syntax.Condition:
    subject = _single(reader, tree)
    children: Sequence[Child] = tree.children
    span = reader.span(tree)
    match tree.data:
        case "stands":
            position = reader.name(children[2])
            return syntax.Is(subject, position, children[1] is not None, span)
        case "moving_now":
            return syntax.IsMoving(subject, children[1] is not None, span)
        case "flowing":
            return syntax.IsFlowing(subject, children[1] is not None, span)
        case "expired":
            return syntax.HasExpired(subject, children[1] is not None, span)
        case "gone_to":
            return syntax.HasGoneTo(subject, reader.name(children[1]), span)
    return syntax.Signalled(subject, span)


def _single(reader: Reader, tree: Node) -> syntax.Name:
    """The one name that such a condition is about; a sum or a number is refused."""
    subject = form(reader, tree.children[0])
    first = subject.parts[0]
    if len(subject.parts) == 1 and isinstance(first, syntax.Term) and first.weight == 1:
        return first.name
    code = "bare_form" if tree.data == "signalled" else "form_stands"
    reader.problem(code, subject.span)
    return syntax.Name("", subject.span)


def form(reader: Reader, tree: Child) -> syntax.Form:
    """A sum of terms and constants, each with the sign before it."""
    if not isinstance(tree, Tree):
        raise TypeError("a form is a tree")
    parts: list[syntax.Term | syntax.Constant] = []
    sign = 1
    for child in tree.children:
        if isinstance(child, Token):
            sign = -1 if child == "-" else 1
        else:
            parts.append(_product(reader, child, sign))
            sign = 1
    return syntax.Form(tuple(parts), reader.span(tree))


def _product(reader: Reader, tree: Node, sign: int) -> syntax.Term | syntax.Constant:
    span = reader.span(tree)
    if tree.data == "constant":
        number, unit = tree.children
        measure = reader.measured(tree, None, cast(Token, number), cast(Token | None, unit))
        return syntax.Constant(sign, measure, span)
    if tree.data == "times":
        weight = Fraction(str(tree.children[0]))
        return syntax.Term(sign * weight, reader.name(tree.children[1]), span)
    return syntax.Term(Fraction(sign), reader.name(tree), span)


_RULES: dict[str, Literal["only", "locked", "forced"]] = {
    "only_rule": "only",
    "locked_rule": "locked",
    "forced_rule": "forced",
}


def rule(reader: Reader, tree: Node) -> syntax.Rule | syntax.AlwaysRule:
    """A rule on a control, or `always ...` of an assumption."""
    span = reader.span(tree)
    if tree.data == "always_rule":
        return syntax.AlwaysRule(condition(reader, tree.children[0]), span)
    control, position, when = tree.children
    name, where = reader.name(control), reader.name(position)
    return syntax.Rule(_RULES[tree.data], name, where, condition(reader, when), span)


SENTENCES = frozenset(
    ["never", "always", "whenever", "only_after", "after_never", "once_lasted", "lasts", "possible"]
)


def sentence(reader: Reader, tree: Node) -> syntax.Sentence:
    """The sentence of a property."""
    span = reader.span(tree)
    if tree.data == "once_lasted":
        cause, _, lasted, answer = tree.children
        time = reader.measure(lasted, TIME)
        return syntax.OnceLasted(condition(reader, cause), time, condition(reader, answer), span)
    if tree.data == "lasts":
        state, bound, limit = tree.children
        word = cast(Literal["least", "most"], str(bound))
        return syntax.Lasts(condition(reader, state), word, reader.measure(limit, TIME), span)
    return _untimed(reader, tree)


def _untimed(reader: Reader, tree: Node) -> syntax.Sentence:
    span = reader.span(tree)
    children: Sequence[Child] = tree.children
    first = condition(reader, children[0])
    match tree.data:
        case "never":
            return syntax.Never(first, optional_condition(reader, children[1]), span)
        case "always":
            return syntax.Always(first, span)
        case "whenever":
            limit = None if children[2] is None else reader.measure(children[2], TIME)
            return syntax.Whenever(first, condition(reader, children[1]), limit, span)
        case "only_after":
            since = optional_condition(reader, children[2])
            return syntax.OnlyAfter(first, condition(reader, children[1]), since, span)
        case "after_never":
            until = optional_condition(reader, children[2])
            return syntax.AfterNever(first, condition(reader, children[1]), until, span)
    return syntax.Possible(first, span)
