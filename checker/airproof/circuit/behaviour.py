"""The second account of what a circuit means: exact fractions, no solver.

Written apart from the encoder, so that each can be held against the other.
All of it is *at any speed*: durations count for properties, not for the air.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from random import Random

from airproof.circuit import elapsing, judging, moving, settling, switching, wandering
from airproof.circuit.elapsing import Due
from airproof.circuit.kinds import Circuit
from airproof.circuit.landmarks import Mark, landmarks
from airproof.circuit.properties import TIMED, Property
from airproof.circuit.refusals import Refusal
from airproof.circuit.settling import Exploration
from airproof.circuit.state import Monitor, State, Step
from airproof.circuit.switching import Moved
from airproof.circuit.tables import Tables, tables_of


@dataclass(frozen=True, slots=True)
class Replay:
    """What became of a sequence.

    start:   why it does not start so
    steps:   why a step is not allowed, by its index from 0; allowed ones are left out
    monitor: what the property remembers at the end
    decided: index of the step in which it was breached (or a possibility reached)
    """

    start: tuple[Refusal, ...]
    steps: Mapping[int, tuple[Refusal, ...]]
    monitor: Monitor
    decided: int | None

    @property
    def accepted(self) -> bool:
        """Whether every step is one of the circuit's."""
        return not self.start and not self.steps


@dataclass(frozen=True, slots=True)
class Behaviour:
    """Everything a circuit may do, and how its properties judge it."""

    circuit: Circuit
    tables: Tables = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "tables", tables_of(self.circuit))

    # ---- is it allowed?  An empty answer means yes.

    def start_refusals(self, state: State, standing: str | None = None) -> tuple[Refusal, ...]:
        """Why the circuit (or its standing state of that name) does not start so."""
        return switching.start_refusals(self.tables, state, standing)

    def switch_refusals(self, before: State, after: State) -> tuple[Refusal, ...]:
        """Why no switch step leads from `before` to `after`."""
        return switching.switch_refusals(self.tables, before, after)

    def elapse_refusals(
        self, before: State, step: Step, marks: Collection[Mark]
    ) -> tuple[Refusal, ...]:
        """Why time cannot pass from `before` as the step says, with these landmarks."""
        return elapsing.elapse_refusals(self.tables, before, step, marks)

    def step_refusals(
        self, before: State, step: Step, marks: Collection[Mark]
    ) -> tuple[Refusal, ...]:
        """Why the step, of whichever kind, is not allowed."""
        if step.kind == "elapse":
            return self.elapse_refusals(before, step, marks)
        timeless = () if not step.duration and not step.amounts else (Refusal("takes no time"),)
        return timeless + self.switch_refusals(before, step.after)

    # ---- what follows

    def due(self, before: State, after: State) -> tuple[Due, ...]:
        """What is due in the elapse step between these states, and so forbids it."""
        return elapsing.due(self.tables, before, after)

    def due_now(self, state: State) -> tuple[Due, ...]:
        """What is due if time passes and no value changes."""
        return elapsing.due(self.tables, state, state)

    def moves_made(self, before: State, after: State) -> tuple[Moved, ...]:
        """What moved in a switch step."""
        return switching.moves_made(self.tables, before, after)

    def options(self, state: State) -> tuple[Moved, ...]:
        """The single moves of controls, devices and timers that are allowed now."""
        return moving.options(self.tables, state)

    def moved(self, state: State, moves: Sequence[Moved]) -> State:
        """The state after these moves, whether they are allowed or not."""
        return moving.moved(self.circuit, state, moves)

    def explore_devices(self, state: State, *, most: int = 2000) -> Exploration:
        """Whether time can pass once devices, forced controls and timers had their way."""
        return settling.explore_devices(self.tables, state, most=most)

    # ---- properties

    def next_monitor(
        self, judged: Property, monitor: Monitor, before: State, step: Step
    ) -> Monitor:
        """What the property remembers after the step.

        Raises ValueError if it has a time in it and the elapse step has no duration.
        """
        return judging.next_monitor(self.tables, judged, monitor, before, step)

    def replay(self, judged: Property, start: State, steps: Sequence[Step]) -> Replay:
        """Each step checked and judged; judging ends at the first step without its duration."""
        marks = landmarks(self.circuit, judged.sentence)
        at_start = self.start_refusals(start, judged.start)
        if any(refusal.rule == "names" for refusal in at_start):
            return Replay(at_start, {}, Monitor(), None)
        refused: dict[int, tuple[Refusal, ...]] = {}
        monitor, decided, before = Monitor(), None, start
        for index, step in enumerate(steps):
            refusals = self.step_refusals(before, step, marks)
            if _without_duration(judged, step):
                refusals += (Refusal("duration"),)
            if refusals:
                refused[index] = refusals
            if any(refusal.rule in ("names", "duration") for refusal in refusals):
                break
            monitor = self.next_monitor(judged, monitor, before, step)
            if monitor.breached and decided is None:
                decided = index
            before = step.after
        return Replay(at_start, refused, monitor, decided)

    # ---- random runs

    def random_start(
        self, marks: Collection[Mark], rng: Random, standing: str | None = None
    ) -> State | None:
        """A start, its values biased to ends of bands and landmarks; None if none was found."""
        return wandering.random_start(self.tables, marks, rng, standing)

    def random_switch(self, state: State, rng: Random) -> Step | None:
        """A switch step, or None where nothing may move."""
        return wandering.random_switch(self.tables, state, rng)

    def random_elapse(self, state: State, marks: Collection[Mark], rng: Random) -> Step | None:
        """An elapse step, its values biased to landmarks; None if none was found."""
        return wandering.random_elapse(self.tables, state, marks, rng)


def _without_duration(judged: Property, step: Step) -> bool:
    return step.kind == "elapse" and step.duration is None and isinstance(judged.sentence, TIMED)
