"""Which clauses belong to which statement, and the clauses of one statement sorted out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal, cast

from lark import Tree

from airproof.base.diagnostics import listed
from airproof.base.quantities import (
    AMOUNT_RATE,
    CONDUCTANCE,
    COUNT,
    LENGTH,
    PLAIN,
    PRESSURE,
    Dimension,
)
from airproof.base.source import Span
from airproof.language import syntax
from airproof.language.reader import Child, Node, Reader

# How a clause begins, as a person would write it.
SPOKEN: dict[str, str] = {
    "starts_extent": "starts",
    "starts_names": "starts",
    "starts_at": "starts at",
    "stops": "stops at",
    "opens": "opens at",
    "shuts": "shuts at",
    "closes": "closes at",
    "set_to": "set to",
    "rises": "rises at most",
    "falls": "falls at most",
    "in_order": "in that order",
    "dwell": "in each position for at least",
    "sealed": "sealed",
    "worked": "worked by",
    "moves": "moves to",
    "joins": "joins",
    "branch": "to",
    "moving_takes": "moving takes",
    "on_the_way": "closed on the way",
    "latched": "latched",
    "runs": "runs while",
    "expires": "expires after",
    "changes": "changes at",
    "choke": "choke",
    "conductance": "conductance",
    "ratio": "ratio",
    "moving": "moving",
    "one_way": "one way",
    "exhaust": "exhaust",
    "follows": "follows",
    "watches": "on",
    "on_below": "on below",
    "off_above": "off above",
    "drawing": "drawing",
    "flow_while": "while",
    "binding_from": "PORT from PLACE",
    "binding_to": "PORT to PLACE",
    "severity": "severity",
    "reason": "reason",
    "hazard": "hazard",
    "instant": "even for an instant",
    "from_state": "from",
}

RESTRICTIONS = frozenset(("choke", "conductance", "ratio", "moving"))
REPEATABLE = frozenset(("moves", "joins", "branch", "changes", "binding_from", "binding_to"))

_RESTRICTION = "choke conductance ratio moving"
_DEVICE = "starts_names moving_takes on_the_way latched moves joins branch " + _RESTRICTION

# The clauses of each statement, the required ones first, before the bar.
_TABLE: dict[str, str] = {
    "circuit": "|",
    "part": "|",
    "fit": "| binding_from binding_to",
    "interlock": "|",
    "assumption": "|",
    "signal": "|",
    "state": "|",
    "observe": "|",
    "property": "| severity reason hazard instant from_state",
    "supply": "| starts_extent rises falls",
    "volume": "| starts_extent",
    "quantity": "| starts_extent changes",
    "control": "| in_order starts_names dwell sealed worked",
    "range_control": "| starts_extent worked",
    "device": "| " + _DEVICE,
    "plain_device": "| starts_names moving_takes on_the_way joins branch " + _RESTRICTION,
    "joining_device": "| " + _DEVICE,
    "timer": "runs expires |",
    "flow": "| flow_while one_way " + _RESTRICTION,
    "double_check": "| " + _RESTRICTION,
    "relief": "opens shuts | moving_takes " + _RESTRICTION,
    "reducing": "set_to | " + _RESTRICTION,
    "self_lapping": "exhaust follows | " + _RESTRICTION,
    "quick_exhaust": "exhaust | " + _RESTRICTION,
    "governor": "watches starts_at stops | starts_names moving_takes",
    "pressure_switch": "watches closes opens | starts_names moving_takes",
    "isolating_cock": "| starts_names sealed worked " + _RESTRICTION,
    "spring_cylinder": "on_below off_above | starts_extent",
}


@dataclass(frozen=True, slots=True)
class Clauses:
    """The clauses of one statement by their rule.

    repeated: those that may come often
    in_order: all, as written
    """

    reader: Reader
    single: dict[str, Node] = field(default_factory=dict)
    repeated: list[Node] = field(default_factory=list)
    in_order: list[Node] = field(default_factory=list)

    def extent(self, rule: str, dimension: Dimension | None = PRESSURE) -> syntax.Extent | None:
        """The extent in the clause, None without the clause."""
        tree = self.single.get(rule)
        return None if tree is None else self.reader.extent(tree.children[0], dimension)

    def due_extent(self, rule: str, dimension: Dimension, span: Span) -> syntax.Extent:
        """The extent in a required clause; a stand-in where it is missing, which is reported."""
        found = self.extent(rule, dimension)
        return found if found is not None else _stand_in(span)

    def measure(self, rule: str, dimension: Dimension | None) -> syntax.Measure | None:
        """The measure in the clause, None without the clause."""
        tree = self.single.get(rule)
        return None if tree is None else self.reader.measure(tree.children[0], dimension)

    def name(self, rule: str) -> syntax.Name | None:
        """The name in the clause, None without the clause."""
        tree = self.single.get(rule)
        return None if tree is None else self.reader.name(tree.children[0])

    def due_name(self, rule: str, span: Span) -> syntax.Name:
        """The name in a required clause; an empty one where it is missing."""
        return self.name(rule) or syntax.Name("", span)

    def title(self, rule: str) -> syntax.Title | None:
        """The quoted text in the clause, None without the clause."""
        tree = self.single.get(rule)
        return None if tree is None else self.reader.title(tree.children[-1])

    def starts(self) -> tuple[syntax.Name, ...]:
        """The positions to start in, empty without the clause."""
        tree = self.single.get("starts_names")
        return () if tree is None else alternatives(self.reader, tree.children[0])

    def drawing(self) -> syntax.Drawing | None:
        """The drawing, None without the clause."""
        tree = self.single.get("drawing")
        return None if tree is None else read_drawing(self.reader, tree)

    def on_the_way(self) -> Literal["any", "closed", "joined"] | None:
        """How flows read the device on its way, None without the clause."""
        tree = self.single.get("on_the_way")
        if tree is None:
            return None
        return cast(Literal["any", "closed", "joined"], str(tree.children[0]).split()[0])

    def restriction(self) -> syntax.Restriction | None:
        """The one restriction among the single clauses."""
        return read_restriction(self.reader, list(self.single.values()))


def _stand_in(span: Span) -> syntax.Extent:
    return syntax.Extent(syntax.Measure(Fraction(0), PLAIN, "0", span), None, None, span)


def sort_out(reader: Reader, kind: str, head: str, trees: Iterable[Node], span: Span) -> Clauses:
    """The clauses by rule; notes strangers, repetitions and missing ones."""
    required, _, optional = _TABLE[kind].partition("|")
    allowed = [*required.split(), *optional.split(), "drawing"]
    often = REPEATABLE | RESTRICTIONS if "joins" in allowed else REPEATABLE
    clauses = Clauses(reader)
    for tree in trees:
        rule = str(tree.data)
        if rule not in allowed:
            _stranger(reader, tree, head, allowed)
            continue
        clauses.in_order.append(tree)
        if rule in often:
            clauses.repeated.append(tree)
        elif rule in clauses.single:
            reader.problem("clause_twice", reader.span(tree), clause=SPOKEN[rule])
        else:
            clauses.single[rule] = tree
    for rule in required.split():
        if rule not in clauses.single:
            reader.problem(
                "clause_missing", span, statement=with_article(head), clause=SPOKEN[rule]
            )
    return clauses


def _stranger(reader: Reader, tree: Node, head: str, allowed: list[str]) -> None:
    words = sorted({SPOKEN[rule] for rule in allowed})
    reader.problem(
        "clause_stranger",
        reader.span(tree),
        clause=SPOKEN[str(tree.data)],
        statement=with_article(head),
        allowed=listed(words, "and"),
    )


def with_article(head: str) -> str:
    """`a valve`, `an isolating cock`."""
    return f"{'an' if head[0] in 'aeiou' else 'a'} {head}"


_KINDS: dict[str, str] = {
    **dict.fromkeys(("reservoir", "pipe", "cylinder", "chamber"), "volume"),
    **dict.fromkeys(("valve", "relay", "switch", "latch"), "device"),
    "pressure switch": "pressure_switch",
    "isolating cock": "isolating_cock",
    "spring-applied cylinder": "spring_cylinder",
}


def spoken_clauses(head: str) -> list[str]:
    """How the clauses of the statement begin, as a person would write them."""
    kind = _KINDS.get(head, head.removesuffix(" valve").replace(" ", "_").replace("-", "_"))
    rules = [*_TABLE.get(kind, "|").replace("|", " ").split(), "drawing"]
    return list(dict.fromkeys(SPOKEN[rule] for rule in rules))


def clauses_of(kind: str) -> tuple[str, ...]:
    """The rules of the clauses that a statement of this rule takes."""
    return (*_TABLE.get(kind, "").replace("|", " ").split(), "drawing")


def alternatives(reader: Reader, tree: Child) -> tuple[syntax.Name, ...]:
    """`brake or hold`."""
    if not isinstance(tree, Tree):
        raise TypeError("expected alternatives")
    return tuple(reader.name(child) for child in tree.children)


def read_drawing(reader: Reader, tree: Node) -> syntax.Drawing:
    """`drawing "B-104" item 7`."""
    item = tree.children[-1]
    text = None if item is None else str(item)
    return syntax.Drawing(reader.title(tree.children[1]).text, text, reader.span(tree))


def read_restriction(reader: Reader, trees: list[Node]) -> syntax.Restriction | None:
    """The one restriction among the clauses; a second one and a lone ratio are reported."""
    found = {str(tree.data): tree for tree in trees if tree.data in RESTRICTIONS}
    main = [tree for rule, tree in found.items() if rule != "ratio"]
    if len(main) > 1:
        reader.problem("restrictions", reader.span(main[1]))
    if ("ratio" in found) != ("conductance" in found):
        odd = found.get("ratio") or found["conductance"]
        reader.problem("ratio", reader.span(odd))
        return None
    return _restriction(reader, main[0], found.get("ratio")) if main else None


def _restriction(reader: Reader, tree: Node, ratio: Node | None) -> syntax.Restriction:
    span = reader.span(tree)
    if tree.data == "choke":
        return syntax.Choke(reader.extent(tree.children[0], LENGTH), span)
    if tree.data == "moving" or ratio is None:
        return syntax.Moving(reader.extent(tree.children[0], AMOUNT_RATE), span)
    share = reader.measure(ratio.children[0], COUNT)
    if not 0 <= share.value < 1:
        reader.problem("ratio_range", share.span)
    conductance = reader.extent(tree.children[0], CONDUCTANCE)
    return syntax.Conductance(conductance, share, span.to(share.span))
