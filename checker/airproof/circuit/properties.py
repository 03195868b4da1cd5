"""Safety properties and assumptions, one class per sentence form."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from airproof.circuit.conditions import Compare, Condition


@dataclass(frozen=True, slots=True)
class Never:
    """Breached when time passes with `bad`.

    `never A while B` has bad = A and B, `always A` has bad = not A,
    `whenever A, B` has bad = A and not B.
    """

    bad: Condition


@dataclass(frozen=True, slots=True)
class OnlyAfter:
    """`act only after leave since reset` (reset None: since the start)."""

    act: Condition
    leave: Condition
    reset: Condition | None


@dataclass(frozen=True, slots=True)
class AfterNever:
    """`after cause, never bad until release` (release None: never again)."""

    cause: Condition
    bad: Condition
    release: Condition | None


@dataclass(frozen=True, slots=True)
class Within:
    """`whenever cause, answer within limit` [s]."""

    cause: Condition
    answer: Condition
    limit: Fraction


@dataclass(frozen=True, slots=True)
class OnceLasted:
    """`once cause has lasted limit, answer` [s]."""

    cause: Condition
    answer: Condition
    limit: Fraction


@dataclass(frozen=True, slots=True)
class Lasts:
    """`state lasts at least limit` or `at most limit` [s]."""

    state: Condition
    bound: Literal["least", "most"]
    limit: Fraction


@dataclass(frozen=True, slots=True)
class Possible:
    """Some run lets time pass with `goal`."""

    goal: Condition


@dataclass(frozen=True, slots=True)
class Shows:
    """In no run are these views the first that it shows, in this order.

    Equal neighbours are one view; of two that follow one another at most one
    is so at a time.  Only comparing two circuits asks this.  `views` is not empty.
    """

    views: tuple[Condition, ...]


Sentence = Never | OnlyAfter | AfterNever | Within | OnceLasted | Lasts | Possible | Shows
TIMED = (Within, OnceLasted, Lasts)


@dataclass(frozen=True, slots=True)
class Property:
    """What must be so, or possible.  `start` names a standing state, None = the circuit's start."""

    name: str
    title: str
    sentence: Sentence
    even_for_an_instant: bool = False
    start: str | None = None
    severity: str | None = None
    reason: str | None = None
    hazard: str | None = None


@dataclass(frozen=True, slots=True)
class KeptRule:
    """A rule on a control that people keep: read exactly like an interlock of the same shape."""

    control: str
    rule: Literal["only", "locked"]
    position: str
    condition: Condition


@dataclass(frozen=True, slots=True)
class SupplyRule:
    """Comparisons over supplies alone that hold at the start and at the end of every step."""

    comparisons: tuple[Compare, ...]


@dataclass(frozen=True, slots=True)
class Assumption:
    name: str
    title: str
    rule: KeptRule | SupplyRule
