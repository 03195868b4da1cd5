"""A run to a state far away, found a few steps at a time.

Each stretch of the way begins in the very state in which the last one ended,
and goes to the next waypoint.  What comes out is a run and is replayed; it need
not be the shortest, and where none is found nothing follows.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

import z3

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.circuit.state import State, Step
from airproof.engines.budget import Budget
from airproof.engines.rounding import Candidate, rounded
from airproof.engines.search import Known, Outcome, Search
from airproof.engines.staying import far_from
from airproof.engines.unrolling import Effort, Unrolling, valuation
from airproof.engines.vocabulary import keys_of
from airproof.evidence.sequence import Sequence
from airproof.transition.decode import Valuation, valuation_of
from airproof.transition.encode import layout_of
from airproof.transition.layout import CLOCK, Moment, number
from airproof.transition.literals import Bit, Literal
from airproof.transition.rungs import literal_of
from airproof.transition.slicing import Reads, reads
from airproof.transition.system import memory_of
from airproof.transition.terms import equal, negation

NOTHING: frozenset[str] = frozenset()
FARTHEST = 6  # steps from one waypoint to the next
UNITS = 4_000_000  # solver units for each number of steps
MOST_UNITS = 120_000_000  # solver units for all of the way


def walked(
    circuit: Circuit,
    prop: Property,
    known: Known,
    waypoints: Iterable[Literal],
    budget: Budget,
) -> Outcome | None:
    """A run past those waypoints that can be got to, which ends in the last one, a bit.

    circuit: the one that `known` is of

    Landmarks are waypoints only where the next bit cannot be got to without them.
    """
    walk = _Walk(circuit, prop, known, budget, reads(known.system))
    passed, there = list[Literal](), False
    for waypoint in waypoints:
        passed.append(waypoint)
        if isinstance(waypoint.rung, Bit):
            there = walk.goes_on(waypoint) or [*map(walk.goes_on, passed)][-1]
            passed.clear()
        if len(walk.steps) > budget.reach or walk.spent > MOST_UNITS or budget.remaining <= 0:
            return None
    if not there or walk.start is None:
        return None
    return Outcome(Sequence(walk.start, tuple(walk.steps)), 0, "", Effort())


@dataclass(slots=True)
class _Walk:
    """As far as it has come.

    here: every variable's value where it is; None before it begins
    legs: so many steps from the start (True) or from anywhere, and how a state of theirs reads
    """

    circuit: Circuit
    prop: Property
    known: Known
    budget: Budget
    reads: Reads
    start: State | None = None
    steps: list[Step] = field(default_factory=list)
    here: Valuation | None = None
    legs: dict[tuple[bool, int], tuple[Unrolling, Moment]] = field(default_factory=dict)

    @property
    def spent(self) -> int:
        """Solver units."""
        return sum(run.effort.units for run, _ in self.legs.values())

    def goes_on(self, waypoint: Literal) -> bool:
        """Makes the fewest steps that lead to the waypoint; False if a few do not."""
        if self.here is not None and _so(self.here, waypoint):
            return True
        far = NOTHING
        if self.here is not None:
            far = far_from(keys_of(waypoint.rung), self.known.system, self.reads)
        for steps in range(FARTHEST + 1):
            if far and steps and self._makes(waypoint, steps, far) == "sat":
                return True
            if (word := self._makes(waypoint, steps, NOTHING)) != "unsat":
                return word == "sat"
        return False

    def _makes(self, waypoint: Literal, steps: int, still: frozenset[str]) -> str:
        """Makes so many steps to the waypoint, if it can: the solver's word for that.

        still: keys of variables that stay as they are meanwhile
        """
        run, now = self._leg(steps)
        with run.scope():
            run.solver.add(*self._pins(run, 0, self.here or ()))
            for i in range(steps):
                run.solver.add(*self._pins(run, i + 1, sorted(still)))
            run.solver.add(run.at(literal_of(now, waypoint), steps))
            answer = run.check(replace(self.budget, resource=run.effort.units + UNITS))
            if answer.word == "sat":
                self._make(run, steps, still)
        return answer.word

    def _leg(self, steps: int) -> tuple[Unrolling, Moment]:
        first = self.here is None
        if (first, steps) not in self.legs:
            system = self.known.system if first else replace(self.known.system, start=())
            known = replace(self.known, system=system)
            search = Search(self.circuit, self.prop, self.budget, known)
            for _ in range(steps):
                search.extend()
            run = search.unrolling
            now = layout_of(run.system, self.circuit).moment(after=False)
            self.legs[first, steps] = run, now
        return self.legs[first, steps]

    def _pins(self, run: Unrolling, i: int, keys: Iterable[str]) -> Iterator[z3.BoolRef]:
        """These variables have in state i the values of where it is."""
        for key in keys:
            term, value = run.states[i][key], (self.here or {})[key]
            if isinstance(value, bool):
                yield term if value else negation(term)
            else:
                yield equal(term, number(run.system.context, value))

    def _make(self, run: Unrolling, steps: int, still: frozenset[str]) -> None:
        """The steps with rounder numbers; what the property remembers is as in the model."""
        model = run.model()
        found = Candidate(self.circuit, run, steps, model)
        settled = None if self.here is None else 0
        leg = rounded(found, self.prop, self.budget, settled=settled, still=still)
        last = leg.steps[-1].after if leg.steps else leg.start
        memory = {key: run.states[steps][key] for key in sorted(memory_of(run.system))}
        self.here = {**valuation(model, model, memory), **valuation_of(self.circuit, last)}
        self.start = self.start or leg.start
        self.steps.extend(leg.steps)


def _so(here: Valuation, literal: Literal) -> bool:
    rung = literal.rung
    if isinstance(rung, Bit):
        return here[rung.key] == literal.so
    keys = (CLOCK if name == CLOCK else f"value {name}" for name, _ in rung.terms)
    total = sum(w * here[key] for key, (_, w) in zip(keys, rung.terms, strict=True))
    return (total >= rung.constant if rung.order == ">=" else total <= rung.constant) == literal.so
