"""Solver terms read out once into plain data, in the words of SMT-LIB.

Only truths, reals and linear arithmetic are known; anything else is refused.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

import z3

PLACES = 9  # decimals, beyond which a number is written as a fraction

_SIMPLE = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")
_QUOTED = re.compile(r"[ -\[\]-{}~]*")  # printable ASCII without | and \
_WORDS: Mapping[int, str] = {
    z3.Z3_OP_TRUE: "true",
    z3.Z3_OP_FALSE: "false",
    z3.Z3_OP_NOT: "not",
    z3.Z3_OP_AND: "and",
    z3.Z3_OP_OR: "or",
    z3.Z3_OP_XOR: "xor",
    z3.Z3_OP_IMPLIES: "=>",
    z3.Z3_OP_ITE: "ite",
    z3.Z3_OP_EQ: "=",
    z3.Z3_OP_DISTINCT: "distinct",
    z3.Z3_OP_LE: "<=",
    z3.Z3_OP_LT: "<",
    z3.Z3_OP_GE: ">=",
    z3.Z3_OP_GT: ">",
    z3.Z3_OP_ADD: "+",
    z3.Z3_OP_SUB: "-",
    z3.Z3_OP_UMINUS: "-",
    z3.Z3_OP_MUL: "*",
}
_NOTHING = {"and": "true", "or": "false", "+": "0.0", "*": "1.0"}  # what adds nothing to a list
_TURNED = {"<=": ">=", "<": ">", ">=": "<=", ">": "<", "=": "="}


@dataclass(frozen=True, slots=True)
class Node:
    """A symbol or number (`word` is its text), or an operator with the ids of its parts."""

    word: str
    sort: str
    parts: tuple[int, ...] = ()
    kind: str = "operator"  # or `variable`, `number`


class Reader:
    """The nodes of all terms read so far, by id; each term of a context is read once.

    The terms must outlive the reader: their ids are reused after them.
    """

    def __init__(self) -> None:
        self.nodes: dict[int, Node] = {}
        self._ids: dict[int, int] = {}  # a term's id -> that of the node that stands for it

    def read(self, term: z3.ExprRef) -> int:
        """The id of the term's node; raises ValueError if it is not linear real arithmetic."""
        waiting: list[tuple[z3.ExprRef, list[z3.ExprRef] | None]] = [(term, None)]
        while waiting:
            here, parts = waiting.pop()
            if here.get_id() in self._ids:
                continue
            if parts is None:
                parts = here.children()
                waiting.append((here, parts))
                waiting.extend((part, None) for part in parts)
            else:
                self._take(here, [self._ids[part.get_id()] for part in parts])
        return self._ids[term.get_id()]

    def below(self, ids: Iterable[int]) -> set[int]:
        """The ids of these nodes and of all their parts."""
        found, waiting = set[int](), list(ids)
        while waiting:
            here = waiting.pop()
            if here not in found:
                found.add(here)
                waiting.extend(self.nodes[here].parts)
        return found

    def variables(self, ids: Iterable[int]) -> list[Node]:
        """The variables in these nodes, in the order of the alphabet."""
        nodes = (self.nodes[number] for number in self.below(ids))
        return sorted(
            (n for n in nodes if n.kind == "variable"), key=lambda node: node.word.strip("|")
        )

    def _take(self, term: z3.ExprRef, parts: list[int]) -> None:
        node, known = _read(term, parts), term.get_id()
        if node.word in _NOTHING and node.kind == "operator":
            parts = [p for p in parts if self.nodes[p].word != _NOTHING[node.word]]
            node = Node(node.word, node.sort, tuple(parts))
            if not parts:
                kind = "number" if node.sort == "Real" else "operator"
                node = Node(_NOTHING[node.word], node.sort, kind=kind)
            elif len(parts) == 1:
                self._ids[known] = parts[0]
                return
            if node.word == "*" and sum(self.nodes[p].kind != "number" for p in parts) > 1:
                raise ValueError("a product of unknowns is not linear")
        if node.word == "not" and self.nodes[parts[0]].word == "not":
            self._ids[known] = self.nodes[parts[0]].parts[0]
            return
        self.nodes[known] = self._turned(node)
        self._ids[known] = known

    def _turned(self, node: Node) -> Node:
        """A comparison with its number on the right."""
        if node.word not in _TURNED or self.nodes[node.parts[0]].kind != "number":
            return node
        return Node(_TURNED[node.word], node.sort, node.parts[::-1])


def _read(term: z3.ExprRef, parts: list[int]) -> Node:
    if not z3.is_app(term):
        raise ValueError("not a term of linear real arithmetic: a quantifier or bound variable")
    sort, kind = term.sort().name(), term.decl().kind()
    if sort not in ("Bool", "Real"):
        raise ValueError(f"neither a truth nor a real: {sort}")
    if z3.is_rational_value(term):
        return Node(number(term.as_fraction()), sort, kind="number")
    if kind == z3.Z3_OP_UNINTERPRETED and not parts:
        return Node(symbol(term.decl().name()), sort, kind="variable")
    if kind not in _WORDS:
        raise ValueError(f"not a term of linear real arithmetic: {term.decl().name()}")
    return Node(_WORDS[kind], sort, tuple(parts))


def symbol(name: str) -> str:
    """The name as a symbol, in bars where it needs them; raises ValueError if none can be made."""
    if _SIMPLE.fullmatch(name):
        return name
    if not _QUOTED.fullmatch(name):
        raise ValueError(f"no symbol can be made of {name!r}")
    return f"|{name}|"


def number(value: Fraction) -> str:
    """The number exactly, as a real.

    >>> number(Fraction(-11, 2)), number(Fraction(1, 3)), number(Fraction(8))
    ('(- 5.5)', '(/ 1.0 3.0)', '8.0')
    """
    whole = value * 10**PLACES
    if whole.denominator == 1:
        digits = f"{abs(whole.numerator):0{PLACES + 1}d}"
        size = f"{digits[:-PLACES]}.{digits[-PLACES:].rstrip('0') or '0'}"
        return f"(- {size})" if value < 0 else size
    top = f"{abs(value.numerator)}.0"
    return f"(/ {f'(- {top})' if value < 0 else top} {value.denominator}.0)"
