"""Missionaries and cannibals as a circuit's text, for any number of each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations, pairwise

SHORE = """circuit river "Missionaries and cannibals at the river; the boat holds two"

control boat: near, far; starts near; worked by everybody
"""

PERSON = """
control {who}: near, far; starts near; worked by {who}
signal {who}_rides: {who} has gone to near or {who} has gone to far
interlock {who}_over "{who} crosses in the boat, with one other at most"
    {who} moves to far only while boat has gone to far
        and not ({others})
interlock {who}_back "{who} comes back in the boat, with one other at most"
    {who} moves to near only while boat has gone to near
        and not ({others})
"""

END = """
signal eaten: {eaten}
signal unmanned: (boat has gone to near or boat has gone to far) and not ({anybody})
# People of one kind are alike: they cross in the order of their numbers.
signal out_of_order: {jumped}
signal foul: eaten or unmanned or out_of_order
signal across: {across}

property nobody_gets_over "They do not all get across without a foul"
    across only after foul
"""


def text(count: int) -> str:
    """So many of each, all on the near bank."""
    missionaries = [f"m{n}" for n in range(1, count + 1)]
    cannibals = [f"c{n}" for n in range(1, count + 1)]
    people = [*missionaries, *cannibals]
    jumped = [(a, b) for kind in (missionaries, cannibals) for a, b in pairwise(kind)]
    end = END.format(
        eaten=_lines(_eaten(missionaries, cannibals)),
        anybody=" or ".join(f"{who}_rides" for who in people),
        jumped=_lines(f"({b} is far and {a} is near)" for a, b in jumped),
        across=" and ".join(f"{who} is far" for who in ("boat", *people)),
    )
    return SHORE + "".join(_person(who, people) for who in people) + end


def _person(who: str, people: Sequence[str]) -> str:
    others = [other for other in people if other != who]
    pairs = (f"({a}_rides and {b}_rides)" for a, b in combinations(others, 2))
    return PERSON.format(who=who, others=_lines(pairs))


def _eaten(missionaries: Sequence[str], cannibals: Sequence[str]) -> Iterator[str]:
    """Somebody is outnumbered: some missionaries, not all, and not as many cannibals, are near.

    Unequal numbers on the near bank put the fewer missionaries on one bank or the other.
    """
    for n in range(1, len(missionaries)):
        yield f"(({_exactly(n, missionaries)}) and not ({_exactly(n, cannibals)}))"


def _exactly(near: int, kind: Sequence[str]) -> str:
    """So many of a kind are near, in the order of their numbers."""
    crossed = len(kind) - near  # the first to cross, where nobody jumps the queue
    places = ["far"] * crossed + ["near"] * near
    return " and ".join(f"{who} is {place}" for who, place in zip(kind, places, strict=True))


def _lines(parts: Iterable[str]) -> str:
    return "\n            or ".join(parts)
