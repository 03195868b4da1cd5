"""Everything that was measured, and the required figures drawn from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from benchmarks import figures
from benchmarks.cases import Case
from benchmarks.contenders import VARIANTS
from benchmarks.figures import Check, Growth
from benchmarks.measuring import Measured

BEST = "fixedpoint, best of all"


@dataclass(frozen=True, slots=True)
class Results:
    """Everything measured, the cases it was measured on, and the limit [s]."""

    cases: Sequence[Case]
    measured: Sequence[Measured]
    limit: float

    def of(self, group: str) -> list[Measured]:
        return [r for r in self.measured if r.group == group]

    @property
    def growths(self) -> list[Growth]:
        return figures.growths(self.measured, self.cases)

    @property
    def checks(self) -> list[Check]:
        """Every required figure."""
        found = [
            check
            for variant in VARIANTS
            if any(r.engine == variant.name for r in self.measured)
            for check in figures.against_fixedpoint(self.measured, variant.name)
        ]
        best = [*self.measured, *self.best]
        found += figures.against_fixedpoint(best, BEST) if len(VARIANTS) > 1 else []
        found += figures.growth_checks(self.growths)
        return [*found, figures.share_check(figures.shares(self.measured))]

    @property
    def best(self) -> list[Measured]:
        return figures.best_of(self.measured, [v.name for v in VARIANTS], BEST)
