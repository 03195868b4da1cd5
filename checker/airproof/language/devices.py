"""Trees of controls, devices and plain flows to their nodes."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType
from typing import Literal, cast

from lark import Tree

from airproof.base.quantities import PRESSURE, TIME
from airproof.base.source import Span
from airproof.language import syntax
from airproof.language.clauses import RESTRICTIONS, Clauses, alternatives, read_restriction
from airproof.language.phrases import condition, optional_condition
from airproof.language.reader import Child, Node, Reader

Kind = Literal["valve", "relay", "switch", "latch"]


def _control(
    reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span
) -> syntax.Control:
    return syntax.Control(
        reader.new_name(parts[0]),
        _positions(reader, parts[1]),
        clauses.starts(),
        "in_order" in clauses.single,
        clauses.name("sealed"),
        clauses.measure("dwell", TIME),
        clauses.name("worked"),
        clauses.drawing(),
        span,
    )


def _positions(reader: Reader, tree: Child) -> tuple[syntax.Name, ...]:
    if not isinstance(tree, Tree):
        raise TypeError("expected a list of positions")
    return tuple(reader.new_name(child) for child in tree.children)


def _range_control(
    reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span
) -> syntax.RangeControl:
    return syntax.RangeControl(
        reader.new_name(parts[0]),
        reader.extent(parts[1], PRESSURE),
        clauses.extent("starts_extent"),
        clauses.name("worked"),
        clauses.drawing(),
        span,
    )


def _device(reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span) -> syntax.Device:
    kind, name = cast(Kind, str(parts[0])), reader.new_name(parts[1])
    head = parts[2] if len(parts) > 2 else None
    positions, plain = _device_head(reader, head)
    moves = [tree for tree in clauses.repeated if tree.data == "moves"]
    return syntax.Device(
        kind,
        name,
        positions,
        plain,
        tuple(_move(reader, tree) for tree in moves),
        _all_joins(reader, clauses),
        clauses.starts(),
        clauses.extent("moving_takes", TIME),
        clauses.on_the_way(),
        "latched" in clauses.single,
        clauses.drawing(),
        span,
    )


def _device_head(
    reader: Reader, head: Child
) -> tuple[tuple[syntax.Name, ...], syntax.Plain | None]:
    if not isinstance(head, Tree):
        return (), None
    if head.data == "names":
        return _positions(reader, head), None
    first, when, other = head.children
    position, otherwise = reader.new_name(first), reader.new_name(other)
    plain = syntax.Plain(position, condition(reader, when), otherwise, reader.span(head))
    return (position, otherwise), plain


def _move(reader: Reader, tree: Node) -> syntax.Move:
    to, when = tree.children
    return syntax.Move(reader.name(to), condition(reader, when), reader.span(tree))


def _all_joins(reader: Reader, clauses: Clauses) -> tuple[syntax.Joins, ...]:
    """`joins` clauses with the `to` clauses and restrictions that follow each."""
    groups: list[list[Node]] = []
    for tree in clauses.in_order:
        if tree.data == "joins":
            groups.append([tree])
        elif tree.data in ("branch", *RESTRICTIONS):
            if groups:
                groups[-1].append(tree)
            else:
                code = "takes" if tree.data == "moving" else "branch_alone"
                reader.problem(code, reader.span(tree))
    return tuple(_joins(reader, group) for group in groups)


def _joins(reader: Reader, group: Sequence[Node]) -> syntax.Joins:
    branches: list[list[Node]] = []
    for tree in group:
        if tree.data in RESTRICTIONS:
            branches[-1].append(tree)
        else:
            branches.append([tree])
    source = reader.name(group[0].children[0])
    span = reader.span(group[0]).to(reader.span(group[-1]))
    return syntax.Joins(source, tuple(_branch(reader, branch) for branch in branches), span)


def _branch(reader: Reader, trees: list[Node]) -> syntax.Branch:
    target, when = trees[0].children[-2:]
    otherwise = isinstance(when, Tree) and when.data == "otherwise"
    span = reader.span(trees[0]).to(reader.span(trees[-1]))
    positions = () if otherwise else alternatives(reader, when)
    restriction = read_restriction(reader, trees[1:])
    return syntax.Branch(reader.name(target), positions, restriction, span)


def _flow(reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span) -> syntax.Flow:
    one_way = clauses.single.get("one_way")
    opening = None if one_way is None else one_way.children[0]
    when = clauses.single.get("flow_while")
    return syntax.Flow(
        reader.new_name(parts[0]),
        reader.name(parts[1]),
        reader.name(parts[2]),
        None if when is None else optional_condition(reader, when.children[0]),
        clauses.restriction(),
        one_way is not None,
        None if opening is None else reader.measure(opening, PRESSURE),
        clauses.drawing(),
        span,
    )


Read = Callable[[Reader, Sequence[Child], Clauses, Span], syntax.Statement]

DEVICES: Mapping[str, Read] = MappingProxyType(
    {
        "control": _control,
        "range_control": _range_control,
        "device": _device,
        "plain_device": _device,
        "joining_device": _device,
        "flow": _flow,
    }
)
