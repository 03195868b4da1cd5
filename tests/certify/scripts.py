"""A small reader of SMT-LIB scripts that knows QF_LRA, written for these tests alone.

It refuses whatever is not in the standard's words for truths and linear real
arithmetic: other commands, other symbols, integers, products of unknowns.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

TOKEN = re.compile(r"\s+|;[^\n]*|(\(|\)|\|[^|\\]*\||\"(?:[^\"]|\"\")*\"|[^\s();\"|]+)")
DECIMAL = re.compile(r"(?:0|[1-9]\d*)\.\d+")
PLAIN = re.compile(r"[A-Za-z~!@$%^&*_+=<>.?/-][A-Za-z0-9~!@$%^&*_+=<>.?/-]*")
RESERVED = {"let", "exists", "forall", "match", "par", "as", "_", "!", "BINARY", "DECIMAL"}
LISTS = {"and", "or", "xor", "=>"}  # of truths, two or more
ORDERS = {"<=", "<", ">=", ">"}
COMMANDS = ["set-info", "set-logic", "declare-fun", "assert", "check-sat", "exit"]


class NotStandard(Exception):
    """The text is no script of QF_LRA."""


@dataclass(frozen=True, slots=True)
class Kind:
    """The sort of a term, and whether it is made of numbers alone."""

    sort: str
    constant: bool = False


@dataclass(slots=True)
class Script:
    """What was read: variables and definitions by name, and the assertions as nested lists."""

    known: dict[str, Kind] = field(default_factory=dict)
    assertions: list[Any] = field(default_factory=list)
    commands: list[str] = field(default_factory=list)


def read(text: str) -> Script:
    """The script; raises NotStandard."""
    if not all(c == "\n" or " " <= c <= "~" for c in text):
        raise NotStandard("a character that is not printable ASCII")
    script = Script()
    for command in _nested(_tokens(text)):
        _obey(script, command)
    order = [c for c in script.commands if c != "define-fun"]
    first = [order.index(c) if c in order else -1 for c in COMMANDS]
    if first != sorted(first) or -1 in first or script.commands[-2:] != COMMANDS[-2:]:
        raise NotStandard(f"commands in this order: {first}")
    return script


def _tokens(text: str) -> list[str]:
    found, at = [], 0
    while at < len(text):
        match = TOKEN.match(text, at)
        if match is None:
            raise NotStandard(f"not a token: {text[at : at + 20]!r}")
        if match[1]:
            found.append(match[1])
        at = match.end()
    return found


def _nested(tokens: list[str]) -> list[Any]:
    stack: list[list[Any]] = [[]]
    for token in tokens:
        if token == "(":
            stack.append([])
        elif token == ")":
            if len(stack) < 2:
                raise NotStandard("a bracket too many")
            whole = stack.pop()
            stack[-1].append(whole)
        else:
            stack[-1].append(token)
    if len(stack) > 1:
        raise NotStandard("a bracket is left open")
    return stack[0]


def _obey(script: Script, command: list[Any]) -> None:
    script.commands.append(command[0])
    match command:
        case ["set-info", ":smt-lib-version", "2.6"] | ["set-logic", "QF_LRA"]:
            pass
        case ["declare-fun", name, [], ("Bool" | "Real") as sort]:
            _named(script, name, Kind(sort))
        case ["define-fun", name, [], ("Bool" | "Real") as sort, meaning]:
            kind = _kind(script, meaning)
            if kind.sort != sort:
                raise NotStandard(f"{name} is {kind.sort}, not {sort}")
            _named(script, name, Kind(sort))
        case ["assert", term]:
            if _kind(script, term).sort != "Bool":
                raise NotStandard(f"asserts no truth: {term}")
            script.assertions.append(term)
        case ["check-sat"] | ["exit"]:
            pass
        case _:
            raise NotStandard(f"not a command that is due here: {command}")


def _named(script: Script, name: str, kind: Kind) -> None:
    if not name.startswith("|") and (not PLAIN.fullmatch(name) or name in RESERVED):
        raise NotStandard(f"not a symbol: {name}")
    if name.strip("|") in script.known:
        raise NotStandard(f"named twice: {name}")
    script.known[name.strip("|")] = kind


def _kind(script: Script, term: Any) -> Kind:
    if isinstance(term, str):
        return _atom(script, term)
    word, *parts = term
    if not isinstance(word, str):
        raise NotStandard(f"no operator: {word}")
    return _applied(word, [_kind(script, part) for part in parts])


def _atom(script: Script, token: str) -> Kind:
    if token in ("true", "false"):
        return Kind("Bool")
    if DECIMAL.fullmatch(token):
        return Kind("Real", constant=True)
    if token.strip("|") not in script.known:
        raise NotStandard(f"unknown, or an integer: {token}")
    return script.known[token.strip("|")]


def _applied(word: str, parts: list[Kind]) -> Kind:
    sorts, constant = [part.sort for part in parts], all(part.constant for part in parts)
    truths, reals = set(sorts) == {"Bool"}, set(sorts) == {"Real"}
    count, unknowns = len(parts), sum(not part.constant for part in parts)
    fits = {
        "not": truths and count == 1,
        **dict.fromkeys(LISTS, truths and count >= 2),
        **dict.fromkeys(ORDERS, reals and count == 2),
        **dict.fromkeys(("=", "distinct"), count == 2 and sorts[0] == sorts[-1]),
        "ite": count == 3 and sorts[0] == "Bool" and sorts[1] == sorts[2],
        "+": reals and count >= 2,
        "-": reals and count in (1, 2),
        "*": reals and count == 2 and unknowns <= 1,
        "/": reals and count == 2 and not unknowns,
    }
    if not fits.get(word, False):
        raise NotStandard(f"({word} {' '.join(sorts)}) is not of QF_LRA")
    if word == "ite":
        return Kind(sorts[1])
    return Kind("Real", constant) if word in ("+", "-", "*", "/") else Kind("Bool")
