"""The rungs of one proof: their numbers, and how they read before and after a step."""

from __future__ import annotations

from collections.abc import Iterable

from airproof.engines.stepping import Spoken
from airproof.evidence.certificate import Invariant
from airproof.transition.layout import CLOCK, Layout
from airproof.transition.literals import Bit, Literal, Rung
from airproof.transition.rungs import term_of


class Vocabulary:
    """Rungs numbered from 1 in the order in which they came.

    rungs:  by number
    spoken: by number, the terms over the whole system
    """

    def __init__(self, layout: Layout) -> None:
        self.moments = layout.moment(after=False), layout.moment(after=True)
        self.rungs: dict[int, Rung] = {}
        self.spoken: dict[int, Spoken] = {}
        self.numbers: dict[Rung, int] = {}

    def add(self, rungs: Iterable[Rung]) -> dict[int, Spoken]:
        """Numbers for rungs that have none yet."""
        now, then = self.moments
        added: dict[int, Spoken] = {}
        for rung in rungs:
            if rung in self.numbers:
                continue
            number = self.numbers[rung] = len(self.numbers) + 1
            self.rungs[number] = rung
            added[number] = Spoken(term_of(now, rung), term_of(then, rung))
        self.spoken |= added
        return added

    def literal(self, literal: Literal) -> int:
        """The literal as a number; its rung has one already."""
        number = self.numbers[literal.rung]
        return number if literal.so else -number

    def within(self, keys: frozenset[str]) -> dict[int, Spoken]:
        """The rungs that are about these variables only."""
        return {n: s for n, s in self.spoken.items() if keys_of(self.rungs[n]) <= keys}

    def invariant(self, cubes: Iterable[Iterable[int]]) -> Invariant:
        """The clauses that exclude the cubes."""
        clauses = (tuple(Literal(self.rungs[abs(x)], x < 0) for x in cube) for cube in cubes)
        return Invariant(tuple(dict.fromkeys(clauses)))


def keys_of(rung: Rung) -> frozenset[str]:
    """The keys of the variables that a rung is about."""
    if isinstance(rung, Bit):
        return frozenset((rung.key,))
    return frozenset(CLOCK if name == CLOCK else f"value {name}" for name, _ in rung.terms)
