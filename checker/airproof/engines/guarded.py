"""Guarded facts: literals that are so whenever the property's memory stands one way.

What a property remembers (the horn has sounded since the halt) often is all
that separates what is safe from what is not: while it has not sounded, the
permit is withheld.  Such clauses of two literals are found as single-literal
facts are, by dropping what a step breaks until no step breaks any.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from airproof.engines.facts import kept
from airproof.engines.slices import Solvers
from airproof.engines.stepping import Cube
from airproof.engines.vocabulary import Vocabulary
from airproof.transition.literals import Bit, Rung


def guarded(whole: Solvers, facts: Iterable[int], pairs: Iterable[Cube], bad: int) -> list[Cube]:
    """Clauses that every run keeps, facts and pairs.

    facts: so in every reachable state; they are among what is found.
    pairs: clauses to try.
    The clause against `bad` is there if the property is proved.  Right as
    `facts` is.  Raises OutOfBudget.
    """
    cubes = [(-a, -b) for a, b in pairs]
    so = [(-a, -b) for a, b in sorted(whole.start.untouched(cubes))]
    alone = [(x,) for x in (*facts, -bad)]
    return kept(whole.kinds, [*alone, *so])


def pairs_worth_trying(words: Vocabulary, facts: Iterable[int], bad: int) -> Iterator[Cube]:
    """A literal of the property's memory, and any literal that is no fact."""
    settled = {abs(x) for x in facts} | {bad}
    memory = [n for n, rung in words.rungs.items() if n not in settled and _remembers(rung)]
    others = [n for n in words.rungs if n not in settled]
    for guard in memory:
        for other in others:
            if guard != other:
                yield from ((g, x) for g in (guard, -guard) for x in (other, -other))


def _remembers(rung: Rung) -> bool:
    return isinstance(rung, Bit) and rung.key.startswith("monitor ")
