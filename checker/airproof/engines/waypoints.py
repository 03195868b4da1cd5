"""How a state far away might be reached: one thing after the other.

Counted is in how many rounds each literal can come about if whatever was
possible in a round stays possible with everything else.  That allows too many
states, but it puts literals in an order, and going back from the wanted one it
tells of some that are enough.  A hint where to look: nothing follows from it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from airproof.engines.slices import Solvers
from airproof.engines.stepping import Kind
from airproof.transition.terms import handle

MOST_ROUNDS = 400


@dataclass(frozen=True, slots=True)
class _Found:
    """The round in which a literal first came about, and by what kind of step."""

    round: int
    kind: Kind


@dataclass(slots=True)
class Waypoints:
    """Literals on the way to a wanted one.

    solvers: of the system, with its rungs named
    """

    solvers: Solvers
    found: dict[int, _Found] = field(default_factory=dict)

    def to(self, goal: int) -> list[int]:
        """What may lead to `goal`, the nearest first, and `goal` itself.

        Empty if it is at the start or never comes about.  Raises OutOfBudget.
        """
        never = set(self.solvers.start.never)
        for here in range(1, MOST_ROUNDS):
            if not (fresh := self._fresh(never, here)) or goal in fresh:
                break
            never -= fresh
        if goal not in self.found:
            return []
        return sorted(self._needed(goal), key=lambda x: (self.found[x].round, abs(x)))

    def _fresh(self, never: set[int], here: int) -> set[int]:
        """What comes about in one step from states with nothing of what never did."""
        fresh = set[int]()
        for kind in self.solvers.kinds:
            before = [kind.now[-x] for x in never]
            left = never - fresh
            while left:
                some = kind.solver.name("some")
                kind.solver.add_clause(
                    [kind.solver.negate(some), *(kind.then[x] for x in sorted(left, key=abs))]
                )
                if not kind.solver.ask([some, *before]):
                    break
                new = left & kind.truths_after()
                kind.solver.add_clause([kind.solver.negate(some)])
                self.found |= dict.fromkeys(new, _Found(here, kind))
                left, fresh = left - new, fresh | new
        return fresh

    def _needed(self, goal: int) -> set[int]:
        needed, open_ = {goal}, [goal]
        while open_:
            for literal in self._before(open_.pop(), needed):
                needed.add(literal)
                open_.append(literal)
        return needed

    def _before(self, literal: int, needed: set[int]) -> Iterator[int]:
        """Literals enough for a step to it, of those that are at no start and came about before.

        needed: literals that are passed anyway

        Each core of a refusal names some of which one is needed: the nearest is taken.
        """
        here, kind = self.found[literal].round, self.found[literal].kind
        later = [x for x in self.solvers.start.never if self._round(x) >= here]
        earlier = (x for x, f in self.found.items() if f.round < here and x not in needed)
        without = {handle(kind.now[-x]): x for x in earlier}
        always = [kind.then[literal], *(kind.now[-x] for x in later)]
        while not kind.solver.ask([*always, *(kind.now[-x] for x in without.values())]):
            blamed = [without[i] for i in kind.solver.core() if i in without]
            if not blamed:
                return  # cannot be: it came about so
            nearest = min(blamed, key=lambda x: (self._round(x), abs(x)))
            del without[handle(kind.now[-nearest])]
            yield nearest

    def _round(self, literal: int) -> int:
        return self.found[literal].round if literal in self.found else MOST_ROUNDS
