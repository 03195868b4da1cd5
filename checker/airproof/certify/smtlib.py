"""Obligations as text: SMT-LIB 2.6 scripts of QF_LRA that any solver of it can answer.

The terms are written out here rather than by z3, so that the text is plain
standard and can be read: reals only, numbers as decimals or fractions, every
conjunct an assertion of its own under a comment.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from airproof.certify.obligations import Obligation, Part, Role
from airproof.certify.reading import Node, Reader

Tree = str | tuple["Tree", ...]

WIDTH = 100  # columns of a line, where what is on it can be broken
LONG = 40  # characters of a repeated term that is then given a name


@dataclass(frozen=True, slots=True)
class Words:
    """The comments of a script, in lines of printable ASCII.

    head: at the top; sections: above the parts of each role
    legend: behind the declaration of a variable, by its key
    remark: above a part, given the keys of the variables that it speaks of
    """

    head: tuple[str, ...]
    sections: Mapping[Role, str]
    legend: Mapping[str, str]
    remark: Callable[[Part, tuple[str, ...]], str]


def script(obligation: Obligation, words: Words, reader: Reader) -> str:
    """The obligation as a script whose answer must be `unsat`.

    The reader is one for all obligations of a context, so that what they
    share is read once.  Raises ValueError if a term is not of QF_LRA or a
    name cannot be written.
    """
    ids = [reader.read(part.term) for part in obligation.parts]
    lines = [*_commented(words.head), *_preamble(reader, ids, words)]
    return "\n".join([*lines, *_body(obligation, words, _Writer(reader, ids))])


def _commented(lines: Iterable[str]) -> Iterator[str]:
    return (f"; {line}".rstrip() for line in lines)


def _preamble(reader: Reader, ids: Sequence[int], words: Words) -> Iterator[str]:
    yield from ("", "(set-info :smt-lib-version 2.6)", "(set-logic QF_LRA)", "")
    for node in reader.variables(ids):
        said = words.legend.get(_key(node))
        remark = f" ; {said}" if said else ""
        yield f"(declare-fun {node.word} () {node.sort}){remark}"


def _key(node: Node) -> str:
    """The key of the state variable that the node is, before or after a step."""
    return node.word.strip("|").removesuffix("'")


def _body(obligation: Obligation, words: Words, writer: _Writer) -> Iterator[str]:
    role = None
    for part, number in zip(obligation.parts, writer.ids, strict=True):
        if part.role != role:
            yield from ("", *_commented([words.sections[part.role]]))
        role = part.role
        form = writer.tree(number)
        about = dict.fromkeys(map(_key, writer.reader.variables([number])))
        yield from ("", *_commented([words.remark(part, tuple(about))]))
        for name, sort, meaning in writer.fresh():
            yield from _lines((f"define-fun {name} () {sort}", meaning), 0)
        yield from _lines(("assert", form), 0)
    yield from ("", "(check-sat)", "(exit)", "")


class _Writer:
    """Nodes as nested lists of tokens; what is long and repeated is given a name."""

    def __init__(self, reader: Reader, ids: Sequence[int]) -> None:
        self.reader, self.nodes, self.ids = reader, reader.nodes, ids
        below = reader.below(ids)
        self.uses = Counter(part for whole in below for part in self.nodes[whole].parts)
        self.made: dict[int, Tree] = {}
        self.named: list[tuple[str, str, Tree]] = []  # in the order of their definition
        self.told = 0

    def fresh(self) -> list[tuple[str, str, Tree]]:
        """What was named since this was asked last: name, sort, meaning."""
        told, self.told = self.told, len(self.named)
        return self.named[told:]

    def tree(self, number: int) -> Tree:
        """The node with all below it."""
        waiting = [(number, False)]
        while waiting:
            here, ready = waiting.pop()
            if here in self.made:
                continue
            if ready:
                self.made[here] = self._form(here)
            else:
                waiting.append((here, True))
                waiting.extend((part, False) for part in reversed(self.nodes[here].parts))
        return self.made[number]

    def _form(self, number: int) -> Tree:
        node = self.nodes[number]
        if not node.parts:
            return node.word
        form = (node.word, *(self.made[part] for part in node.parts))
        if self.uses[number] < 2 or _length(form) <= LONG:
            return form
        name = f"part_{len(self.named) + 1}"
        self.named.append((name, node.sort, form))
        return name


def _length(form: Tree) -> int:
    return len(form) if isinstance(form, str) else sum(map(_length, form)) + len(form) + 1


def _flat(form: Tree) -> str:
    return form if isinstance(form, str) else f"({' '.join(map(_flat, form))})"


def _lines(form: Tree, indent: int) -> Iterator[str]:
    """In one line if it fits, else each part on lines of its own."""
    margin = " " * indent
    if isinstance(form, str) or indent + _length(form) <= WIDTH:
        yield margin + _flat(form)
        return
    yield f"{margin}({form[0]}"
    *before, last = (line for part in form[1:] for line in _lines(part, indent + 2))
    yield from before
    yield last + ")"
