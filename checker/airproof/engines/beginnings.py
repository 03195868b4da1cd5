"""Where everything outside a part may stand when a run of the part begins.

Calm starts first: nothing outside is then due, neither at the start nor where
the run of the part leads, as far as that can be told before anything has moved.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from random import Random

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.cone import ELSEWHERE, names_in
from airproof.circuit.kinds import Band, Circuit
from airproof.circuit.landmarks import Mark
from airproof.circuit.properties import SupplyRule
from airproof.circuit.state import State, TimerState

ROUNDS = 30  # of putting elsewhere what is due
DRAWN = 4  # random starts, after three plain ones

Place = str | Fraction


def laid_over(whole: State, part: State) -> State:
    """The whole as the part stands; what stands outside the part stays where it is."""
    inside = [name for name in part.positions if name != ELSEWHERE]
    leaving = {name: left for name, left in whole.leaving.items() if name not in inside}
    return replace(
        whole,
        positions={**whole.positions, **{name: part.positions[name] for name in inside}},
        values={**whole.values, **part.values},
        leaving={**leaving, **part.leaving},
        timers={**whole.timers, **part.timers},
    )


@dataclass(frozen=True, slots=True)
class Outside:
    """What stands outside a part, and where each thing of it may start.

    seen: states of a run of the part, the start first
    standing: the standing state that the run starts in; None: the circuit's own start
    """

    behaviour: Behaviour
    seen: tuple[State, ...]
    standing: str | None
    marks: frozenset[Mark]
    places: Mapping[str, tuple[Place, ...]] = field(init=False)
    reads: Mapping[str, tuple[str, ...]] = field(init=False)

    def __post_init__(self) -> None:
        circuit = self.behaviour.circuit
        every = {**_positions(circuit), **_values(circuit, self.marks)}
        if self.standing is not None:
            pins = circuit.standings[self.standing]
            every |= {name: (place,) for name, place in pins.positions.items()}
            every |= {name: (value,) for name, value in pins.values.items()}
        inside = self.seen[0].positions.keys() | self.seen[0].values.keys()
        places = {name: some for name, some in every.items() if name not in inside}
        object.__setattr__(self, "places", places)
        object.__setattr__(self, "reads", _reads(circuit))

    def starts(self) -> Iterator[State]:
        """Different starts of the whole in which the part stands as it is first seen."""
        told: list[State] = []
        for number, begun in enumerate(self._begun()):
            calm = self._calmed(begun, Random(number))
            if calm not in told and not self.behaviour.start_refusals(calm, self.standing):
                told.append(calm)
                yield calm

    def _begun(self) -> Iterator[State]:
        timers: dict[str, TimerState] = dict.fromkeys(self.behaviour.circuit.timers, "idle")
        idle = State({}, {}, timers=timers)
        for at in (0, 1, -1):
            chosen = {name: some[at % len(some)] for name, some in self.places.items()}
            yield laid_over(self._put(idle, chosen), self.seen[0])
        rng = Random(0)
        for _ in range(DRAWN):
            drawn = self.behaviour.random_start(self.marks, rng, self.standing)
            if drawn is not None:
                yield laid_over(drawn, self.seen[0])

    @staticmethod
    def _put(state: State, chosen: Mapping[str, Place]) -> State:
        positions, values = dict(state.positions), dict(state.values)
        for name, place in chosen.items():
            if isinstance(place, str):
                positions[name] = place
            else:
                values[name] = place
        return replace(state, positions=positions, values=values)

    def _calmed(self, state: State, rng: Random) -> State:
        """The start with whatever is due outside put elsewhere, a few times over."""
        best, trouble = state, self._trouble(state)
        for _ in range(ROUNDS):
            if not trouble:
                break
            drawn = self._put(best, self._drawn(trouble, rng))
            left = self._trouble(drawn)
            if len(left) <= len(trouble):
                best, trouble = drawn, left
        return best

    def _drawn(self, trouble: frozenset[str], rng: Random) -> dict[str, Place]:
        concerned = {
            name for thing in sorted(trouble) for name in (thing, *self.reads.get(thing, ()))
        }
        some = [name for name in sorted(concerned & self.places.keys()) if rng.random() < 0.5]
        return {name: rng.choice(self.places[name]) for name in some}

    def _trouble(self, start: State) -> frozenset[str]:
        """What is due somewhere on the way of the part, and what may not start so."""
        inside = self.seen[0].positions
        refusals = self.behaviour.start_refusals(start, self.standing)
        due = {
            thing.name
            for state in self.seen
            for thing in self.behaviour.due_now(laid_over(start, state))
            if thing.name not in inside and thing.kind != "timer"
        }
        return frozenset(due.union(*(refusal.names for refusal in refusals)))


def _positions(circuit: Circuit) -> dict[str, tuple[Place, ...]]:
    controls = {
        control.name: (control.sealed,) if control.sealed else control.starts
        for control in circuit.controls.values()
    }
    return {**controls, **{device.name: device.starts for device in circuit.devices.values()}}


def _values(circuit: Circuit, marks: frozenset[Mark]) -> dict[str, tuple[Place, ...]]:
    """The ends of each band, its middle, and the landmarks in it."""
    alone: dict[str, list[Fraction]] = {}
    for form, constant in sorted(marks, key=lambda mark: (mark[0].terms, mark[1])):
        if len(form.names) == 1:
            alone.setdefault(form.names[0], []).append(constant)
    return {
        name: tuple(dict.fromkeys(_points(band, alone.get(name, []))))
        for name, band in circuit.value_starts.items()
    }


def _points(band: Band, alone: list[Fraction]) -> Iterator[Fraction]:
    yield from (band.low, band.high, (band.low + band.high) / 2)
    yield from (value for value in alone if band.low < value < band.high)


def _reads(circuit: Circuit) -> dict[str, tuple[str, ...]]:
    """What each thing that may be due, or may not start so, goes by."""
    found: dict[str, set[str]] = {}
    for device in circuit.devices.values():
        found[device.name] = set(names_in(move.when for move in device.moves))
    for lock in circuit.interlocks.values():
        found.setdefault(lock.control, set()).update(names_in((lock.condition,)))
    for name, assumption in circuit.assumptions.items():
        if isinstance(assumption.rule, SupplyRule):
            found[name] = set(names_in(assumption.rule.comparisons))
    for names in found.values():
        ends = [circuit.flows[name] for name in names if name in circuit.flows]
        names.update(end for flow in ends for end in (flow.source, flow.target))
    return {name: tuple(sorted(names)) for name, names in found.items()}
