"""A sheet in the making, and the symbols of one flow: shared by all who put blocks on it."""

from __future__ import annotations

from airproof.circuit.conditions import At, Compare, Condition, Expired
from airproof.circuit.kinds import ATMOSPHERE, Circuit, Flow
from airproof.report import words
from airproof.report.figures import plain
from airproof.report.schematic import engines, labels, metrics
from airproof.report.schematic.blocks import Block, Run
from airproof.report.schematic.cells import (
    Cell,
    CheckCell,
    ChokeCell,
    CockCell,
    GateCell,
    Named,
    Pilot,
    SpringValveCell,
    VentCell,
)
from airproof.report.schematic.gates import DeviceGate, Gate, OtherGate, PressureGate, gates_of
from airproof.report.schematic.order import ranks
from airproof.report.schematic.sheet import End, Link

LEFT, RIGHT = 0, 1  # the ports of a place


class Making:
    """Blocks and lines so far.

    left:    flows that no block stands for yet
    homes:   devices whose pilots are drawn; elsewhere only their squares are
    spelled: conditions without a symbol of their own
    """

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.ranks = ranks(circuit)
        self.gates = {name: gates_of(circuit, flow) for name, flow in circuit.flows.items()}
        self.blocks: dict[str, Block] = {}
        self.links: list[Link] = []
        self.left = dict(circuit.flows)
        self.homes: set[str] = set()
        self.spelled: list[tuple[str, str, Condition]] = []

    def join(
        self,
        place: str,
        block: str,
        port: int,
        flows: tuple[tuple[str, int], ...],
        *,
        into: bool,
    ) -> None:
        """A line from a place's right to a block's left, or from a block to a place."""
        if into:
            self.links.append(Link(End(f"place:{place}", RIGHT), End(block, port), flows))
        else:
            self.links.append(Link(End(block, port), End(f"place:{place}", LEFT), flows))

    # ---- valves with several ports

    def add_run(self, flow: Flow, cells: list[Cell], way: int, block: str) -> None:
        """A row of symbols from left to right, with the open air at its end if it goes there."""
        rest = rest_of(flow, way)
        if rest and cells:  # its name stands over its own check valve and choke
            rest = [Named(flow.name, tuple(reversed(rest) if way < 0 else rest))]
            heading = ""
        else:
            heading = flow.name
        cells = [*cells, *rest]
        if way < 0:
            cells.reverse()
        near, far = (flow.source, flow.target) if way > 0 else (flow.target, flow.source)
        if near == ATMOSPHERE:
            cells.insert(0, VentCell(-1))
        if far == ATMOSPHERE:
            cells.append(VentCell(1))
        drawing = self.circuit.drawings.get(flow.name, "")
        ends = (near != ATMOSPHERE, far != ATMOSPHERE)
        made = Run(flow.name, heading, tuple(cells), way, *ends, drawing)
        self.blocks[block] = made

    def way(self, source: str, target: str) -> int:
        """+1 if the source stands further left than the target."""
        if ATMOSPHERE in (source, target):
            return 1 if target == ATMOSPHERE else -1
        return 1 if self.ranks[source] < self.ranks[target] else -1

    def gate_cell(self, flow: Flow, gate: Gate, way: int) -> Cell:
        """The symbol of one gate of a flow."""
        both = way if flow.one_way else 0
        match gate:
            case DeviceGate():
                return self._device_cell(flow, gate, both)
            case PressureGate(reading, reducing):
                below = labels.pilot(reading, self.circuit)
                return SpringValveCell(below, reducing, way, reading)
            case OtherGate():
                return self._other_cell(flow, gate, both)

    def _other_cell(self, flow: Flow, gate: OtherGate, both: int) -> Cell:
        """A condition that no single device stands for; the panel spells it out."""
        said = words.condition(gate.condition, words.units(self.circuit))
        below: tuple[str, ...]
        if isinstance(gate.condition, Expired):
            name, below = gate.condition.timer, ("if expired",)
        elif gate.signal:
            name, below = gate.signal, ("if so",)
            self.spelled.append((name, "signal", gate.condition))
        else:
            name, below = "while", metrics.wrapped(said, metrics.SMALL, labels.NARROW, lines=3)
            self.spelled.append((flow.name, "flow", gate.condition))
        return GateCell(
            name=name,
            below=below,
            device=None,
            passes=(),
            positions=(),
            condition=gate.condition,
            first=True,
            top=engines.other(self.circuit, gate.condition),
            bottom=engines.NONE,
            way=both,
            title=f"{flow.name} while {said}",
        )

    def _device_cell(self, flow: Flow, gate: DeviceGate, both: int) -> Cell:
        name, positions = gate.device, self.circuit.positions[gate.device]
        if flow.name == f"{name}.flow" and name in self.circuit.controls:
            return CockCell(name, gate.passes, positions)
        device = self.circuit.devices.get(name)
        if device is not None and device.kind == "relief valve" and flow.name == f"{name}.flow":
            return self._relief_cell(flow, gate)
        first = positions[0] in gate.passes
        upper = [each for each in positions if (each in gate.passes) == first]
        top, bottom = engines.pair(self.circuit, name, upper)
        if name in self.homes:
            top, bottom = Pilot(top.engine), Pilot(bottom.engine)
        self.homes.add(name)
        below = (f"if {' or '.join(gate.passes)}" if gate.passes else "never",)
        title = f"{name}: {', '.join(positions)}"
        return GateCell(
            name, below, name, gate.passes, positions, None, first, top, bottom, both, title
        )

    def _relief_cell(self, flow: Flow, gate: DeviceGate) -> Cell:
        device = self.circuit.devices[gate.device]
        self.homes.add(gate.device)
        below = tuple(
            f"{'opens' if move.to in gate.passes else 'shuts'} at "
            f"{labels.comparison(move.when, self.circuit).removeprefix(flow.source).lstrip()}"
            for move in device.moves
            if isinstance(move.when, Compare)
        )
        way = self.way(flow.source, flow.target)
        return SpringValveCell(below, False, way, At(device.name, gate.passes[0]))


def rest_of(flow: Flow, way: int) -> list[Cell]:
    """The check valve and the restriction of a flow, in the order in which air meets them."""
    cells: list[Cell] = []
    if flow.one_way:
        opening = f"opens at {plain(flow.opening)} bar" if flow.opening else ""
        cells.append(CheckCell(way, opening))
    size = labels.restriction(flow.restriction)
    if size:
        cells.append(ChokeCell(size))
    return cells
