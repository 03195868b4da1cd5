"""A circuit in the making, and what every reader of a statement has at hand."""

from __future__ import annotations

from dataclasses import dataclass, field

from airproof.base.source import Span
from airproof.circuit.conditions import YES, Condition
from airproof.circuit.kinds import (
    ATMOSPHERE,
    Circuit,
    Control,
    Device,
    Flow,
    Interlock,
    Quantity,
    RangeControl,
    Standing,
    Supply,
    Timer,
    Volume,
)
from airproof.circuit.properties import Assumption, Property
from airproof.language import syntax
from airproof.language.bands import BandReader
from airproof.language.conditions import ConditionReader, Signals
from airproof.language.names import Problems, Scope, Table


@dataclass(frozen=True, slots=True)
class Draft:
    """What the statements have built so far.

    spans:  where each part of the circuit is written, expansions included
    broken: things with a problem of their own; later checks pass over them
    """

    supplies: dict[str, Supply] = field(default_factory=dict)
    volumes: dict[str, Volume] = field(default_factory=dict)
    controls: dict[str, Control] = field(default_factory=dict)
    range_controls: dict[str, RangeControl] = field(default_factory=dict)
    devices: dict[str, Device] = field(default_factory=dict)
    timers: dict[str, Timer] = field(default_factory=dict)
    flows: dict[str, Flow] = field(default_factory=dict)
    quantities: dict[str, Quantity] = field(default_factory=dict)
    interlocks: dict[str, Interlock] = field(default_factory=dict)
    signals: dict[str, Condition] = field(default_factory=dict)
    properties: dict[str, Property] = field(default_factory=dict)
    assumptions: dict[str, Assumption] = field(default_factory=dict)
    standings: dict[str, Standing] = field(default_factory=dict)
    drawings: dict[str, str] = field(default_factory=dict)
    observed: dict[str, None] = field(default_factory=dict)
    spans: dict[str, Span] = field(default_factory=dict)
    latched: set[str] = field(default_factory=set)
    broken: set[str] = field(default_factory=set)

    def circuit(self, name: str, title: str) -> Circuit:
        """The finished circuit."""
        return Circuit(
            name,
            title,
            self.supplies,
            self.volumes,
            self.controls,
            self.range_controls,
            self.devices,
            self.timers,
            self.flows,
            self.quantities,
            self.interlocks,
            self.signals,
            self.properties,
            self.assumptions,
            self.standings,
            self.drawings,
            tuple(self.observed),
        )


@dataclass(frozen=True, slots=True)
class Here:
    """What is at hand while one statement is read."""

    scope: Scope
    table: Table
    signals: Signals
    problems: Problems
    draft: Draft

    def name(self, name: syntax.Name) -> str:
        return self.scope.full(name.text)

    def bands(self, name: syntax.Name) -> BandReader:
        return BandReader(self.problems, name.text)

    def condition(self, node: syntax.Condition | None, *, exact: bool = False) -> Condition:
        """The condition; none written means always."""
        if node is None:
            return YES
        return self.conditions(exact=exact).read(node)

    def conditions(self, *, exact: bool = False) -> ConditionReader:
        return ConditionReader(self.table, self.signals, self.scope, self.problems, exact)

    def place(self, name: syntax.Name) -> str | None:
        """A supply, a volume or the atmosphere by its full name."""
        if self.scope.full(name.text) == ATMOSPHERE:
            return ATMOSPHERE
        entry = self.table.find(name, self.scope, "place")
        return entry.name if entry else None
