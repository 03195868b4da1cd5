"""Loops in no time that can be left: the order of moves decides what becomes of them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import z3

from airproof.circuit.state import State
from airproof.engines.budget import Budget
from airproof.engines.quick import QuickSolver
from airproof.engines.rounding import Candidate
from airproof.engines.soundness import Soundness, told
from airproof.engines.triggering import Group, groups
from airproof.engines.unrolling import Unrolling
from airproof.evidence.health import Finding
from airproof.transition.circling import Circles

LONGEST = 12  # moves in no time within which a loop must close to be seen
DEEPEST = 14  # steps within which a loop is looked for
UNITS = 1_500_000  # solver units for that, from each kind of start


@dataclass(frozen=True, slots=True)
class Loop:
    """Moves of the group's things, all of them due, that can close a circle from some state."""

    group: Group
    term: z3.BoolRef


class Races:
    """A search, not a proof: no race found does not show that there is none."""

    def __init__(self, whole: Soundness, budget: Budget) -> None:
        self.whole, self.budget = whole, replace(budget, resource=UNITS)
        self._circles: dict[tuple[str, ...], Circles] = {}

    def findings(self, start: str | None) -> Iterator[Finding]:
        """Each race once.  Raises OutOfBudget."""
        loops = self._found(groups(self.whole.circuit), self.whole.shape)
        if loops:
            loops = self._found([loop.group for loop in loops], self.whole.known(start))
        if loops:
            run = Unrolling(self.whole.system(start))
            yield from self._reached(run, loops)

    def _found(self, among: Iterable[Group], known: tuple[z3.BoolRef, ...]) -> list[Loop]:
        return [loop for group in among for loop in self._loops(group, known)]

    def _loops(self, group: Group, known: tuple[z3.BoolRef, ...]) -> Iterator[Loop]:
        """Circles of all lengths that can close where what is known is so."""
        circuit, whole = self.whole.circuit, self.whole
        things = tuple(n for n in group.things if n in circuit.controls or self._moves_at_once(n))
        solver = QuickSolver(whole.context, whole.budget, whole.effort)
        solver.add(*known)
        circles = self._circles.setdefault(things, Circles(whole.layout, things))
        found = list[z3.BoolRef]()
        places = math.prod(len(circuit.positions[n]) for n in things)
        for length in range(1, min(LONGEST, places) + 1 if things else 0):
            solver.add(circles.step(length - 1))
            if length > 1 and solver.ask([solver.named("closes", circles.closes(length))]):
                found.append(circles.whole(length))
        if found:
            yield Loop(group, z3.And(z3.Not(whole.layout.moment(after=False).rested), z3.Or(found)))

    def _moves_at_once(self, name: str) -> bool:
        device = self.whole.circuit.devices.get(name)
        return device is not None and device.moving is None

    def _reached(self, run: Unrolling, loops: list[Loop]) -> Iterator[Finding]:
        """Runs to states from which one of the loops closes, shortest first."""
        if run.check(self.budget).word != "sat":
            return
        budget = replace(self.budget, resource=run.effort.units + UNITS)
        left = list(loops)
        while left and run.steps < DEEPEST:
            run.extend()
            while left and (found := self._caught(run, left, budget)) is not None:
                left = [loop for loop in left if not self._closes(found, loop)]
                yield from self._judged(found)

    def _caught(self, run: Unrolling, loops: list[Loop], budget: Budget) -> Candidate | None:
        """A run to the last state from which one of them closes."""
        with run.scope():
            run.solver.add(z3.Or([run.at(loop.term, run.steps) for loop in loops]))
            if run.check(budget).word != "sat":
                return None
            return Candidate(self.whole.circuit, run, run.steps, run.model())

    def _closes(self, found: Candidate, loop: Loop) -> bool:
        term = found.unrolling.at(loop.term, found.steps)
        return bool(z3.is_true(found.model.eval(term, model_completion=True)))

    def _judged(self, found: Candidate) -> Iterator[Finding]:
        """What devices alone make of the state that the run leads to."""
        sequence, state = told(found, self.whole.budget)
        explored = self.whole.behaviour.explore_devices(state)
        if explored.race and explored.outcome != "loop":
            yield Finding("warning", "race", self._moved(explored.race), sequence)

    def _moved(self, states: tuple[State, ...]) -> tuple[str, ...]:
        moves = (self.whole.behaviour.moves_made(a, b) for a, b in itertools.pairwise(states))
        return tuple(sorted({move.name for made in moves for move in made}))
