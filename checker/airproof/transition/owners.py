"""Which rules make a landmark: what is let go takes its landmarks with it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping

from airproof.circuit.conditions import AllOf, AnyOf, Compare, Condition, Not, compare
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import KeptRule
from airproof.transition.landmarks import Landmark
from airproof.transition.origins import Origin, Rule
from airproof.transition.readings import drop, far_edge, near_edge

_OF_DEVICE: tuple[Rule, ...] = ("enters", "due")
_OF_TIMER: tuple[Rule, ...] = ("runs", "must run", "reset", "due")
_OF_QUANTITY: tuple[Rule, ...] = ("rises", "falls")
_OF_INTERLOCK: tuple[Rule, ...] = ("needs", "forces", "due")


def owners(circuit: Circuit) -> Mapping[Landmark, tuple[Origin, ...]]:
    """The origins whose reading makes each landmark of the circuit; a property's are not there."""
    found: dict[Landmark, dict[Origin, None]] = defaultdict(dict)
    for origin, condition in _read(circuit):
        for path, leaf in compared(condition):
            for edge in (near_edge(leaf), far_edge(leaf)):
                found[leaf.form, edge][origin.leaf(path)] = None
    for flow in circuit.flows.values():
        level = compare(drop(flow), ">=", flow.opening)
        rule: Rule = "opening" if flow.opening else "downhill"
        found[level.form, level.constant][Origin("flow", flow.name, rule)] = None
    return {mark: tuple(origins) for mark, origins in found.items()}


def compared(
    condition: Condition, path: tuple[int, ...] = ()
) -> Iterator[tuple[tuple[int, ...], Compare]]:
    """Every comparison of a condition, with the indices that lead to it."""
    if isinstance(condition, Compare):
        yield path, condition
    elif isinstance(condition, Not):
        yield from compared(condition.part, path)
    elif isinstance(condition, AllOf | AnyOf):
        for index, part in enumerate(condition.parts):
            yield from compared(part, (*path, index))


def _read(circuit: Circuit) -> Iterator[tuple[Origin, Condition]]:
    for device in circuit.devices.values():
        for index, move in enumerate(device.moves):
            for rule in _OF_DEVICE:
                yield Origin("device", device.name, rule, move.to, index), move.when
    for timer in circuit.timers.values():
        for rule in _OF_TIMER:
            yield Origin("timer", timer.name, rule), timer.runs
    for flow in circuit.flows.values():
        yield Origin("flow", flow.name, "condition"), flow.condition
    for quantity in circuit.quantities.values():
        for index, change in enumerate(quantity.changes):
            for rule in _OF_QUANTITY:
                yield Origin("quantity", quantity.name, rule, index=index), change.condition
    for lock in circuit.interlocks.values():
        for rule in _OF_INTERLOCK:
            yield Origin("interlock", lock.name, rule), lock.condition
    for name, assumption in circuit.assumptions.items():
        if isinstance(assumption.rule, KeptRule):
            yield Origin("assumption", name, "needs"), assumption.rule.condition
