"""A sequence: the steps from a start to a breach or to what was asked to be possible."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

from airproof.circuit.state import State, Step


@dataclass(frozen=True, slots=True)
class Sequence:
    """`start`, then `steps`; the last step is the one in which the property is decided."""

    start: State
    steps: tuple[Step, ...]

    def pairs(self) -> Iterator[tuple[State, Step]]:
        """Each step with the state before it."""
        before = self.start
        for step in self.steps:
            yield before, step
            before = step.after

    @property
    def length(self) -> int:
        """Switch steps plus stretches (a stretch is a run of elapse steps)."""
        kinds = ["start", *(step.kind for step in self.steps)]
        stretches = sum(
            now == "elapse" and before != "elapse" for before, now in itertools.pairwise(kinds)
        )
        return kinds.count("switch") + stretches
