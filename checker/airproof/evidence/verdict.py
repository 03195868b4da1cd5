"""Verdicts, and the limits under which they are sought."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from airproof.evidence.certificate import Invariant
from airproof.evidence.leaning import Leans
from airproof.evidence.sequence import Sequence

Word = Literal["holds", "breached", "undecided"]
Strength = Literal["any speed", "for some sizes", "as sized"]
Reason = Literal[
    "no breach within",  # data: deepest length searched without a find
    "not found possible within",
    "needs sizes",
    "nothing more to learn",  # neither proof nor breach, and no new rung to try
    "time limit",
    "solver limit",
    "solver failed",
    "interrupted",
    "unhealthy",  # detail: the code of the health error
    "health not examined",  # detail: what kept it from being
    "defect",  # of airproof itself: the two accounts of the meaning disagree; detail says where
]

Note = Literal["a shorter sequence not ruled out"]


@dataclass(frozen=True, slots=True)
class Retried:
    """A property that holds, asked again with one thing about it taken otherwise.

    device: the device that was slow; None: judged even for an instant
    word:   holds so too, breached so, or undecided for a reason
    depth:  every length up to and including this one was searched through
    sequence: the breach, a run of the circuit so changed
    """

    device: str | None
    word: Word
    reason: Reason | None = None
    detail: str | None = None
    depth: int = 0
    sequence: Sequence | None = None


@dataclass(frozen=True, slots=True)
class Verdict:
    """What was found out about one property.

    reason: why it is undecided, None otherwise
    depth:  every length up to and including this one was searched through
    certificate: why it holds for every run (for a possibility: why no run reaches it)
    leans: the parts of the circuit that the certificate needs, where that was found out
    retried: what a property that holds was asked again, each with its answer
    met: random runs that the certificate was held against, where the limit cut some off
    sequence: the breach, or the run that shows a possibility, or for
              "needs sizes" the run that some sizes would allow
    """

    property: str
    word: Word
    strength: Strength | None = None
    reason: Reason | None = None
    detail: str | None = None
    depth: int = 0
    engine: str = "search"
    seconds: float = 0.0
    sequence: Sequence | None = None
    certificate: Invariant | None = None
    notes: tuple[Note, ...] = ()
    met: int | None = None
    retried: tuple[Retried, ...] = ()
    leans: Leans | None = None
