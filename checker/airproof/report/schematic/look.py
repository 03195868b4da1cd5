"""How a circuit stands: positions, pressures, which ways are open, where air moves.

Where a value is known only to lie in a band (before a run has begun), a
condition is judged for the whole band: it may be so, or it must be so.
"""

from __future__ import annotations

from collections.abc import Mapping, Set
from dataclasses import dataclass, replace
from fractions import Fraction

from airproof.circuit.conditions import (
    AllOf,
    AnyOf,
    At,
    Compare,
    Condition,
    Flowing,
    Form,
    Not,
)
from airproof.circuit.kinds import ATMOSPHERE, Band, Circuit, Device, Flow
from airproof.circuit.readings import edges, told
from airproof.circuit.state import State, TimerState

Truths = tuple[bool, bool]  # (may be so, must be so)

NOTHING = Fraction(0)
ZERO = Band(NOTHING, NOTHING)
ROUNDS = 4  # of devices that read one another before a run begins


@dataclass(frozen=True, slots=True)
class Look:
    """What a picture shows of one moment.

    open:    each flow, whether its condition may and must hold
    moving:  +1 where air moves from source to target, -1 back, 0 not
    amounts: [bar litre] moved by each flow in a step, where one is shown
    """

    positions: Mapping[str, str]
    leaving: Mapping[str, str]
    values: Mapping[str, Band]
    timers: Mapping[str, TimerState]
    open: Mapping[str, Truths]
    moving: Mapping[str, int]
    amounts: Mapping[str, Fraction]
    reader: Reader

    def so(self, condition: Condition) -> Truths:
        """Whether a condition may be so, and whether it must, as a flow reads it."""
        return self.reader.in_flow(condition)

    def stands(self, name: str) -> str | None:
        """Where a control or device stands; None on the way."""
        return None if name in self.leaving else self.positions[name]


def look_at(
    circuit: Circuit,
    state: State,
    amounts: Mapping[str, Fraction] | None = None,
    moving: Mapping[str, int] | None = None,
) -> Look:
    """The look of a state; with the amounts of a step, or what else moved in it, of that."""
    values = {name: Band(value, value) for name, value in state.values.items()}
    reader = Reader(circuit, state.positions, values, state.leaving, state.timers, state.fresh)
    look = _look(circuit, reader, amounts)
    if moving is None:
        return look
    return replace(look, moving={name: moving.get(name, 0) for name in circuit.flows})


def look_at_start(circuit: Circuit, standing: str | None = None) -> Look:
    """The look of the circuit as it starts, or of one of its standing states."""
    pins = circuit.standings[standing] if standing is not None else None
    values = dict(circuit.value_starts)
    pinned = pins.values if pins else {}
    values |= {name: Band(value, value) for name, value in pinned.items()}
    positions = {name: thing.starts[0] for name, thing in circuit.devices.items()}
    positions |= {
        name: control.sealed or control.starts[0] for name, control in circuit.controls.items()
    }
    placed = pins.positions if pins else {}
    positions |= placed
    timers: dict[str, TimerState] = dict.fromkeys(circuit.timers, "idle")
    for _ in range(ROUNDS):
        reader = Reader(circuit, positions, values, {}, timers, frozenset())
        for device in circuit.devices.values():
            if device.name not in placed and device.starts_called:
                positions[device.name] = reader.called(device)
    return _look(circuit, reader, None)


def _look(circuit: Circuit, reader: Reader, amounts: Mapping[str, Fraction] | None) -> Look:
    flows = circuit.flows.values()
    return Look(
        reader.positions,
        reader.leaving,
        reader.values,
        reader.timers,
        {flow.name: reader.in_flow(flow.condition) for flow in flows},
        {flow.name: _moving(reader, flow, amounts) for flow in flows},
        amounts or {},
        reader,
    )


def _moving(reader: Reader, flow: Flow, amounts: Mapping[str, Fraction] | None) -> int:
    if amounts is not None:
        amount = amounts.get(flow.name, NOTHING)
        return (amount > 0) - (amount < 0)
    if not reader.in_flow(flow.condition)[1]:
        return 0
    gap = reader.gap(flow)
    if gap.low > (flow.opening if flow.one_way else 0):
        return 1
    return -1 if gap.high < 0 and not flow.one_way else 0


@dataclass(frozen=True, slots=True)
class Reader:
    """Reads conditions where values lie in bands."""

    circuit: Circuit
    positions: Mapping[str, str]
    values: Mapping[str, Band]
    leaving: Mapping[str, str]
    timers: Mapping[str, TimerState]
    fresh: Set[str]

    def called(self, device: Device) -> str:
        """Where a device starts that starts where it is called to."""
        here = self.positions[device.name]
        for move in device.moves:
            if move.to != here and move.to in device.starts and self.truths(move.when)[1]:
                return move.to
        return here

    def in_flow(self, tree: Condition) -> Truths:
        """As a flow reads it: a device on the way counts as it is stated to."""
        return self.truths(tree, passing=True)

    def truths(self, tree: Condition, *, passing: bool = False) -> Truths:
        """Whether the condition may be so, and whether it must."""
        match tree:
            case Not(part):
                may, must = self.truths(part, passing=passing)
                return not must, not may
            case AllOf(parts) | AnyOf(parts):
                both = [self.truths(part, passing=passing) for part in parts]
                join = all if isinstance(tree, AllOf) else any
                return join(may for may, _ in both), join(must for _, must in both)
            case Compare():
                return self._compared(tree)
            case Flowing(flow):
                return self._flowing(self.circuit.flows[flow])
            case At(name, position) if passing and name in self.leaving:
                return self._on_the_way(name, position)
        return (told(self, tree),) * 2

    def _on_the_way(self, name: str, position: str) -> Truths:
        if position not in (self.positions[name], self.leaving[name]):
            return False, False
        passing = {"any": (True, False), "closed": (False, False), "joined": (True, True)}
        return passing[self.circuit.devices[name].on_the_way]

    def _compared(self, leaf: Compare) -> Truths:
        band = self._sum(leaf.form)
        near, far = edges(leaf)
        if leaf.order in (">=", ">"):
            return band.high >= near, band.low > far
        return band.low <= near, band.high < far

    def _sum(self, form: Form) -> Band:
        low = high = NOTHING
        for name, weight in form.terms:
            ends = sorted((self.values[name].low * weight, self.values[name].high * weight))
            low, high = low + ends[0], high + ends[1]
        return Band(low, high)

    def _flowing(self, flow: Flow) -> Truths:
        may, must = self.in_flow(flow.condition)
        gap = self.gap(flow)
        if flow.one_way:
            return may and gap.high >= flow.opening, must and gap.low > flow.opening
        return may, must and (gap.low > 0 or gap.high < 0)

    def gap(self, flow: Flow) -> Band:
        """Source less target [bar]."""
        source, target = self._pressure(flow.source), self._pressure(flow.target)
        return Band(source.low - target.high, source.high - target.low)

    def _pressure(self, place: str) -> Band:
        return ZERO if place == ATMOSPHERE else self.values[place]
