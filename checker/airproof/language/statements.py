"""Lark's tree of one statement to its node."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal, cast

from lark import Tree

from airproof.base.quantities import PRESSURE, PRESSURE_RATE, TIME, VOLUME
from airproof.base.source import Span
from airproof.language import syntax
from airproof.language.clauses import Clauses, sort_out
from airproof.language.devices import DEVICES
from airproof.language.phrases import SENTENCES, optional_condition, rule, sentence
from airproof.language.reader import Child, Node, Reader
from airproof.language.special import SPECIAL
from airproof.language.words import words

Ports = tuple[syntax.Name, ...]


def statement(reader: Reader, tree: Node, head: str) -> syntax.Statement | Ports:
    """The node of a statement's tree; a `ports` line gives its names."""
    kind = str(tree.data)
    span = reader.span(tree)
    if kind == "ports":
        return tuple(reader.new_name(child) for child in tree.children)
    if kind == "include":
        return syntax.Include(reader.title(tree.children[0]), span)
    parts, items = divided(tree)
    clauses = sort_out(reader, kind, head, items, span)
    read = {**_READERS, **DEVICES, **SPECIAL}[kind]
    return read(reader, parts, clauses, span)


# Trees that belong to the head of a statement; all others are its clauses.
_HEADS = SENTENCES | words(
    "name title names single range tolerated plain only_rule locked_rule forced_rule always_rule "
    "value_pin position_pin all some negation comparison beside offset stands moving_now flowing "
    "expired gone_to signalled"
)


def divided(tree: Node) -> tuple[list[Child], list[Node]]:
    """What the head of the statement says, and its clauses."""
    parts: list[Child] = []
    items: list[Node] = []
    for child in tree.children:
        if isinstance(child, Tree) and child.data not in _HEADS:
            items.append(child)
        else:
            parts.append(child)
    return parts, items


def _circuit(
    reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span
) -> syntax.Circuit:
    return syntax.Circuit(reader.new_name(parts[0]), _title(reader, parts), clauses.drawing(), span)


def _part(reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span) -> syntax.Part:
    title = _title(reader, parts)
    return syntax.Part(reader.new_name(parts[0]), title, (), (), clauses.drawing(), span)


def _title(reader: Reader, parts: Sequence[Child]) -> syntax.Title | None:
    found = [part for part in parts if isinstance(part, Tree) and part.data == "title"]
    return reader.title(found[0]) if found else None


def _fit(reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span) -> syntax.Fit:
    bindings = tuple(_binding(reader, tree) for tree in clauses.repeated)
    part, name = reader.name(parts[0]), reader.new_name(parts[1])
    return syntax.Fit(part, name, bindings, clauses.drawing(), span)


def _binding(reader: Reader, tree: Node) -> syntax.Binding:
    port, target = tree.children
    word: Literal["from", "to"] = "from" if tree.data == "binding_from" else "to"
    return syntax.Binding(reader.name(port), word, reader.name(target), reader.span(tree))


def _observe(
    reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span
) -> syntax.Observe:
    return syntax.Observe(tuple(reader.name(part) for part in parts), span)


def _supply(reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span) -> syntax.Supply:
    return syntax.Supply(
        reader.new_name(parts[0]),
        reader.extent(parts[1], PRESSURE),
        clauses.extent("starts_extent"),
        clauses.measure("rises", PRESSURE_RATE),
        clauses.measure("falls", PRESSURE_RATE),
        clauses.drawing(),
        span,
    )


def _volume(reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span) -> syntax.Volume:
    kind = cast(Literal["reservoir", "pipe", "cylinder", "chamber"], str(parts[0]))
    size = reader.extent(parts[2], VOLUME) if len(parts) > 2 else None
    starts = clauses.extent("starts_extent")
    name = reader.new_name(parts[1])
    return syntax.Volume(kind, name, size, starts, clauses.drawing(), span)


def _quantity(
    reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span
) -> syntax.Quantity:
    changes = tuple(_change(reader, tree) for tree in clauses.repeated)
    starts = clauses.extent("starts_extent", None)
    name = reader.new_name(parts[0])
    return syntax.Quantity(name, starts, changes, clauses.drawing(), span)


def _change(reader: Reader, tree: Node) -> syntax.Change:
    speed, when = tree.children[-2:]
    span = reader.span(tree)
    return syntax.Change(reader.extent(speed), optional_condition(reader, when), span)


def _interlock(
    reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span
) -> syntax.Interlock:
    name, title, kept = _ruled(reader, parts)
    if isinstance(kept, syntax.AlwaysRule):
        raise TypeError("the grammar keeps `always` to assumptions")
    return syntax.Interlock(name, title, kept, clauses.drawing(), span)


def _assumption(
    reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span
) -> syntax.Assumption:
    name, title, kept = _ruled(reader, parts)
    if name is None:
        raise TypeError("the grammar names every assumption")
    return syntax.Assumption(name, title, kept, clauses.drawing(), span)


def _ruled(
    reader: Reader, parts: Sequence[Child]
) -> tuple[syntax.Name | None, syntax.Title | None, syntax.Rule | syntax.AlwaysRule]:
    name = None if parts[0] is None else reader.new_name(parts[0])
    return name, _title(reader, parts), rule(reader, cast(Node, parts[-1]))


def _signal(reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span) -> syntax.Signal:
    condition = optional_condition(reader, parts[1])
    if condition is None:
        raise TypeError("the grammar gives every signal a condition")
    return syntax.Signal(reader.new_name(parts[0]), condition, clauses.drawing(), span)


def _state(reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span) -> syntax.State:
    pins = tuple(_pin(reader, cast(Node, tree)) for tree in parts[1:])
    return syntax.State(reader.new_name(parts[0]), pins, clauses.drawing(), span)


def _pin(reader: Reader, tree: Node) -> syntax.ValuePin | syntax.PositionPin:
    name = reader.name(tree.children[0])
    span = reader.span(tree)
    if tree.data == "value_pin":
        return syntax.ValuePin(name, reader.measure(tree.children[1]), span)
    return syntax.PositionPin(name, reader.name(tree.children[1]), span)


def _property(
    reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span
) -> syntax.Property:
    return syntax.Property(
        reader.new_name(parts[0]),
        reader.title(parts[1]),
        clauses.name("severity"),
        clauses.title("reason"),
        clauses.title("hazard"),
        sentence(reader, cast(Node, parts[2])),
        "instant" in clauses.single,
        clauses.name("from_state"),
        clauses.drawing(),
        span,
    )


def _timer(reader: Reader, parts: Sequence[Child], clauses: Clauses, span: Span) -> syntax.Timer:
    name = reader.new_name(parts[0])
    tree = clauses.single.get("runs")
    runs = None if tree is None else optional_condition(reader, tree.children[0])
    expires = clauses.due_extent("expires", TIME, span)
    stand_in = syntax.Signalled(syntax.Name("", span), span)
    return syntax.Timer(name, runs or stand_in, expires, clauses.drawing(), span)


Read = Callable[[Reader, Sequence[Child], Clauses, Span], syntax.Statement]

_READERS: dict[str, Read] = {
    "observe": _observe,
    "circuit": _circuit,
    "part": _part,
    "fit": _fit,
    "supply": _supply,
    "volume": _volume,
    "quantity": _quantity,
    "interlock": _interlock,
    "assumption": _assumption,
    "signal": _signal,
    "state": _state,
    "property": _property,
    "timer": _timer,
}
