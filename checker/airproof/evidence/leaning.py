"""What a proof leans on: the parts of a circuit that its certificate cannot do without.

It says so of this proof only: another may exist that leans on less.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from airproof.circuit.conditions import (
    At,
    Compare,
    Condition,
    Expired,
    Flowing,
    GoneTo,
    OnTheWay,
    leaves,
)
from airproof.transition.origins import Kind, Origin, Rule


@dataclass(frozen=True, slots=True)
class Lean:
    """One rule that is needed, of one statement.

    place:     the position concerned, for the moves of a device
    condition: what is left of the rule's condition once the leaves that may count
               as anything are gone; None for a rule without one
    """

    kind: Kind
    name: str
    rule: Rule
    place: str = ""
    condition: Condition | None = None

    @property
    def settings(self) -> tuple[Compare, ...]:
        """The comparisons whose values are needed."""
        read = leaves(self.condition) if self.condition is not None else iter(())
        return tuple(leaf for leaf in read if isinstance(leaf, Compare))

    @property
    def reads(self) -> tuple[str, ...]:
        """The things that the rule's condition names."""
        return tuple(dict.fromkeys(_named(self.condition)))


def _named(condition: Condition | None) -> Iterator[str]:
    for leaf in leaves(condition) if condition is not None else ():
        match leaf:
            case At(name, _) | OnTheWay(name) | Expired(name) | Flowing(name) | GoneTo(name, _):
                yield name
            case Compare(form):
                yield from form.names


@dataclass(frozen=True, slots=True)
class Leans:
    """All that one proof leans on.

    origins: the same, leaf by leaf, as the check took them
    whole:   each of them was tried without; if not, the budget ended before
    """

    parts: tuple[Lean, ...]
    origins: tuple[Origin, ...]
    whole: bool = True

    def of(self, kind: Kind) -> tuple[str, ...]:
        """The names of that kind with a rule that is needed."""
        return tuple(dict.fromkeys(part.name for part in self.parts if part.kind == kind))

    @property
    def names(self) -> tuple[str, ...]:
        """Everything with a rule that is needed, or that such a rule reads."""
        return tuple(
            dict.fromkeys(name for part in self.parts for name in (part.name, *part.reads))
        )
