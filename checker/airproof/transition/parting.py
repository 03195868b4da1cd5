"""Two circuits in one solver context: where the steps of one are no steps of the other.

Variables of the same key are the same.  What only the other circuit has is
held as it starts there: that it may stay so is part of what has to be shown.
How much air goes where is left out: a step is one for some amounts (`balancing`).
Where there are too many volumes for that, the amounts are the same in both,
and none goes through further flows of the other circuit.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import z3

from airproof.circuit.conditions import NO, AllOf, compare
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Never, Property
from airproof.circuit.sight import Sight
from airproof.circuit.state import State
from airproof.transition.balancing import balanceable
from airproof.transition.decode import valuation_of
from airproof.transition.encode import encode
from airproof.transition.landmarks import Landmark, landmarks
from airproof.transition.layout import number
from airproof.transition.monitors import BREACHED
from airproof.transition.system import Conjunct, System, Variable
from airproof.transition.terms import all_of, any_of, negation

Terms = tuple[z3.BoolRef, ...]


@dataclass(frozen=True, slots=True)
class Beside:
    """A circuit's system, and what the other circuit asks of the same steps besides.

    start, switch, elapse: conjuncts of the other that the circuit has not itself
    seen:  of `elapse`, what bears on the view of the step; the rest can be met whatever that
           is, and counts only for steps to come
    """

    system: System
    start: Terms
    switch: Terms
    elapse: Terms
    seen: Terms


def comparable(circuit: Circuit, other: Circuit, sight: Sight) -> bool:
    """What is watched lies in the same variables of both circuits."""

    def slow(one: Circuit, name: str) -> bool:
        return name in one.devices and one.devices[name].moving is not None

    return all(
        circuit.positions[name] == other.positions[name]
        and slow(circuit, name) == slow(other, name)
        for name in sight.places
    )


def marking(circuit: Circuit, other: Circuit, further: Iterable[Landmark] = ()) -> Property:
    """A property that is never breached, but brings the other's landmarks into the circuit.

    More landmarks change nothing of what runs show: a step that crosses one is
    two steps then.
    """
    known = circuit.value_starts
    marks = (*(mark for one in (circuit, other) for mark in landmarks(one, None)), *further)
    read = [compare(form, ">=", at) for form, at in marks if all(n in known for n in form.names)]
    return Property("(beside)", "", Never(AllOf((NO, *dict.fromkeys(read)))))


def beside(
    circuit: Circuit, other: Circuit, context: z3.Context, further: Iterable[Landmark] = ()
) -> Beside:
    """Both encoded with the landmarks of both; the system has a monitor that judges nothing.

    further: landmarks besides
    """
    further = tuple(further)
    amounts = not (balanceable(circuit) and balanceable(other))
    system = encode(circuit, marking(circuit, other, further), context, amounts=amounts)
    there = encode(other, marking(other, circuit, further), context, amounts=amounts)
    held = _held(other, system, there)

    def more(theirs: Iterable[Conjunct], ours: Iterable[Conjunct]) -> Terms:
        known = {part.term.get_id() for part in ours}
        asked = (z3.substitute(part.term, *held) if held else part.term for part in bare(theirs))
        return tuple(term for term in asked if term.get_id() not in known)

    return Beside(
        system,
        more(there.start, system.start),
        more(there.switch, system.switch),
        more(there.elapse, system.elapse),
        more((part for part in there.elapse if not _later(part)), system.elapse),
    )


def _later(part: Conjunct) -> bool:
    """Whether a timer runs after the step: one way or the other it always may."""
    return bool(part.defines) and all(key.startswith("running ") for key in part.defines)


def bare(parts: Iterable[Conjunct]) -> Iterator[Conjunct]:
    """Without the monitor's own."""
    return (part for part in parts if BREACHED not in part.defines)


def _held(other: Circuit, system: System, there: System) -> list[tuple[z3.ExprRef, z3.ExprRef]]:
    """What stands for the variables and amounts that only the other circuit has."""
    context, known = system.context, {each.key for each in system.variables}
    values = valuation_of(other, _beginning(other))
    found: list[tuple[z3.ExprRef, z3.ExprRef]] = []
    for each in there.variables:
        if each.key not in known:
            value = values[each.key]
            term = z3.BoolVal(value, context) if isinstance(value, bool) else number(context, value)
            found += [(each.now, term), (each.then, term)]
    inputs = {each.key for each in system.inputs}
    nothing = z3.RealVal(0, context)
    return found + [(each.term, nothing) for each in there.inputs if each.key not in inputs]


def _beginning(circuit: Circuit) -> State:
    """A state as the circuit starts."""
    places = {
        name: control.sealed or control.starts[0] for name, control in circuit.controls.items()
    }
    places |= {name: device.starts[0] for name, device in circuit.devices.items()}
    values = {name: band.low for name, band in circuit.value_starts.items()}
    return State(places, values, timers=dict.fromkeys(circuit.timers, "idle"))


@dataclass(frozen=True, slots=True)
class Until:
    """As far as steps count: until `over`; in the step of which `last` is so, only what is seen."""

    over: Variable
    last: z3.BoolRef


def parting(two: Beside, until: Until | None = None) -> System:
    """The circuit's system, breached by a step that is none of the other's."""
    system = two.system
    key = next(each for each in system.variables if each.key == BREACHED)

    def unlike(terms: Terms) -> z3.BoolRef:
        no = z3.BoolVal(False, system.context)
        return any_of([no, *map(negation, terms)])

    def later(parts: Iterable[Conjunct], parts_ways: z3.BoolRef) -> tuple[Conjunct, ...]:
        counts = parts_ways if until is None else all_of(parts_ways, negation(until.over.now))
        return (*bare(parts), Conjunct(key.then == any_of(key.now, counts), (BREACHED,)))

    elapse = unlike(two.elapse)
    if until is not None:
        elapse = z3.If(until.last, unlike(two.seen), elapse)

    return replace(
        system,
        start=(*bare(system.start), Conjunct(key.now == unlike(two.start), (BREACHED,))),
        switch=later(system.switch, unlike(two.switch)),
        elapse=later(system.elapse, elapse),
    )
