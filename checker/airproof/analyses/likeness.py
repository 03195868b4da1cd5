"""Whether two circuits are the same as far as a property can tell."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, replace

from airproof.circuit.cone import cone, named
from airproof.circuit.kinds import Circuit, Device, Quantity
from airproof.circuit.properties import KeptRule, Property, SupplyRule
from airproof.circuit.slow import SOME_TIME

_UNJUDGED = ("name", "title", "signals", "properties", "drawings", "standings", "observed")


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


def alike_at_any_speed(one: Circuit, other: Circuit) -> bool:
    """The circuits say the same, but for what no run at any speed depends on.

    Titles, names of rules, who works what, chokes and all times are such, and the
    order of statements.
    """
    return _essence(one) == _essence(other)


def _essence(circuit: Circuit) -> tuple[object, ...]:
    rules = [(x.control, x.rule, x.position, x.condition) for x in circuit.interlocks.values()]
    for assumption in circuit.assumptions.values():
        kept = assumption.rule
        if isinstance(kept, KeptRule):
            rules.append((kept.control, kept.rule, kept.position, kept.condition))
    granted = {part for rule in _granted(circuit) for part in rule.comparisons}
    return (
        {n: replace(x, rise=None, fall=None) for n, x in circuit.supplies.items()},
        {n: replace(x, kind="") for n, x in circuit.volumes.items()},
        {n: replace(x, dwell=None, worked_by=None) for n, x in circuit.controls.items()},
        {n: replace(x, worked_by=None) for n, x in circuit.range_controls.items()},
        {n: _device(x) for n, x in circuit.devices.items()},
        {n: x.runs for n, x in circuit.timers.items()},
        {n: replace(x, restriction=None) for n, x in circuit.flows.items()},
        {n: _quantity(x) for n, x in circuit.quantities.items()},
        frozenset(rules),
        granted,
    )


def _granted(circuit: Circuit) -> Iterator[SupplyRule]:
    rules = (assumption.rule for assumption in circuit.assumptions.values())
    return (rule for rule in rules if isinstance(rule, SupplyRule))


def _device(device: Device) -> Device:
    moving = None if device.moving is None else SOME_TIME
    moves = tuple(sorted(set(device.moves), key=repr))
    return replace(device, kind="", moving=moving, moves=moves)


def _quantity(quantity: Quantity) -> object:
    """Which way each change may lead counts, not how quickly."""
    changes = {(x.speed.high > 0, x.speed.low < 0, x.condition) for x in quantity.changes}
    return quantity.starts, frozenset(changes)
