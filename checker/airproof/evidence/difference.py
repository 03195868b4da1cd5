"""What a change does to a property, as far as verdicts and meanings go."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from airproof.evidence.verdict import Verdict

Way = Literal[
    "old proof",  # the old circuit's certificate, discharged on the new one
    "old proof in part",  # the largest part of it that the new circuit keeps
    "old sequence",  # step for step a sequence of the new circuit
    "old moves",  # the same moves with other pressures
    "anew",
]


@dataclass(frozen=True, slots=True)
class Carried:
    """The verdict on the changed circuit, checked there as any other, and how it was come by."""

    verdict: Verdict
    way: Way


@dataclass(frozen=True, slots=True)
class Shift:
    """Something on account of which a property does not ask what it asked before.

    sentence: it reads otherwise itself; instants: by `even for an instant`
    signal:   this signal, which it is written with, stands for something else
    thing:    this control, device, flow or place, which it names, is another
    start:    it starts from elsewhere; state: the standing state it starts from is another
    """

    kind: Literal["sentence", "instants", "signal", "thing", "start", "state"]
    name: str
