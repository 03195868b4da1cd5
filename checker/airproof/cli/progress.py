"""What is under way, on a terminal only: a line written over, and verdicts as they come."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TextIO

from airproof.evidence.verdict import Verdict
from airproof.report.terminal import outcome


@dataclass(slots=True)
class Ticker:
    """Writes to a terminal; `shown` is how many characters its passing line has."""

    stream: TextIO
    width: int
    shown: int = 0

    def depth(self, key: str, depth: int) -> None:
        self._over(f"{key or 'health'}: depth {depth}")

    def verdict(self, verdict: Verdict) -> None:
        """A line that stays."""
        self.clear()
        self.stream.write(f"{verdict.property}: {outcome(verdict)} ({verdict.seconds:.1f} s)\n")
        self.stream.flush()

    def further(self, text: str) -> None:
        """How far it is, once all verdicts are there."""
        self._over(text)

    def clear(self) -> None:
        self._over("")
        self.stream.write("\r")
        self.stream.flush()

    def _over(self, text: str) -> None:
        line = text[: self.width - 1]
        self.stream.write(f"\r{line}{' ' * (self.shown - len(line))}")
        self.stream.flush()
        self.shown = len(line)
