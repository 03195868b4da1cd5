"""From a find in the part of a circuit to a find in the whole.

Every run of the whole is one of the part that is no longer, so a woven sequence
as long as the part's shortest is the shortest.  Where the weaving came out
longer, something outside was in the way: the part is widened by it and
searched again, which raises the bound that the woven sequence has to meet.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from airproof.circuit.cone import cone
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.engines import search
from airproof.engines.budget import Budget
from airproof.engines.search import Outcome
from airproof.engines.weaving import woven
from airproof.evidence.sequence import Sequence

WIDER = 4  # times that a part is made wider
WIDER_UNITS = 10_000_000  # solver units for each wider part


@dataclass(frozen=True, slots=True)
class Whole:
    """The whole circuit in which a property's sequence is wanted."""

    circuit: Circuit
    prop: Property
    budget: Budget

    def find(self, part: Circuit, found: Outcome) -> Outcome:
        """What was found in the part, as a sequence of the whole; searched for if need be."""
        best: Sequence | None = None
        names: tuple[str, ...] = ()
        for _ in range(WIDER):
            assert found.sequence is not None
            wove = woven(self.circuit, part, self.prop, found.sequence)
            best = _shorter(best, wove.sequence)
            if best is not None and best.length <= found.sequence.length:
                return replace(found, sequence=best)
            new = [name for name in wove.due if name not in part.positions]
            names = (*names, *new[: len(names) + 1])  # one, two, four, ...
            part = cone(self.circuit, self.prop, names)
            if not new or part is self.circuit:
                break
            wider = self._searched(part, found, best, WIDER_UNITS)
            if wider.sequence is None and best is not None:
                return replace(found, sequence=best, shortest=False)
            if wider.sequence is None:
                break
            found = wider
        return self._searched_anew(best, found)

    def _searched_anew(self, best: Sequence | None, found: Outcome) -> Outcome:
        """The whole searched: as long as the budget lasts only if nothing was woven."""
        units = None if best is None else WIDER_UNITS
        anew = self._searched(self.circuit, found, best, units)
        better = best is None or (anew.sequence and anew.sequence.length <= best.length)
        return anew if better else replace(found, sequence=best, shortest=False)

    def _searched(
        self, circuit: Circuit, found: Outcome, best: Sequence | None, units: int | None
    ) -> Outcome:
        """A search from the steps found too few in a smaller part, as deep as what was woven."""
        hunt = search.Search(circuit, self.prop, self.budget)
        steps = max(self.budget.steps, len(best.steps) if best else 0)
        return hunt.deepen(steps, units=units, after=found.steps)


def _shorter(best: Sequence | None, other: Sequence | None) -> Sequence | None:
    if best is None or other is None:
        return best or other
    return min(best, other, key=lambda sequence: sequence.length)
