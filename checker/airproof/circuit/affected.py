"""What of two circuits a difference between them can bear on."""

from __future__ import annotations

from collections.abc import Iterator

from airproof.circuit.conditions import Condition
from airproof.circuit.cone import names_in
from airproof.circuit.kinds import ATMOSPHERE, Circuit, Interlock
from airproof.circuit.properties import KeptRule

KINDS = (
    "supplies",
    "volumes",
    "controls",
    "range_controls",
    "devices",
    "timers",
    "flows",
    "quantities",
)


def affected(one: Circuit, other: Circuit) -> frozenset[str]:
    """The names whose statements or rules differ, and all that reads them at any remove."""
    found = {*_differing(one, other)}
    every = [*readers(one), *readers(other)]
    while True:
        more = {name for name, read in every if name not in found and not found.isdisjoint(read)}
        if not more:
            return frozenset(found)
        found |= more


def concerned(one: Circuit, other: Circuit) -> frozenset[str]:
    """What the difference can bear on, and what the differing statements themselves read."""
    differing = {*_differing(one, other)}
    read = {
        name
        for who, names in (*readers(one), *readers(other))
        if who in differing
        for name in names
    }
    supplies = {*one.supplies, *other.supplies}  # whose course nothing decides
    return affected(one, other) | (read - supplies)


def _differing(one: Circuit, other: Circuit) -> Iterator[str]:
    for kind in KINDS:
        ours, theirs = getattr(one, kind), getattr(other, kind)
        for name in {*ours, *theirs}:
            if ours.get(name) != theirs.get(name):
                yield name
    rules = [{(c, r) for c, r in rules_on(circuit)} for circuit in (one, other)]
    yield from (control for control, _ in rules[0] ^ rules[1])


def rules_on(circuit: Circuit) -> Iterator[tuple[str, tuple[str, str, Condition]]]:
    """What binds each control."""
    for rule in rules_of(circuit):
        yield rule.control, (rule.rule, rule.position, rule.condition)


def rules_of(circuit: Circuit) -> Iterator[Interlock | KeptRule]:
    """Every rule on a control, of an interlock or taken for granted."""
    yield from circuit.interlocks.values()
    for assumption in circuit.assumptions.values():
        if isinstance(assumption.rule, KeptRule):
            yield assumption.rule


def readers(circuit: Circuit) -> Iterator[tuple[str, set[str]]]:
    """Each thing with what decides how it moves or changes."""
    for device in circuit.devices.values():
        yield device.name, {*names_in(move.when for move in device.moves)}
    for timer in circuit.timers.values():
        yield timer.name, {*names_in((timer.runs,))}
    for quantity in circuit.quantities.values():
        yield quantity.name, {*names_in(change.condition for change in quantity.changes)}
    for control, (_, _, condition) in rules_on(circuit):
        yield control, {*names_in((condition,))}
    for flow in circuit.flows.values():
        ends = {flow.source, flow.target} - {ATMOSPHERE}
        yield flow.name, {*names_in((flow.condition,)), *ends}
        yield from ((end, {flow.name, *ends}) for end in ends if end in circuit.volumes)
