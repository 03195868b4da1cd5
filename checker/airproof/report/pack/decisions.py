"""What a meeting decided of a breach, as a pack shows it."""

from __future__ import annotations

from dataclasses import dataclass

DISPOSITIONS = ("accepted", "needs change", "not credible because", "model wrong")
ASIDE = ("not credible because", "model wrong")  # such a sequence is no reason to stop looking


@dataclass(frozen=True, slots=True)
class Decision:
    """One entry of a record, every field as it was written; `""` where nothing was.

    property, sequence, fingerprint: what it was decided of
    moves, steps: of the sequence, as airproof wrote them; none in a record of long ago
    changes: what has changed since then; none while the decision stands
    """

    property: str
    sequence: str
    fingerprint: str
    disposition: str = ""
    because: str = ""
    frequency: str = ""
    severity: str = ""
    action: str = ""
    owner: str = ""
    date: str = ""
    signatures: tuple[str, ...] = ()
    consequences: str = ""
    safeguards: str = ""
    moves: tuple[str, ...] = ()
    steps: int = 0
    changes: tuple[str, ...] = ()

    def stands(self) -> bool:
        """It is about this very text and sequence."""
        return not self.changes

    def aside(self) -> bool:
        """The sequence was found to be none of the machine's, so another one is wanted."""
        return self.disposition in ASIDE

    def blank(self) -> bool:
        """Nobody has written anything yet."""
        written = (
            self.disposition,
            self.because,
            self.frequency,
            self.severity,
            self.action,
            self.owner,
            self.date,
            *self.signatures,
            self.consequences,
            self.safeguards,
        )
        return not any(text.strip() for text in written)
