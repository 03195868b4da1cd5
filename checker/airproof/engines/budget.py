"""Limits, cancellation and progress, carried to every engine."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field

FARTHEST = 300  # steps of a sequence that nobody limited


@dataclass(frozen=True, slots=True)
class Budget:
    """What an engine may spend.

    steps: longest sequence searched for, in length
    farthest: longest one that may be found otherwise; None: as long as `steps`
    resource: z3 resource units per property, decides before seconds do
    seconds: wall time per property [s]
    cancelled: set to stop at the next query
    progress: called with (property, depth) as the search goes on
    """

    steps: int = 30
    farthest: int | None = None
    resource: int = 400_000_000
    seconds: float = 60.0
    cancelled: threading.Event = field(default_factory=threading.Event)
    progress: Callable[[str, int], None] | None = None
    began: float = field(default_factory=time.monotonic)

    @property
    def reach(self) -> int:
        """The longest sequence that may be found in any way."""
        return max(self.steps, self.farthest or 0)

    @property
    def remaining(self) -> float:
        """Wall time left [s], never below 0."""
        return max(0.0, self.seconds - (time.monotonic() - self.began))
