"""What the second account looks up again and again, laid out once per circuit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from airproof.circuit.kinds import Circuit, Flow, Interlock
from airproof.circuit.properties import KeptRule, SupplyRule


@dataclass(frozen=True, slots=True)
class Way:
    """One direction in which a flow may carry air."""

    flow: Flow
    backwards: bool


@dataclass(frozen=True, slots=True)
class Tables:
    """The circuit, and by name what bears on what.

    placed: controls and devices        valued: everything with a number
    exact:  supplies and range controls, which never rest at an edge
    rules:  interlocks and kept rules of each control, each with its name
    ways_in, ways_out: the ways that end or begin at each volume
    """

    circuit: Circuit
    placed: frozenset[str]
    valued: frozenset[str]
    exact: frozenset[str]
    rules: Mapping[str, tuple[tuple[str, Interlock | KeptRule], ...]]
    supply_rules: Mapping[str, SupplyRule]
    ways_in: Mapping[str, tuple[Way, ...]]
    ways_out: Mapping[str, tuple[Way, ...]]


def tables_of(circuit: Circuit) -> Tables:
    """The tables of this circuit."""
    exact = frozenset([*circuit.supplies, *circuit.range_controls])
    ways = [way for flow in circuit.flows.values() for way in _ways(flow)]
    return Tables(
        circuit=circuit,
        placed=frozenset([*circuit.controls, *circuit.devices]),
        valued=exact | frozenset([*circuit.volumes, *circuit.quantities]),
        exact=exact,
        rules={control: _rules(circuit, control) for control in circuit.controls},
        supply_rules={
            name: assumption.rule
            for name, assumption in circuit.assumptions.items()
            if isinstance(assumption.rule, SupplyRule)
        },
        ways_in={v: tuple(w for w in ways if downstream(w) == v) for v in circuit.volumes},
        ways_out={v: tuple(w for w in ways if upstream(w) == v) for v in circuit.volumes},
    )


def upstream(way: Way) -> str:
    """Where the air of this way comes from."""
    return way.flow.target if way.backwards else way.flow.source


def downstream(way: Way) -> str:
    """Where the air of this way goes to."""
    return way.flow.source if way.backwards else way.flow.target


def _ways(flow: Flow) -> list[Way]:
    return [Way(flow, False)] if flow.one_way else [Way(flow, False), Way(flow, True)]


def _rules(circuit: Circuit, control: str) -> tuple[tuple[str, Interlock | KeptRule], ...]:
    kept = (
        (name, assumption.rule)
        for name, assumption in circuit.assumptions.items()
        if isinstance(assumption.rule, KeptRule)
    )
    rules: list[tuple[str, Interlock | KeptRule]] = [*circuit.interlocks.items(), *kept]
    return tuple((name, rule) for name, rule in rules if rule.control == control)
