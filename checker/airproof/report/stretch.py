"""A stretch of time in words: what rises, falls, moves and begins to run."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from collections.abc import Sequence as Several
from fractions import Fraction

from airproof.circuit.kinds import Circuit
from airproof.circuit.state import State, Step
from airproof.report.moving import Directions, air_moving, quantities_moving
from airproof.report.why import Teller
from airproof.report.words import amount


def stretch_told(teller: Teller, before: State, steps: Several[Step]) -> str:
    """A sentence: how long it lasts where that is known, and all that changes in it."""
    read = list(_travels(teller, [before, *(step.after for step in steps)]))
    moving = [*airs_told(teller.circuit, before, steps), *_trends(teller.circuit, before, steps)]
    timed = list(_timers(before, steps[-1].after))
    if read:
        return f"{_passing(steps)}: {'; '.join([*read, *moving, *timed])}."
    if moving:
        said = f"no reading changes yet, though {' and '.join(moving)}"
        return f"{_passing(steps)}; {'; '.join([said, *timed])}."
    return (
        f"{_passing(steps)}{': ' if timed else '; '}{'; '.join(timed) or 'nothing else changes'}."
    )


def _passing(steps: Several[Step]) -> str:
    durations = [step.duration for step in steps if step.duration is not None]
    if len(durations) < len(steps):
        return "Time passes"
    return f"Time passes, {amount(sum(durations, Fraction(0)), 's')}"


def _travels(teller: Teller, states: Several[State]) -> Iterator[str]:
    for name in states[0].values:
        points = _turning_points([state.values[name] for state in states])
        if len(points) > 1:
            yield _travel(teller, name, points)


def _turning_points(values: Several[Fraction]) -> list[Fraction]:
    """The first and the last value, and those between where the direction changes."""
    points = [values[0]]
    for value in values[1:]:
        if value == points[-1]:
            continue
        if len(points) > 1 and (points[-1] > points[-2]) == (value > points[-1]):
            points[-1] = value
        else:
            points.append(value)
    return points


def _travel(teller: Teller, name: str, points: Several[Fraction]) -> str:
    text = ""
    for number, (old, new) in enumerate(itertools.pairwise(points)):
        verb = "rises" if new > old else "falls"
        origin = f"{name} {verb} from {teller.figures.bare(name, old)}" if not number else verb
        text += (", then " if number else "") + f"{origin} to {teller.figures.full(name, new)}"
    return text


def airs_told(circuit: Circuit, before: State, steps: Several[Step]) -> Iterator[str]:
    """Where air moves in any of the steps, as one clause."""
    told = []
    for name, way in _any(air_moving, circuit, before, steps):
        source, target = (circuit.flows[name].source, circuit.flows[name].target)[::way]
        told.append(f"through {name} from {source} to {target}")
    if told:
        yield f"air moves {', '.join(told)}"


def _trends(circuit: Circuit, before: State, steps: Several[Step]) -> Iterator[str]:
    """The quantities that move although their readings stay."""
    for name, way in _any(quantities_moving, circuit, before, steps):
        if all(step.after.values[name] == before.values[name] for step in steps):
            yield f"{name} {'rises' if way > 0 else 'falls'}"


def _any(
    moving: Callable[[Circuit, State, Step], Directions],
    circuit: Circuit,
    before: State,
    steps: Several[Step],
) -> Several[tuple[str, int]]:
    """What moves in any of the steps of a stretch, each way once."""
    starts = [before, *(step.after for step in steps)]
    found = (
        way for pair in zip(starts, steps, strict=False) for way in moving(circuit, *pair).items()
    )
    return list(dict.fromkeys(found))


def _timers(before: State, after: State) -> Iterator[str]:
    for name, state in after.timers.items():
        if state != before.timers.get(name, "idle"):
            yield f"{name} begins to run" if state == "running" else f"{name} stops running"
