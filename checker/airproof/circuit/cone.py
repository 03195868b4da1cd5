"""The part of a circuit that a property can depend on.

Closed under reading: whatever decides how a thing of the part moves or changes
belongs to it.  A supply is decided by nothing, so two units on one supply do
not draw each other in.

Every run of the whole is, seen on the part, a run of the part: outside things
move in switch steps of their own, which the free control ELSEWHERE stands for
(it splits a stretch as they do; a second such step in the same instant changes
nothing more), and an elapse step that crosses no landmark of the whole crosses
none of the part.  So what no run of the part does, no run of the whole does.
The other way round is not so: things outside may be due, or held.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import fields, replace
from typing import TypeVar

from airproof.circuit.conditions import (
    At,
    Compare,
    Condition,
    Expired,
    Flowing,
    GoneTo,
    OnTheWay,
    leaves,
)
from airproof.circuit.kinds import ATMOSPHERE, Circuit, Control
from airproof.circuit.properties import Assumption, KeptRule, Property, Sentence, Shows

Thing = TypeVar("Thing")

MOST = 0.75  # a part that is nearly the whole is not worth cutting out
ELSEWHERE = "(elsewhere)"  # no name of the language has brackets


def cone(circuit: Circuit, prop: Property, also: Collection[str] = ()) -> Circuit:
    """The part that the property can depend on; the circuit itself if that is most of it.

    also: names that the part is to hold as well, with all that they depend on, however
          much that is
    """
    inside = _closed(circuit, {*named(prop.sentence), *also})
    every = {*circuit.positions, *circuit.value_starts, *circuit.timers, *circuit.flows}
    whole = len(inside) >= len(every) if also else len(inside) > MOST * len(every)
    return circuit if whole else _cut(circuit, prop, inside)


def _closed(circuit: Circuit, names: set[str]) -> set[str]:
    reads, inside, left = _Reads(circuit), set[str](), list(names)
    while left:
        name = left.pop()
        if name != ATMOSPHERE and name not in inside:
            inside.add(name)
            left.extend(reads.of(name))
    return inside


class _Reads:
    """What decides how each thing moves or changes."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.ways: dict[str, list[str]] = {}
        for flow in circuit.flows.values():
            for end in (flow.source, flow.target):
                self.ways.setdefault(end, []).append(flow.name)
        self.rules: dict[str, list[Condition]] = {}
        for lock in circuit.interlocks.values():
            self.rules.setdefault(lock.control, []).append(lock.condition)
        for kept in circuit.assumptions.values():
            if isinstance(kept.rule, KeptRule):
                self.rules.setdefault(kept.rule.control, []).append(kept.rule.condition)

    def of(self, name: str) -> Iterator[str]:
        circuit = self.circuit
        if name in circuit.devices:
            yield from names_in(move.when for move in circuit.devices[name].moves)
        if name in circuit.timers:
            yield from names_in((circuit.timers[name].runs,))
        if name in circuit.quantities:
            yield from names_in(change.condition for change in circuit.quantities[name].changes)
        if name in circuit.volumes:
            yield from self.ways.get(name, ())
        if name in circuit.flows:
            flow = circuit.flows[name]
            yield from (flow.source, flow.target, *names_in((flow.condition,)))
        yield from names_in(self.rules.get(name, ()))
        for assumption in circuit.assumptions.values():
            together = set(_supplies(assumption))
            yield from together if name in together else ()


def _supplies(assumption: Assumption) -> Iterator[str]:
    if not isinstance(assumption.rule, KeptRule):
        yield from names_in(assumption.rule.comparisons)


def named(sentence: Sentence) -> Iterator[str]:
    """The names that a property reads."""
    if isinstance(sentence, Shows):
        return names_in(sentence.views)
    parts = (getattr(sentence, field.name) for field in fields(sentence))
    return names_in(part for part in parts if isinstance(part, Condition))


def names_in(conditions: Iterable[Condition]) -> Iterator[str]:
    """The names that the conditions read, repeats included."""
    for condition in conditions:
        for leaf in leaves(condition):
            match leaf:
                case Compare(form=form):
                    yield from form.names
                case At(component=name) | OnTheWay(device=name) | Expired(timer=name):
                    yield name
                case Flowing(flow=name) | GoneTo(control=name):
                    yield name


def _cut(circuit: Circuit, prop: Property, inside: Collection[str]) -> Circuit:
    def kept(things: Mapping[str, Thing]) -> dict[str, Thing]:
        return {name: thing for name, thing in things.items() if name in inside}

    elsewhere = Control(ELSEWHERE, ("here", "there"), ("here",))
    return replace(
        circuit,
        supplies=kept(circuit.supplies),
        volumes=kept(circuit.volumes),
        controls={**kept(circuit.controls), ELSEWHERE: elsewhere},
        range_controls=kept(circuit.range_controls),
        devices=kept(circuit.devices),
        timers=kept(circuit.timers),
        flows=kept(circuit.flows),
        quantities=kept(circuit.quantities),
        interlocks={n: x for n, x in circuit.interlocks.items() if x.control in inside},
        properties={prop.name: prop},
        assumptions={n: x for n, x in circuit.assumptions.items() if _binds(x, inside)},
        standings={
            name: replace(state, positions=kept(state.positions), values=kept(state.values))
            for name, state in circuit.standings.items()
        },
    )


def outside(key: str) -> bool:
    """A variable of what stands for the rest of the circuit: no proof should speak of it."""
    return key.endswith(ELSEWHERE)


def _binds(assumption: Assumption, inside: Collection[str]) -> bool:
    if isinstance(assumption.rule, KeptRule):
        return assumption.rule.control in inside
    return any(name in inside for name in _supplies(assumption))
