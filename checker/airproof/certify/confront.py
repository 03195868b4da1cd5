"""Invariants held against random runs of the solver-free account."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from random import Random

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.kinds import Circuit
from airproof.circuit.landmarks import Mark, landmarks
from airproof.circuit.properties import TIMED, Property
from airproof.circuit.state import Monitor, State, Step
from airproof.evidence.certificate import Invariant
from airproof.transition.decode import Valuation, monitor_values, valuation_of
from airproof.transition.layout import CLOCK
from airproof.transition.literals import Bit, Literal

LONGEST = 12  # steps of one random run


@dataclass(frozen=True, slots=True)
class Run:
    """One random run: its start and its steps."""

    start: State
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class Outside:
    """A run whose last state lies outside an invariant: a defect of airproof."""

    property: str
    run: Run


def wander(circuit: Circuit, standing: str | None, runs: int, seed: int) -> Iterator[Run]:
    """Random runs that cross no landmark of any property, so that each may judge them."""
    behaviour, rng = Behaviour(circuit), Random(seed)
    marks = frozenset(
        mark
        for prop in (*circuit.properties.values(), None)
        for mark in landmarks(circuit, prop.sentence if prop else None)
    )
    for _ in range(runs):
        start = behaviour.random_start(marks, rng, standing)
        if start is not None:
            yield Run(start, tuple(_steps(behaviour, start, marks, rng)))


def _steps(
    behaviour: Behaviour, state: State, marks: frozenset[Mark], rng: Random
) -> Iterator[Step]:
    for _ in range(rng.randint(1, LONGEST)):
        switch = rng.random() < 0.5
        step = (
            behaviour.random_switch(state, rng)
            if switch
            else behaviour.random_elapse(state, marks, rng)
        )
        if step is not None:
            yield step
            state = step.after


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
            if step.kind == "elapse" and step.duration is None and isinstance(prop.sentence, TIMED):
                return True
            memory = behaviour.next_monitor(prop, memory, before, step)
            before = step.after
        if not satisfied(behaviour.circuit, invariant, before, memory):
            return False
    return True


def satisfied(circuit: Circuit, invariant: Invariant, state: State, memory: Monitor) -> bool:
    """Every clause of the invariant is so in this state."""
    keys = {x.rung.key for c in invariant.clauses for x in c if isinstance(x.rung, Bit)}
    values = {**valuation_of(circuit, state), **monitor_values(memory, iter(keys))}
    values[CLOCK] = memory.clock
    return all(any(_so(values, literal) for literal in clause) for clause in invariant.clauses)


def _so(values: Valuation, literal: Literal) -> bool:
    rung = literal.rung
    if isinstance(rung, Bit):
        return bool(values[rung.key]) == literal.so
    total = sum(w * Fraction(values[n if n == CLOCK else f"value {n}"]) for n, w in rung.terms)
    reached = total >= rung.constant if rung.order == ">=" else total <= rung.constant
    return reached == literal.so
