"""Whether time can always go on: a proof for every run, or a run after which it cannot.

The contract.  A state is settled if nothing is due while every value stands
still.  Wanted: from every state of every run, and from every state just
behind an edge, moves of devices, forced controls and timers alone lead to a
settled state.  Then no chatter and no stopped time exist.

Why a proof is one.  The things fall into groups such that no move in a group
sets off an earlier group (`triggering`); while a group comes to rest, all
before it stay at rest.  So it is enough that each group, with all before it
settled, comes to rest in one order of moves: everything that is due moves in
turn, a few times over (`Restless`).  States where that fails are suspects.
They are excluded one after the other: because there are none at all; because
facts exclude them; because no step leads there; because frames prove that no
run does.  A suspect that a run reaches is explored move by move without a
solver: it is an error, or it settles in another order, which is learnt and
taken off the suspects.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import z3

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.conditions import NO
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Never, Property
from airproof.circuit.state import State
from airproof.engines.budget import Budget
from airproof.engines.given import given
from airproof.engines.pursuit import Outcome, Pursuit, Turn
from airproof.engines.quick import OutOfBudget, QuickSolver
from airproof.engines.rounding import Candidate, rounded
from airproof.engines.triggering import Group, groups
from airproof.engines.unrolling import Effort
from airproof.evidence.health import Finding
from airproof.evidence.sequence import Sequence as Steps
from airproof.transition.encode import encode, layout_of
from airproof.transition.layout import Moment, lay_out, number
from airproof.transition.rungs import literal_of
from airproof.transition.settling import Settling, shape
from airproof.transition.starts import starts
from airproof.transition.system import System
from airproof.transition.watching import Watch, mark_key, watched

NOTHING = Property("", "", Never(NO))  # judges nothing
SWEEPS = (1, 2, 4)  # times that a group may go round before it is a suspect
TURNS = (Turn(400_000, 600_000), Turn(6_000_000, 4_000_000), Turn(30_000_000, 20_000_000))
LESSONS = 12  # orders of moves learnt for one kind of start
NOT_PROVED = "chatter and stopped time"


@dataclass(frozen=True, slots=True)
class Restless:
    """A group that may find no rest: it has not after so many sweeps, in either order."""

    group: Group
    sweeps: int

    @property
    def name(self) -> str:
        return self.group.things[0]

    def term(self, at: Moment) -> z3.BoolRef:
        orders = (self.group.things, self.group.things[::-1])
        ways = (order * self.sweeps for order in orders)
        ends = (Settling(Settling(at).swept(way)).settled(self.group.things) for way in ways)
        return z3.Not(z3.Or([at.constant(False), *ends]))

    def wanted(self, at: Moment) -> z3.BoolRef:
        """It is the first to find no rest: all that could set it off has found it."""
        return z3.And(Settling(at).settled(sorted(self.group.before)), self.term(at))


class Soundness:
    """One circuit's examination, from any number of starts."""

    def __init__(self, circuit: Circuit, budget: Budget) -> None:
        self.circuit, self.budget = circuit, budget
        self.context, self.effort = z3.Context(), Effort()
        self.behaviour = Behaviour(circuit)
        self.things = tuple(name for group in groups(circuit) for name in group.things)
        self.layout = lay_out(circuit, self.context)
        self.shape = tuple(shape(self.layout))
        self._systems: dict[str | None, System] = {}
        self._known: dict[str | None, tuple[z3.BoolRef, ...]] = {}

    def system(self, start: str | None) -> System:
        """The circuit from that start, with a monitor that judges nothing."""
        if start not in self._systems:
            asked = replace(NOTHING, start=start)
            self._systems[start] = encode(self.circuit, asked, self.context)
        return self._systems[start]

    def begins(self, start: str | None) -> bool:
        """There is a start at all.  Raises OutOfBudget."""
        solver = QuickSolver(self.context, self.budget, self.effort)
        standing = self.circuit.standings[start] if start else None
        solver.add(*(part.term for part in starts(self.layout.moment(after=False), standing)))
        return solver.ask([])

    def suspects(self) -> tuple[Restless, ...]:
        """Groups that may find no rest in some state, reached or not.  Raises OutOfBudget."""
        solver = QuickSolver(self.context, self.budget, self.effort)
        solver.add(*self.shape)
        return tuple(self._suspected(solver, groups(self.circuit)))

    def _suspected(self, solver: QuickSolver, among: Iterable[Group]) -> Iterator[Restless]:
        now = self.layout.moment(after=False)
        for group in among:
            if len(group.things) == 1 and self.rests_at_once(group.things[0]):
                continue
            for sweeps in SWEEPS:
                restless = Restless(group, sweeps)
                if not solver.ask([solver.named("restless", restless.term(now))]):
                    break
            else:
                yield restless

    def rests_at_once(self, name: str) -> bool:
        """A slow device that has set off, a timer that was reset: neither is due again."""
        device = self.circuit.devices.get(name)
        return name in self.circuit.timers or (device is not None and device.moving is not None)

    def known(self, start: str | None) -> tuple[z3.BoolRef, ...]:
        """What is so in every state of every run from there."""
        if start not in self._known:
            now = self.layout.moment(after=False)
            literals = given(self.circuit, start, self.budget).literals
            terms = (literal_of(now, literal) for literal in literals)
            self._known[start] = (*self.shape, *terms)
        return self._known[start]

    def rest_exists(self, state: State) -> bool:
        """Somewhere all that moves by itself would rest, the rest being as in the state.

        Whether any moves lead there is another question.  Raises OutOfBudget.
        """
        now = self.layout.moment(after=False)
        held = [n for n in self.circuit.controls if n not in self.things]
        stands = (now.bound(name, state.positions[name]) for name in held)
        values = (now.value(n) == number(self.context, v) for n, v in state.values.items())
        solver = QuickSolver(self.context, self.budget, self.effort)
        solver.add(*self.shape, *stands, *values, Settling(now).settled(self.things))
        return solver.ask([])

    def findings(self, start: str | None, suspects: Sequence[Restless]) -> Iterator[Finding]:
        """Errors, or what was not proved, for runs from one start."""
        if not suspects:
            return
        try:
            yield from _Hunt(self, self.system(start), self.known(start)).findings(suspects)
        except OutOfBudget as stop:
            yield not_proved(stop.why)


def not_proved(why: str) -> Finding:
    return Finding("warning", "not examined", (NOT_PROVED,), None, why)


def told(candidate: Candidate, budget: Budget) -> tuple[Steps, State]:
    """The run with the numbers it was found with, for others might be no trouble, and its end."""
    sequence = rounded(candidate, NOTHING, replace(budget, seconds=0.0))
    return sequence, sequence.steps[-1].after if sequence.steps else sequence.start


class _Hunt:
    """The suspects of one start, excluded or caught."""

    def __init__(self, whole: Soundness, system: System, known: Sequence[z3.BoolRef]) -> None:
        self.whole, self.system, self.known = whole, system, known
        self.layout = layout_of(system, whole.circuit)
        self.ways: list[tuple[State, ...]] = []

    def findings(self, suspects: Sequence[Restless]) -> Iterator[Finding]:
        wanted, turns = list(suspects), list(TURNS)
        while wanted:
            outcome = self._pursued(suspects, wanted, turns)
            if outcome.candidate is None:
                if outcome.comes == "unknown":
                    yield not_proved(outcome.why)
                return
            finding, caught = self._judged(outcome.candidate, wanted)
            if finding is None and len(self.ways) <= LESSONS:
                continue
            yield finding or not_proved("too many orders of moves")
            wanted = [one for one in wanted if one not in caught]
            del turns[1:]

    def _pursued(
        self, suspects: Sequence[Restless], wanted: Sequence[Restless], turns: Sequence[Turn]
    ) -> Outcome:
        watch = Watch(
            wanted=lambda at: self._wanted(at, wanted),
            marks={
                **{f"restless {one.name}": one.term for one in suspects},
                **{f"first {one.name}": one.wanted for one in wanted},
            },
            overlooked={
                thing: f"restless {one.name}" for one in suspects for thing in one.group.things
            },
        )
        system = watched(self.system, self.layout, watch, self.known)
        return Pursuit(self.whole.circuit, system, self.whole.budget).pursue(turns)

    def _wanted(self, at: Moment, wanted: Sequence[Restless]) -> z3.BoolRef:
        return z3.And(
            z3.Or([one.wanted(at) for one in wanted]),
            *(z3.Not(self._settles(at, way)) for way in self.ways),
        )

    def _settles(self, at: Moment, way: Sequence[State]) -> z3.BoolRef:
        """Everything comes to rest by the same moves as on the way."""
        follows, end = Settling(at).follows(way)
        return z3.And(follows, Settling(end).settled(self.whole.things))

    def _judged(
        self, candidate: Candidate, wanted: Sequence[Restless]
    ) -> tuple[Finding | None, list[Restless]]:
        """What devices alone make of the state that a run leads to."""
        sequence, state = told(candidate, self.whole.budget)
        caught = self._caught(candidate, wanted)
        return self._explored(state, sequence, caught), caught

    def _caught(self, candidate: Candidate, wanted: Sequence[Restless]) -> list[Restless]:
        """The groups that find no rest there."""
        state = candidate.unrolling.states[candidate.steps]
        marks = {one: state[mark_key(f"first {one.name}")] for one in wanted}
        return [
            one
            for one, mark in marks.items()
            if z3.is_true(candidate.model.eval(mark, model_completion=True))
        ]

    def _explored(
        self, state: State, sequence: Steps, caught: Sequence[Restless]
    ) -> Finding | None:
        """The error; None after learning the order of moves in which all comes to rest."""
        names = {name for one in caught for name in one.group.things}
        moving = not names.issubset(self.whole.circuit.controls)
        if moving and not self.whole.rest_exists(state):
            return Finding("error", "chatter", tuple(sorted(names)), sequence)
        explored = self.whole.behaviour.explore_devices(state)
        if explored.outcome == "settled":
            self.ways.append((state, *explored.steps))
            return None
        if explored.outcome == "deadlock":
            last = explored.steps[-1] if explored.steps else state
            stuck = {due.name for due in self.whole.behaviour.due_now(last)}
            return Finding("error", "stopped time", tuple(sorted(stuck)), sequence)
        if explored.outcome == "loop":
            return Finding("error", "chatter", tuple(sorted(names)), sequence)
        return Finding("warning", "not examined", tuple(sorted(names)), sequence, "too many states")
