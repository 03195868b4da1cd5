"""Bounded search, shortest first: finds a breach, or says how deep there is none.

A sequence found is only a candidate until it has been replayed on the
solver-free account of the meaning.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass, replace

import z3

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import TIMED, Property
from airproof.engines.budget import Budget
from airproof.engines.rounding import Candidate, rounded
from airproof.engines.staying import far_from
from airproof.engines.unrolling import Answer, Effort, Unrolling
from airproof.evidence.sequence import Sequence
from airproof.transition.encode import encode, layout_of
from airproof.transition.landmarks import landmarks
from airproof.transition.literals import Literal
from airproof.transition.rungs import literal_of
from airproof.transition.slicing import reads
from airproof.transition.system import System, memory_of
from airproof.transition.terms import equal
from airproof.transition.translating import translated

EXTRA_STEPS = 2  # elapse steps beyond the fewest in which a shorter length is still looked for
POLISH_UNITS = 4_000_000  # solver units for each way of polishing a find
EXTRA_UNITS = 2_000_000  # for looking beyond the fewest steps
EASY_UNITS = 280_000  # where the fewest steps took more, those never sufficed
POLISH_SECONDS = 60.0
NEARBY_UNITS = 8_000_000  # at most, for a breach with all that is far from it at rest


@dataclass(frozen=True, slots=True)
class Outcome:
    """`sequence` if one was found; else how many steps were searched through, and why it stopped.

    steps: no sequence of up to this many steps (switch and elapse) exists
    shortest: no sequence of at most EXTRA_STEPS more steps has a smaller length
    """

    sequence: Sequence | None
    steps: int
    why: str
    effort: Effort
    shortest: bool = False


def run(circuit: Circuit, prop: Property, budget: Budget) -> Outcome:
    """Searches as deep as the budget says."""
    return Search(circuit, prop, budget).deepen(budget.steps)


@dataclass(frozen=True, slots=True)
class Known:
    """The property's system, and what is so in every state of every run of it.

    facts: single literals
    clauses: at least one literal of each
    """

    system: System
    facts: tuple[Literal, ...] = ()
    clauses: tuple[tuple[Literal, ...], ...] = ()


class Search:
    """The search for one property's shortest sequence, to be taken up again deeper."""

    def __init__(
        self, circuit: Circuit, prop: Property, budget: Budget, known: Known | None = None
    ) -> None:
        self.circuit, self.prop, self.budget = circuit, prop, budget
        if known is None:
            known = Known(encode(circuit, prop, z3.Context()))
        self.system = known.system
        self.unrolling = Unrolling(translated(known.system, z3.Context()))
        self.facts = self._stated(known)
        self.start: Answer | None = None
        self.cleared = -1  # no sequence of up to this many steps exists

    def _stated(self, known: Known) -> z3.BoolRef:
        now = layout_of(self.unrolling.system, self.circuit).moment(after=False)
        clauses = (*((fact,) for fact in known.facts), *known.clauses)
        told = (z3.Or([literal_of(now, literal) for literal in clause]) for clause in clauses)
        return z3.And([now.constant(True), *told])

    def deepen(self, steps: int, *, units: int | None = None, after: int = 0) -> Outcome:
        """Searches through sequences of up to so many steps, spending so many solver units.

        after: so many steps are known to be too few.

        An outcome that stopped for want of units can be taken up again.

        A circuit without landmarks has no sequence shorter than the one found.
        """
        if self.start is None or self.start.word == "unknown":
            self.start = self.unrolling.check(self.budget)
        if self.start.word != "sat":
            return self._stopped(self.start, "no start")
        while self.unrolling.steps < after:
            self.extend()
        self.cleared = max(after, self.cleared)
        budget = self.budget if units is None else replace(self.budget, resource=units)
        answer = self._deepen(steps, budget)
        done = self.unrolling.steps
        if answer.word == "sat":
            return self.polished(Find(done, self.unrolling.model()))
        if answer.why == "solver limit" and units is not None:
            nearby = self._nearby(min(units, NEARBY_UNITS))
            if isinstance(nearby, Find):
                return self.polished(nearby)
            answer = nearby if nearby.why in ("time limit", "interrupted") else answer
        return self._stopped(answer, "deepest")

    def _nearby(self, units: int) -> Find | Answer:
        """A breach in the step that was too hard, with all that is far from it as at the start.

        Places and values are; what follows from them, timers and what is on its way are free.
        """
        run = self.unrolling
        far = far_from(memory_of(self.system), self.system, reads(self.system))
        if not far:
            return Answer("unsat")
        with run.scope():
            for key in sorted(far):
                first, *later = (state[key] for state in run.states)
                run.solver.add(*(equal(term, first) for term in later))
            run.solver.add(run.breached(run.steps))
            most = min(self.budget.resource, run.effort.units + units)
            answer = run.check(replace(self.budget, resource=most))
            return Find(run.steps, run.model()) if answer.word == "sat" else answer

    def _stopped(self, answer: Answer, otherwise: str) -> Outcome:
        why = answer.why if answer.word == "unknown" else otherwise
        return Outcome(None, max(0, self.cleared), why, self.unrolling.effort)

    def _deepen(self, steps: int, budget: Budget) -> Answer:
        """One step more at a time until a breach, the deepest step, or the end of the budget."""
        run, answer = self.unrolling, Answer("unsat")
        while self.cleared < steps and answer.word == "unsat":
            if run.steps == self.cleared:
                self.extend()
            if self.budget.progress:
                self.budget.progress(self.prop.name, run.steps)
            breached = run.breached(run.steps)
            answer = run.stubborn(budget, breached)
            if answer.word == "unsat":
                run.solver.add(z3.Not(breached))
                self.cleared = run.steps
        return answer

    def extend(self) -> None:
        """One step more, the facts known after it."""
        self.unrolling.extend()
        self.unrolling.solver.add(self.unrolling.at(self.facts, self.unrolling.steps))

    def polished(self, find: Find, *, settled: int | None = None) -> Outcome:
        """The find made shorter, then calmer, then its numbers rounder.

        settled: so many first steps keep their numbers

        One against a property with a time in it decides nothing yet, so less is spent on it.
        """
        run, done, shortest = self.unrolling, find.steps - 1, True
        if isinstance(self.prop.sentence, TIMED):
            find, shortest = _calm(run, find, self._allowance(EXTRA_UNITS), alone=True), False
        else:
            if landmarks(self.circuit, self.prop.sentence):
                spent = run.effort.units
                find, _ = _shorten(run, find, done + 1, self._allowance())
                shortest = False
                if run.effort.units - spent <= EASY_UNITS:
                    last, units = done + 1 + EXTRA_STEPS, self._allowance(EXTRA_UNITS)
                    find, shortest = _shorten(run, find, last, units)
            find = _calm(run, find, self._allowance())
        candidate = Candidate(self.circuit, run, find.steps, find.model)
        sequence = rounded(candidate, self.prop, self._allowance(), settled=settled)
        return Outcome(sequence, done, "", run.effort, shortest)

    def _allowance(self, units: int = POLISH_UNITS) -> Budget:
        """Units enough for one way of polishing, whatever is left for the verdict."""
        return replace(
            self.budget,
            seconds=self.budget.seconds - self.budget.remaining + POLISH_SECONDS,
            resource=self.unrolling.effort.units + units,
        )


@dataclass(frozen=True, slots=True)
class Find:
    """A model in which the property is breached by state `steps`."""

    steps: int
    model: z3.ModelRef

    def count(self, literals: Iterable[z3.BoolRef]) -> int:
        return sum(z3.is_true(self.model.eval(x, model_completion=True)) for x in literals)


def _costs(unrolling: Unrolling, steps: int) -> list[z3.BoolRef]:
    """One literal per step: it adds to the length, as a switch step or a stretch's first step."""
    switches = unrolling.switches[:steps]
    later = [z3.Or(now, before) for before, now in itertools.pairwise(switches)]
    return [z3.BoolVal(True, unrolling.system.context), *later]


def _moves(unrolling: Unrolling, steps: int) -> list[z3.BoolRef]:
    """One literal per control and step: the control moves in it."""
    return [
        unrolling.between(moved, i)
        for i in range(steps)
        for moved in unrolling.system.control_moves
    ]


def _better(
    unrolling: Unrolling, budget: Budget, steps: int, *limits: tuple[list[z3.BoolRef], int]
) -> Find | Answer:
    """A breach by state `steps` within the limits on how many of some literals are true."""
    with unrolling.scope():
        unrolling.solver.add(unrolling.breached(steps))
        for literals, most in limits:
            if literals:
                unrolling.solver.add(_at_most(literals, most))
        answer = unrolling.check(budget)
        return Find(steps, unrolling.model()) if answer.word == "sat" else answer


def _shorten(unrolling: Unrolling, find: Find, last: int, budget: Budget) -> tuple[Find, bool]:
    """A find of the least length within `last` steps, and whether that is known to be the least.

    Steps after the breach cost nothing, so one question covers every number
    of steps up to the last.
    """
    length, best = find.count(_costs(unrolling, find.steps)), find
    while unrolling.steps < last:
        unrolling.extend()
    costs = [
        z3.And(z3.Not(unrolling.breached(i)), adds)
        for i, adds in enumerate(_costs(unrolling, last))
    ]
    while length > 1:
        shorter = _better(unrolling, budget, last, (costs, length - 1))
        if isinstance(shorter, Answer):
            return best, shorter.word == "unsat"
        length = shorter.count(costs)
        first = next(i for i in range(last + 1) if shorter.count([unrolling.breached(i)]))
        best = Find(first, shorter.model)
    return best, True


def _calm(unrolling: Unrolling, find: Find, budget: Budget, *, alone: bool = False) -> Find:
    """The fewest control moves at the same length; `alone`: the fewest of those it makes."""
    costs, moves = _costs(unrolling, find.steps), _moves(unrolling, find.steps)
    others = [x for x in moves if alone and not find.count([x])]
    mine, best = [x for x in moves if find.count([x])] if alone else moves, find
    with unrolling.scope():
        unrolling.solver.add(unrolling.breached(find.steps), *map(z3.Not, others))
        unrolling.solver.add(_at_most(costs, find.count(costs)))
        while (most := best.count(mine)) > 0:
            unrolling.solver.add(_at_most(mine, most - 1))
            if unrolling.check(budget).word != "sat":
                break
            best = Find(find.steps, unrolling.model())
    return best


def _at_most(literals: list[z3.BoolRef], most: int) -> z3.BoolRef:
    return z3.PbLe([(x, 1) for x in literals], most)
