"""Slices: the part of a system near what a property names, the rest left free.

A slice has every step of the system and more, so what no step of the slice
reaches, no step of the system reaches.  It is no place to look for a breach.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import z3
from z3 import z3core

from airproof.transition.system import Conjunct, System
from airproof.transition.terms import handle


@dataclass(frozen=True, slots=True)
class Reads:
    """For each conjunct of a system, the keys of the variables in its term."""

    keys: Mapping[int, frozenset[str]]

    def of(self, part: Conjunct) -> frozenset[str]:
        return self.keys[handle(part.term)]


def reads(system: System) -> Reads:
    """Which variables each conjunct is about."""
    parts = (*system.start, *system.switch, *system.elapse)
    found = {handle(t): frozenset((v.key,)) for v in system.variables for t in (v.now, v.then)}
    for part in parts:
        _find(system.context.ref(), part.term.ast, found)
    return Reads({handle(part.term): found[handle(part.term)] for part in parts})


def _find(context: z3.ContextObj, term: z3.Ast, found: dict[int, frozenset[str]]) -> None:
    """Adds the term's variables, and those of every term within it, to what was found before."""
    stack, within = [term], dict[int, list[z3.Ast]]()
    while stack:
        here = stack[-1]
        number = here.value
        if number in found:
            stack.pop()
        elif number in within:
            found[number] = frozenset[str]().union(*(found[x.value] for x in within[number]))
            stack.pop()
        else:
            size = z3core.Z3_get_app_num_args(context, here)
            within[number] = [z3core.Z3_get_app_arg(context, here, i) for i in range(size)]
            stack.extend(x for x in within[number] if x.value not in found)


def widened(system: System, known: Reads, keys: frozenset[str]) -> frozenset[str]:
    """The keys, and what the conjuncts that define them read."""
    steps = (*system.switch, *system.elapse)
    near = (known.of(part) for part in steps if not keys.isdisjoint(part.defines))
    return keys.union(*near)


def sliced(system: System, known: Reads, keys: frozenset[str]) -> System:
    """The conjuncts that define one of the keys, or are about nothing else.

    A switch step of the slice may move nothing: what moved is outside it.
    """

    def near(parts: tuple[Conjunct, ...]) -> tuple[Conjunct, ...]:
        return tuple(
            part
            for part in parts
            if not keys.isdisjoint(part.defines) or (not part.defines and known.of(part) <= keys)
        )

    return replace(
        system,
        variables=tuple(v for v in system.variables if v.key in keys),
        start=near(system.start),
        switch=near(system.switch),
        elapse=near(system.elapse),
    )
