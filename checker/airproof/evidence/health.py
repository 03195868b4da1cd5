"""What is wrong with a circuit itself, whatever is asked of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from airproof.evidence.sequence import Sequence

Code = Literal[
    "no start",  # nothing satisfies the stated starts
    "chatter",  # devices that never come to rest, every control still
    "stopped time",  # a control is due and may not move
    "race",  # a loop in no time that can be left
    "position not reached",
    "flow not open",
    "standing state not reached",
    "standing state excluded",
    "not examined",  # data: what the limit cut off
]


@dataclass(frozen=True, slots=True)
class Finding:
    """One health finding; an error withholds every `holds`.

    names: the devices, controls, flows or `device is position` pairs concerned
    sequence: a run that gets there, where one was found
    """

    weight: Literal["error", "warning"]
    code: Code
    names: tuple[str, ...]
    sequence: Sequence | None = None
    detail: str | None = None
