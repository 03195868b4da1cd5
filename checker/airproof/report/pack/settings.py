"""Settings and limits: the values that a pressure or quantity is read against, and by what."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from airproof.circuit.conditions import Compare, Condition, leaves
from airproof.circuit.kinds import Circuit
from airproof.circuit.landmarks import conditions_of
from airproof.circuit.properties import Property, SupplyRule


@dataclass(frozen=True, slots=True)
class Setting:
    """A value with its tolerance [bar, or the quantity's unit], and what reads it."""

    value: Fraction
    tolerance: Fraction
    label: str

    @property
    def edges(self) -> tuple[Fraction, Fraction]:
        return self.value - self.tolerance, self.value + self.tolerance


Settings = Mapping[str, tuple[Setting, ...]]


def settings_of(circuit: Circuit, asked: Property | None) -> Settings:
    """By name, from the lowest up; what reads the same value is one setting."""
    found: dict[str, dict[tuple[Fraction, Fraction], list[str]]] = {}
    for label, tree in _read(circuit, asked):
        for leaf in leaves(tree):
            if isinstance(leaf, Compare) and len(leaf.form.terms) == 1:
                ((name, weight),) = leaf.form.terms
                key = (leaf.constant / weight, leaf.tolerance / abs(weight))
                found.setdefault(name, {}).setdefault(key, []).append(label)
    return {
        name: tuple(
            Setting(value, tolerance, ", ".join(dict.fromkeys(labels)))
            for (value, tolerance), labels in sorted(values.items())
        )
        for name, values in found.items()
    }


def edges_of(settings: Settings, name: str) -> tuple[Fraction, ...]:
    """Where a setting of that name begins or ends, from the lowest up."""
    return tuple(sorted({edge for one in settings.get(name, ()) for edge in one.edges}))


def _read(circuit: Circuit, asked: Property | None) -> Iterator[tuple[str, Condition]]:
    """Every condition of the circuit and of the property, with what reads it."""
    for tree in conditions_of(asked.sentence) if asked else ():
        yield "the property", tree
    for device in circuit.devices.values():
        yield from ((f"{device.name} to {move.to}", move.when) for move in device.moves)
    yield from ((timer.name, timer.runs) for timer in circuit.timers.values())
    yield from ((flow.name, flow.condition) for flow in circuit.flows.values())
    yield from ((lock.name, lock.condition) for lock in circuit.interlocks.values())
    for quantity in circuit.quantities.values():
        yield from ((quantity.name, change.condition) for change in quantity.changes)
    for assumption in circuit.assumptions.values():
        rule = assumption.rule
        trees = rule.comparisons if isinstance(rule, SupplyRule) else (rule.condition,)
        yield from ((assumption.name, tree) for tree in trees)
