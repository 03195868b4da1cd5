"""Whether two circuits are the same as far as a property can tell."""

from __future__ import annotations

from dataclasses import fields, replace

from airproof.circuit.cone import cone, named
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property

_UNJUDGED = ("name", "title", "signals", "properties", "drawings", "standings")


def same_part(circuit: Circuit, old: Circuit, prop: Property) -> bool:
    """Everything that the property can depend on is the same in both, its sentence included."""
    before = old.properties.get(prop.name)
    if before is None or _asked(before) != _asked(prop):
        return False
    return _alike(_part(circuit, prop), _part(old, before), prop)


def same_at_any_speed(circuit: Circuit, old: Circuit, prop: Property) -> bool:
    """The whole circuits have the same runs at any speed, and the property reads them alike."""
    before = old.properties.get(prop.name)
    if before is None or _asked(before) != _asked(prop):
        return False
    return _alike(_unsized(circuit), _unsized(old), prop)


def _asked(prop: Property) -> tuple[object, ...]:
    return prop.sentence, prop.even_for_an_instant, prop.start


def _part(circuit: Circuit, prop: Property) -> Circuit:
    """The part, cut out also where it is most of the circuit."""
    return cone(circuit, prop, tuple(named(prop.sentence)))


def _alike(one: Circuit, other: Circuit, prop: Property) -> bool:
    alike = all(
        getattr(one, field.name) == getattr(other, field.name)
        for field in fields(one)
        if field.name not in _UNJUDGED
    )
    start = prop.start
    return alike and (start is None or one.standings.get(start) == other.standings.get(start))


def _unsized(circuit: Circuit) -> Circuit:
    """Without chokes, which nothing reads that is judged at any speed."""
    flows = {name: replace(flow, restriction=None) for name, flow in circuit.flows.items()}
    return replace(circuit, flows=flows)
