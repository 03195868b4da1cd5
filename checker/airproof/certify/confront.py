"""Invariants held against random runs of the solver-free account.

The runs are drawn on a board (`circuit/guiding.py`), where a step takes a
hundredth of the time that `Behaviour` needs for it.  Every so many runs, and
every find, are followed step by step by `Behaviour` itself.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal as Choice

from airproof.certify.clauses import Clauses, Denial, told
from airproof.circuit import guiding
from airproof.circuit.behaviour import Behaviour
from airproof.circuit.exploring import Explorer, Node
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.circuit.state import Monitor, State, Step
from airproof.circuit.watches import monitor_of
from airproof.evidence.certificate import Invariant
from airproof.transition.decode import Valuation, monitor_values, valuation_of
from airproof.transition.layout import CLOCK
from airproof.transition.literals import Bit, Literal

RUNS = 1000
FOLLOWED = 100  # one run in so many is followed by Behaviour
TIMED = 16  # runs between two looks at the clock

Fault = Choice[
    "outside",  # the last state lies outside the invariant
    "breached",  # the last step breaches what is claimed to hold
    "refused",  # the last step is none of the circuit's: the runs are wrongly drawn
    "parted",  # Behaviour and the quick account of it differ on what is remembered or outside
]


@dataclass(frozen=True, slots=True)
class Run:
    """One random run: its start and its steps."""

    start: State
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class Outside:
    """A run that a claim does not survive: a defect of airproof, whatever the fault."""

    property: str
    run: Run
    fault: Fault = "outside"


@dataclass(frozen=True, slots=True)
class Confronted:
    """What became of some claims, of which each meets the same runs.

    runs: how many there were, fewer than wanted if the time was up or no claim was left
    steps: in all of them together
    found: at most one for each property
    """

    runs: int
    steps: int
    found: tuple[Outside, ...]


def confronted(
    circuit: Circuit,
    claims: Mapping[str, Invariant],
    runs: int = RUNS,
    seed: int = 0,
    seconds: float | None = None,
) -> Confronted:
    """Holds the invariants of properties with one start against random runs.

    The runs depend on the whole circuit, the start and the seed, and on
    nothing else: neither on the claims nor on how long anything takes; `seconds`
    only ends them early.  Raises ValueError if the properties start differently.
    """
    starts = {circuit.properties[name].start for name in claims}
    if len(starts) > 1:
        raise ValueError("properties with different starts meet different runs")
    if not claims:
        return Confronted(0, 0, ())
    meeting = _Meeting(circuit, claims, starts.pop(), seed)
    ends = None if seconds is None else time.monotonic() + seconds
    for run in meeting.guide.runs(runs):
        meeting.take(run)
        if len(meeting.found) == len(claims):
            break
        if ends is not None and meeting.runs % TIMED == 0 and time.monotonic() >= ends:
            break
    return Confronted(meeting.runs, meeting.steps, tuple(meeting.found.values()))


class _Meeting:
    def __init__(
        self, circuit: Circuit, claims: Mapping[str, Invariant], start: str | None, seed: int
    ) -> None:
        self.explorer = Explorer(circuit, start, seed)
        self.guide = guiding.Guide(self.explorer)
        self.behaviour = Behaviour(circuit)
        self.claims, self.start = claims, start
        watched = {watch.property.name: at for at, watch in enumerate(self.explorer.watches)}
        self.watched = {name: watched[name] for name in claims}
        self.clauses = Clauses(self.explorer.board, claims, self.watched)
        self.runs = self.steps = 0
        self.found: dict[str, Outside] = {}

    def take(self, run: guiding.Run) -> None:
        """Judges every state of the run that no earlier run had."""
        origin, clauses = run.origin, self.clauses
        bits = clauses.bits(origin)
        if origin.parent is None:
            self._deny(clauses.denied_at_start(bits), origin)
        for node in run.nodes:
            before, bits = bits, clauses.bits(node, bits)
            self._deny(clauses.denied(before, bits), node)
        if self.runs % FOLLOWED == 0:
            self._follow(run)
        self.runs += 1
        self.steps += len(run.nodes)

    def _deny(self, denials: Iterator[Denial], node: Node) -> None:
        for denial in denials:
            for name in denial.names:
                if name not in self.found:
                    run = Run(*self.explorer.states(node))
                    self.found[name] = Outside(name, run, self._fault(name, run, denial))

    def _fault(self, name: str, run: Run, denial: Denial) -> Fault:
        """What Behaviour says of the run: it has the last word."""
        circuit = self.behaviour.circuit
        replay = self.behaviour.replay(circuit.properties[name], run.start, run.steps)
        if not replay.accepted:
            return "refused"
        if denial.breach:
            return "breached" if replay.monitor.breached else "parted"
        last = run.steps[-1].after if run.steps else run.start
        kept = satisfied(circuit, self.claims[name], last, replay.monitor)
        return "parted" if kept else "outside"

    def _follow(self, run: guiding.Run) -> None:
        """Each step of the run tried on Behaviour, and what is remembered compared."""
        before = self.explorer.board.state_of(run.origin.spot)
        if run.origin.parent is None and self.behaviour.start_refusals(before, self.start):
            self._blame(run.origin, "refused")
        memories = run.origin.memories
        for node in run.nodes:
            step = self.explorer.step(node)
            if self.behaviour.step_refusals(before, step, self.explorer.marks):
                self._blame(node, "refused")
            for name, at in self.watched.items():
                judged, known = self.behaviour.circuit.properties[name], monitor_of(memories[at])
                monitor = self.behaviour.next_monitor(judged, known, before, step)
                if monitor != monitor_of(node.memories[at]):
                    self._blame(node, "parted")
            before, memories = step.after, node.memories

    def _blame(self, node: Node, fault: Fault) -> None:
        """Where the runs themselves are wrong, no claim has met any."""
        run = Run(*self.explorer.states(node))
        for name in self.claims:
            self.found.setdefault(name, Outside(name, run, fault))


# ---- the same, slowly and step by step


def wander(circuit: Circuit, standing: str | None, runs: int, seed: int) -> Iterator[Run]:
    """The runs that claims with this start meet, each from its very start."""
    explorer = Explorer(circuit, standing, seed)
    for run in guiding.Guide(explorer).runs(runs):
        yield Run(*explorer.states(run.nodes[-1] if run.nodes else run.origin))


def outside(
    circuit: Circuit, invariants: Mapping[str, Invariant], runs: Iterator[Run]
) -> Iterator[Outside]:
    """Every run that leaves an invariant of a property that starts where the run does."""
    behaviour = Behaviour(circuit)
    for run in runs:
        for name, invariant in invariants.items():
            if not _inside(behaviour, circuit.properties[name], invariant, run):
                yield Outside(name, run)


def _inside(behaviour: Behaviour, prop: Property, invariant: Invariant, run: Run) -> bool:
    memory, before = Monitor(), run.start
    for step in (None, *run.steps):
        if step is not None:
            memory = behaviour.next_monitor(prop, memory, before, step)
            before = step.after
        if not satisfied(behaviour.circuit, invariant, before, memory):
            return False
    return True


def satisfied(circuit: Circuit, invariant: Invariant, state: State, memory: Monitor) -> bool:
    """Every clause of the invariant is so in this state, as far as that can be told."""
    clauses = [clause for clause in invariant.clauses if told(clause)]
    keys = {x.rung.key for c in clauses for x in c if isinstance(x.rung, Bit)}
    values = {**valuation_of(circuit, state), **monitor_values(memory, iter(keys))}
    values[CLOCK] = memory.clock
    return all(any(_so(values, literal) for literal in clause) for clause in clauses)


def _so(values: Valuation, literal: Literal) -> bool:
    rung = literal.rung
    if isinstance(rung, Bit):
        return bool(values[rung.key]) == literal.so
    total = sum(w * Fraction(values[n if n == CLOCK else f"value {n}"]) for n, w in rung.terms)
    reached = total >= rung.constant if rung.order == ">=" else total <= rung.constant
    return reached == literal.so
