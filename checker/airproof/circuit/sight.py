"""What somebody beside two circuits watches, and what one stretch of time shows of it."""

from __future__ import annotations

import itertools
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

from airproof.circuit.conditions import NO, AllOf, At, Condition, Form, Not, Order, compare, form_of
from airproof.circuit.cone import names_in
from airproof.circuit.kinds import Circuit
from airproof.circuit.landmarks import landmarks
from airproof.circuit.properties import KeptRule
from airproof.circuit.state import State, Step

ON_THE_WAY = ""  # the place of a device that is on the way; no position is named so

OnlyIn = Literal["before", "after"]


@dataclass(frozen=True, slots=True)
class Sight:
    """What is watched of both circuits.

    places:  controls and devices, with every position that either circuit gives them
    gauges:  what has a value, with the landmarks [its unit] that stand alone on it in
             either circuit, lowest first
    left_out: what would be watched, but one circuit only has it
    """

    places: Mapping[str, tuple[str, ...]]
    gauges: Mapping[str, tuple[Fraction, ...]]
    left_out: tuple[tuple[str, OnlyIn], ...] = ()


@dataclass(frozen=True, slots=True)
class Scene:
    """One view: where the watched things stand, and between which landmarks the gauges do.

    places: by the order of the sight, ON_THE_WAY for a device between positions
    cells:  2 k: above k landmarks and below the next; 2 k + 1: resting at landmark k, from 0
    """

    places: tuple[str, ...]
    cells: tuple[int, ...]


def sight_of(old: Circuit, new: Circuit) -> Sight:
    """What is watched of the two, marked or by default."""
    marked = {*old.observed, *new.observed}
    both = (old, new)
    controls = _shared(old.controls, new.controls)
    wanted = {*controls, *(name for one in both for name in _looked_at(one, marked))}
    placed = _shared(old.positions, new.positions)
    valued = _shared(old.value_starts, new.value_starts)
    marks = _alone(both)
    always = {name for one in both for name in (*one.supplies, *one.range_controls)}
    always |= {name for one in both for name in one.quantities}
    gauges = {n: marks[n] for n in valued if n in marks and (n in wanted or n in always)}
    return Sight(
        places={n: _positions(both, n) for n in placed if n in wanted},
        gauges=gauges,
        left_out=tuple(_missing(old, new, wanted | always | {*old.controls, *new.controls})),
    )


def _shared(old: Iterable[str], new: Iterable[str]) -> list[str]:
    known = {*new}
    return [name for name in old if name in known]


def _missing(old: Circuit, new: Circuit, names: set[str]) -> Iterator[tuple[str, OnlyIn]]:
    there = [{*one.positions, *one.value_starts} for one in (old, new)]
    for name in sorted(names & (there[0] ^ there[1])):
        yield name, "before" if name in there[0] else "after"


def _positions(both: Iterable[Circuit], name: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(place for one in both for place in one.positions[name]))


def _looked_at(circuit: Circuit, marked: set[str]) -> Iterator[str]:
    """The devices and volumes that are marked or, where nothing is, watched by default."""
    if marked:
        yield from (n for n in (*circuit.devices, *circuit.volumes) if n in marked)
        return
    read = read_by_others(circuit)
    yield from (name for name in circuit.devices if name not in read)
    yield from circuit.volumes


def read_by_others(circuit: Circuit) -> set[str]:
    """What the condition of another device, of a timer or of a rule on a control reads."""
    found: set[str] = set()
    for device in circuit.devices.values():
        found |= {*names_in(move.when for move in device.moves)} - {device.name}
    for timer in circuit.timers.values():
        found |= {*names_in((timer.runs,))}
    found |= {*names_in(rule.condition for rule in circuit.interlocks.values())}
    for assumption in circuit.assumptions.values():
        if isinstance(assumption.rule, KeptRule):
            found |= {*names_in((assumption.rule.condition,))}
    return found


def _alone(both: Iterable[Circuit]) -> dict[str, tuple[Fraction, ...]]:
    """By name the landmarks of single values."""
    found: dict[str, set[Fraction]] = {}
    for circuit in both:
        for form, constant in landmarks(circuit, None):
            if len(form.terms) == 1:
                found.setdefault(form.names[0], set()).add(constant)
    return {name: tuple(sorted(constants)) for name, constants in found.items()}


def narrowed(sight: Sight, names: Container[str]) -> Sight:
    """Of what is watched only these."""
    return Sight(
        {name: places for name, places in sight.places.items() if name in names},
        {name: marks for name, marks in sight.gauges.items() if name in names},
    )


def within_sight(whole: Sight, part: Sight, scene: Scene) -> Scene:
    """As much of a view of the whole as the part shows."""
    places = zip(whole.places, scene.places, strict=True)
    cells = zip(whole.gauges, scene.cells, strict=True)
    return Scene(
        tuple(place for name, place in places if name in part.places),
        tuple(cell for name, cell in cells if name in part.gauges),
    )


# ---- scenes as conditions, and of runs


def seen_in(sight: Sight, circuit: Circuit, scene: Scene) -> Condition:
    """The scene as a condition on a stretch of the circuit, read as properties are."""
    parts = [*stands_in(sight, circuit, scene).parts]
    for (name, marks), cell in zip(sight.gauges.items(), scene.cells, strict=True):
        parts += _sides(name, marks, cell)
    return AllOf(tuple(parts))


def stands_in(sight: Sight, circuit: Circuit, scene: Scene) -> AllOf:
    """The places of the scene as a condition, whatever the gauges show."""
    parts: list[Condition] = []
    for (name, places), place in zip(sight.places.items(), scene.places, strict=True):
        own = circuit.positions[name]
        if place == ON_THE_WAY:
            parts += [Not(At(name, each)) for each in places if each in own]
        else:
            parts.append(At(name, place) if place in own else NO)
    return AllOf(tuple(parts))


def marks_of(sight: Sight, circuit: Circuit) -> Iterator[Condition]:
    """Conditions that tell any two scenes apart, in the same order for either circuit."""
    for name, places in sight.places.items():
        own = circuit.positions[name]
        yield from (At(name, place) if place in own else NO for place in places)
    for name, marks in sight.gauges.items():
        for at in marks:
            yield from (compare(alone(name), order, at) for order in _BOTH)


def gauged(sight: Sight) -> Iterator[tuple[Form, Fraction]]:
    """The landmarks of what is watched; a circuit that was cut down may lack some."""
    for name, marks in sight.gauges.items():
        yield from ((alone(name), at) for at in marks)


def _sides(name: str, marks: Sequence[Fraction], cell: int) -> Iterator[Condition]:
    form, at = alone(name), cell // 2
    if cell % 2:
        yield from (compare(form, order, marks[at]) for order in _BOTH)
        return
    if at:
        yield compare(form, ">", marks[at - 1])
    if at < len(marks):
        yield compare(form, "<", marks[at])


_BOTH: tuple[Order, Order] = (">=", "<=")


def alone(name: str) -> Form:
    """The value by itself."""
    return form_of({name: Fraction(1)})


def scene_of(sight: Sight, before: State, after: State) -> Scene:
    """What an elapse step between these states shows; it crosses no landmark of the sight."""
    places = tuple(
        ON_THE_WAY if name in before.leaving else before.positions[name] for name in sight.places
    )
    cells = (
        _cell(marks, before.values[name], after.values[name])
        for name, marks in sight.gauges.items()
    )
    return Scene(places, tuple(cells))


def _cell(marks: Sequence[Fraction], first: Fraction, last: Fraction) -> int:
    low, high = min(first, last), max(first, last)
    at = sum(mark <= low for mark in marks)
    if at and low == high == marks[at - 1]:
        return 2 * at - 1
    if at < len(marks) and high > marks[at]:
        raise ValueError("the step crosses a landmark of the sight")
    return 2 * at


def hinted(sight: Sight, start: State, steps: Iterable[Step]) -> tuple[Scene, ...]:
    """What a run shows, if its values go straight from one state to the next.

    It may cross landmarks of the sight, which are those of two circuits; a run
    that stops there need not be one of the circuit's.
    """
    found: list[Scene] = []
    before = start
    for step in steps:
        if step.kind == "elapse":
            for scene in _crossed(sight, before, step.after):
                if not found or found[-1] != scene:
                    found.append(scene)
        before = step.after
    return tuple(found)


def _crossed(sight: Sight, before: State, after: State) -> Iterator[Scene]:
    """The views of a stretch, cut wherever a value is at a landmark."""
    cuts = {Fraction(0), Fraction(1)}
    for name, marks in sight.gauges.items():
        first, last = before.values[name], after.values[name]
        cuts |= {
            (mark - first) / (last - first)
            for mark in marks
            if min(first, last) < mark < max(first, last)
        }
    way = sorted(cuts)
    for one, other in itertools.pairwise(way):
        ends = (
            replace(
                before,
                values={
                    name: value + (after.values[name] - value) * at
                    for name, value in before.values.items()
                },
            )
            for at in (one, other)
        )
        yield scene_of(sight, *ends)


def shown(sight: Sight, start: State, steps: Iterable[Step]) -> tuple[Scene, ...]:
    """What a run shows: its views in order, equal neighbours taken together."""
    found: list[Scene] = []
    before = start
    for step in steps:
        if step.kind == "elapse":
            scene = scene_of(sight, before, step.after)
            if not found or found[-1] != scene:
                found.append(scene)
        before = step.after
    return tuple(found)
