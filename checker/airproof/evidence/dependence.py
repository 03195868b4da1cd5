"""What a sequence depends on: without any one of these things it cannot happen."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from airproof.circuit.without import Thing

Claim = Literal[
    "ever",  # without it no run of any length decides the property so; a proof, checked
    "within",  # without it no run of at most `steps` steps does
]


@dataclass(frozen=True, slots=True)
class Needed:
    """One thing, and how much is claimed of the circuit without it."""

    thing: Thing
    claim: Claim


@dataclass(frozen=True, slots=True)
class Settled:
    """Some of the things that were asked about; those in neither heap are open, `why` says how."""

    needed: tuple[Needed, ...] = ()
    spared: tuple[Thing, ...] = ()
    why: str = ""


@dataclass(frozen=True, slots=True)
class Dependence:
    """What one sequence of a property depends on.

    steps:  as many as the sequence has, each crossing from one elapse step to the next counted
    needed: each by itself; all else is as the circuit says
    spared: moved in the sequence, and yet it may come about without
    apart:  moved in the sequence, and nothing that the property depends on reads it
    still:  without it time could not pass at all, so nothing is claimed
    open:   not known, for the budget ended; `why` says how
    exact:  what is spared was followed in the whole circuit, else in the part that matters
    """

    steps: int
    needed: tuple[Needed, ...]
    spared: tuple[Thing, ...] = ()
    apart: tuple[Thing, ...] = ()
    still: tuple[Thing, ...] = ()
    open: tuple[Thing, ...] = ()
    why: str = ""
    exact: bool = True

    def of(self, *ways: str) -> Iterator[Needed]:
        """What is needed in one of these ways, in its order."""
        return (one for one in self.needed if one.thing.way in ways)
