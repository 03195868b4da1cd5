"""Leads machines about: at random, but back to places that were seldom visited.

Every run begins at the circuit's start, and nobody touches range controls.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

from airproof.circuit.kinds import Circuit
from outside.blowing import Build, within
from outside.machines import Passage
from outside.sensing import Machine
from outside.shifting import Shifting
from outside.verdicts import Judge, Memory

PATIENCE = 60  # attempts to move what has to move before a run is given up
LONGEST = 1200  # bits of a value's denominator


@dataclass(frozen=True)
class Told:
    """One step: a switch step if `passage` is None."""

    before: Machine
    after: Machine
    passage: Passage | None


@dataclass
class Run:
    """A machine on its way, and what the properties remember."""

    build: Build
    machine: Machine
    memories: dict[str, Memory]
    aims: dict[str, tuple[Fraction, float]]


class Rover:
    """Runs machines of one circuit and notes which properties were breached (or reached).

    breached: how often each was; stuck: runs given up because nothing could move in time
    """

    def __init__(self, circuit: Circuit, rng: Random) -> None:
        self.circuit, self.rng, self.works = circuit, rng, Shifting(circuit)
        self.judges = {
            p.name: Judge(self.works.senses, p)
            for p in circuit.properties.values()
            if p.start is None and not p.even_for_an_instant
        }
        self.breached: dict[str, int] = {}
        self.stuck = 0
        self.places: dict[tuple[str, ...], list[Run]] = {}
        self.visits: dict[tuple[str, ...], int] = {}

    def steps(self, count: int) -> Iterator[Told]:
        """So many steps, in runs that begin at the start or go on from somewhere."""
        while count > 0:
            run = self._beginning()
            hands = self.rng.choice((0.02, 0.1, 0.3, 0.6))
            for _ in range(min(count, self.rng.choice((30, 80, 200)))):
                told = self._step(run, hands)
                count -= 1
                if told is None:
                    self.stuck += 1
                    break
                yield told
                if told.passage:
                    self._note(run)
                if max(v.denominator.bit_length() for v in run.machine.values.values()) > LONGEST:
                    break

    def _beginning(self) -> Run:
        if self.places and self.rng.random() < 0.8:
            some = self.rng.sample(list(self.places), min(6, len(self.places)))
            place = min(some, key=lambda one: self.visits[one])
            self.visits[place] += 1
            kept = self.rng.choice(self.places[place])
            return replace(kept, memories=dict(kept.memories), aims=dict(kept.aims))
        while (begun := self.works.start(self.rng)) is None:
            pass
        return Run(*begun, {name: Memory() for name in self.judges}, {})

    def _note(self, run: Run) -> None:
        machine = run.machine
        place = (*machine.positions.values(), *sorted(machine.leaving), *machine.timers.values())
        self.visits.setdefault(place, 0)
        kept = self.places.setdefault(place, [])
        if len(kept) < 3 or self.rng.random() < 0.02:
            kept.append(replace(run, memories=dict(run.memories), aims=dict(run.aims)))
            del kept[:-3]

    def _step(self, run: Run, hands: float) -> Told | None:
        works, rng = self.works, self.rng
        for _ in range(PATIENCE):
            machine = run.machine
            self._aim(run)
            passage = works.passage(run.build, machine, run.aims)
            pressing = works.called(machine, passage.half_way) + works.ripe(run.build, machine)
            wished = pressing + (works.turning(machine) if rng.random() < 0.5 else [])
            if rng.random() < hands:
                wished += works.by_hand(machine, rng, rng.choice((1, 1, 2, 3)))
            after = works.switched(run.build, machine, wished, rng) if wished else None
            if after is not None:
                run.machine = after
                return Told(machine, after, None)
            if not pressing:
                return self._wait(run, passage)
        return None

    def _wait(self, run: Run, passage: Passage) -> Told:
        run.machine = self.works.passed(passage, self.rng)
        for name, judge in self.judges.items():
            memory = run.memories[name]
            run.memories[name] = judge.after(memory, passage, not passage.before.rested)
            if run.memories[name].breached and not memory.breached:
                self.breached[name] = self.breached.get(name, 0) + 1
        return Told(passage.before, run.machine, passage)

    def _aim(self, run: Run) -> None:
        for name, supply in self.circuit.supplies.items():
            aim, _ = run.aims.get(name, (None, 0.0))
            if aim is None or (aim == run.machine.values[name] and self.rng.random() < 0.1):
                pace = float(10 ** self.rng.uniform(-1.5, 1.5))
                run.aims[name] = (self._goal(name, within(supply.range, self.rng)), pace)

    def _goal(self, name: str, anywhere: Fraction) -> Fraction:
        """Often just beside one of its settings."""
        band = self.circuit.supplies[name].range
        edges = [edge for terms, edge in self.works.senses.marks if [n for n, _ in terms] == [name]]
        if not edges or self.rng.random() < 0.5:
            return anywhere
        near = self.rng.choice(sorted(edges)) + Fraction(self.rng.randrange(-20, 21), 200)
        return min(max(near, band.low), band.high)
