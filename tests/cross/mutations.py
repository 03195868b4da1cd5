"""Steps spoilt in one place: what stays a state of the circuit, but may be no step of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

from airproof.circuit.kinds import Circuit
from airproof.circuit.landmarks import Mark
from airproof.circuit.properties import TIMED, AfterNever, Lasts, OnlyAfter, Sentence, Within
from airproof.circuit.readings import value_of
from airproof.circuit.state import Monitor, State, Step, TimerState

SHIFTS = tuple(Fraction(n) for n in ("-1", "-1/7", "0", "0", "1/7", "1"))
TRIES = 5  # until a draw changes anything
TIMER_STATES: tuple[TimerState, ...] = ("idle", "running", "expired")
FLAGS: Mapping[type, tuple[str, ...]] = {
    OnlyAfter: ("cleared_here", "granted"),
    AfterNever: ("opened_here", "struck_here", "armed"),
    Within: ("pending",),
}


@dataclass(frozen=True, slots=True)
class Spoiler:
    """Changes one thing of a step, drawn at random."""

    circuit: Circuit
    marks: tuple[Mark, ...]
    rng: Random

    def step(self, before: State, step: Step) -> tuple[State, Step]:
        """The step with one thing changed in it, or in the state before it."""
        for _ in range(TRIES):
            spoilt = self._step(before, step)
            if spoilt != (before, step):
                return spoilt
        return before, step

    def _step(self, before: State, step: Step) -> tuple[State, Step]:
        if step.kind == "elapse" and self.circuit.flows and self.rng.randrange(10) == 0:
            return self._side_by_side(before, step)
        if step.kind == "elapse" and self.circuit.volumes and self.rng.randrange(12) == 0:
            return before, self._turned(before, step)
        if self.rng.randrange(3) == 0:
            return self.state(before), step
        chances: list[Callable[[Step], Step]] = [self._after] * 4
        if step.kind == "elapse":
            chances += [self._amount] * 2
        if self.rng.randrange(12) == 0:
            chances = [self._duration, self._kind]
        return before, self.rng.choice(chances)(step)

    def _side_by_side(self, before: State, step: Step) -> tuple[State, Step]:
        """Both ends of a flow just its opening pressure apart, and rising or falling together."""
        flow = self.rng.choice(list(self.circuit.flows.values()))
        lower = Fraction(self.rng.randint(0, 4))
        level = {flow.source: lower + flow.opening, flow.target: lower}
        rise = self.rng.choice((Fraction(1, 2), Fraction(-1, 2), Fraction(0)))
        first = {n: v for n, v in level.items() if n in before.values}
        last = {n: v + rise for n, v in first.items()}
        after = replace(step.after, values={**before.values, **last})
        amounts = {} if self.rng.randrange(2) else step.amounts
        return (
            replace(before, values={**before.values, **first}),
            replace(step, after=after, amounts=amounts),
        )

    def _turned(self, before: State, step: Step) -> Step:
        """A volume falls as far as it rose, or the other way round."""
        name, values = self.rng.choice(list(self.circuit.volumes)), step.after.values
        turned = 2 * before.values[name] - values[name]
        return replace(step, after=replace(step.after, values={**values, name: turned}))

    def _after(self, step: Step) -> Step:
        return replace(step, after=self.state(step.after))

    def _amount(self, step: Step) -> Step:
        if not self.circuit.flows:
            return step
        name = self.rng.choice(list(self.circuit.flows))
        was = step.amounts.get(name, Fraction(0))
        now = self.rng.choice((Fraction(0), -was, 2 * was, was + 1, was - 1))
        return replace(step, amounts={**step.amounts, name: now})

    def _duration(self, step: Step) -> Step:
        if step.kind == "switch":
            return step
        return replace(step, duration=self.rng.choice((Fraction(0), Fraction(-1), Fraction(5))))

    def _kind(self, step: Step) -> Step:
        if step.kind == "switch":
            return replace(step, kind="elapse", duration=Fraction(1))
        return replace(step, kind="switch", duration=Fraction(0), amounts={})

    def state(self, state: State) -> State:
        """The state with a place, a value or a bit of memory changed."""
        chances: list[Callable[[State], State]] = [self._fresh, self._rested]
        if state.values:
            chances += [self._value] * 5
        if state.positions:
            chances += [self._position] * 3
        if any(device.moving for device in self.circuit.devices.values()):
            chances += [self._way] * 2
        if state.timers:
            chances.append(self._timer)
        return self.rng.choice(chances)(state)

    def _position(self, state: State) -> State:
        circuit, name = self.circuit, self.rng.choice(sorted(state.positions))
        thing = circuit.controls.get(name) or circuit.devices[name]
        place = self.rng.choice(thing.positions)
        return _tidied(replace(state, positions={**state.positions, name: place}))

    def _way(self, state: State) -> State:
        moving = [device for device in self.circuit.devices.values() if device.moving]
        device = self.rng.choice(moving)
        if device.name in state.leaving and self.rng.randrange(3):
            return replace(state, aged=state.aged ^ {device.name})
        left = self.rng.choice((None, *device.positions))
        leaving = {k: v for k, v in state.leaving.items() if k != device.name}
        return _tidied(replace(state, leaving={**leaving, **({device.name: left} if left else {})}))

    def _timer(self, state: State) -> State:
        name = self.rng.choice(sorted(state.timers))
        return replace(state, timers={**state.timers, name: self.rng.choice(TIMER_STATES)})

    def _fresh(self, state: State) -> State:
        names = [*self.circuit.controls, *self.circuit.range_controls]
        return replace(state, fresh=state.fresh ^ {self.rng.choice(names)}) if names else state

    def _rested(self, state: State) -> State:
        return replace(state, rested=not state.rested)

    def _value(self, state: State) -> State:
        """To a landmark or just beside it, or to a round number."""
        name = self.rng.choice(sorted(state.values))
        ours = [mark for mark in self.marks if name in mark[0].names]
        now = Fraction(self.rng.randint(0, 4))
        if ours and self.rng.randrange(5):
            form, constant = self.rng.choice(ours)
            weight = dict(form.terms)[name]
            now = state.values[name] + (constant - value_of(form, state.values)) / weight
            now += self.rng.choice(SHIFTS)
        return replace(state, values={**state.values, name: now})


def _tidied(state: State) -> State:
    """Nothing is on the way to where it left from, and only what is on the way has aged."""
    leaving = {n: left for n, left in state.leaving.items() if left != state.positions[n]}
    return replace(state, leaving=leaving, aged=state.aged & leaving.keys())


def flags_of(sentence: Sentence) -> tuple[str, ...]:
    """The bits that a sentence remembers."""
    if isinstance(sentence, Lasts):
        return ("holding",) if sentence.bound == "least" else ()
    return FLAGS.get(type(sentence), ())


def another_memory(sentence: Sentence, memory: Monitor, rng: Random) -> Monitor:
    """A memory that differs from this one in one place."""
    chances: Iterable[Monitor] = [
        replace(memory, breached=not memory.breached),
        *(replace(memory, flags=memory.flags ^ {flag}) for flag in flags_of(sentence)),
    ]
    if isinstance(sentence, TIMED):
        chances = [*chances, replace(memory, clock=memory.clock + 1)]
    return rng.choice(list(chances))
