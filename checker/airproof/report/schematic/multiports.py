"""Flows that one device switches at one place, drawn as one valve with several ports."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from airproof.circuit.kinds import ATMOSPHERE, Flow
from airproof.report.figures import plain
from airproof.report.schematic import engines, labels
from airproof.report.schematic.blocks import Side
from airproof.report.schematic.cells import Pilot, VentCell
from airproof.report.schematic.gates import DeviceGate, Gate
from airproof.report.schematic.making import Making, rest_of
from airproof.report.schematic.sheet import End, Link
from airproof.report.schematic.valves import Outlet, Valve, Way


def switch(making: Making) -> None:
    """Adds the valves with several ports, and strikes their flows off."""
    for device, flows in _groups(making):
        _Maker(making, device, flows).add()
        for flow in flows:
            del making.left[flow.name]
        making.homes.add(device)


def _groups(making: Making) -> Iterator[tuple[str, list[Flow]]]:
    """Devices and the flows that each switches at places they share, most flows first."""
    by_device: dict[str, list[Flow]] = defaultdict(list)
    for flow in making.left.values():
        gates = [gate for gate in making.gates[flow.name] if isinstance(gate, DeviceGate)]
        for device in dict.fromkeys(gate.device for gate in gates):
            by_device[device].append(flow)
    ordered = sorted(by_device.items(), key=_urgency)
    for device, flows in ordered:
        free = [flow for flow in flows if flow.name in making.left]
        pure = [flow for flow in free if len(making.gates[flow.name]) == 1]
        for group in [*_connected(pure), *_connected(free)]:
            fitting = _fitting(making, device, [f for f in group if f.name in making.left])
            if len(fitting) > 1 and _differ(making, device, fitting):
                yield device, fitting


def _fitting(making: Making, device: str, flows: list[Flow]) -> list[Flow]:
    """Without flows that ask for more and share both of their ends."""
    fitting = list(flows)
    for flow in flows:
        shared = _shared(fitting)
        more = len(making.gates[flow.name]) > 1
        if more and flow.source in shared and flow.target in shared:
            fitting.remove(flow)
    groups = _connected(fitting)
    return max(groups, key=len, default=[])


def _differ(making: Making, device: str, flows: Sequence[Flow]) -> bool:
    return len({_passes(making, device, flow) for flow in flows}) > 1


def _passes(making: Making, device: str, flow: Flow) -> tuple[str, ...]:
    found = [g for g in making.gates[flow.name] if isinstance(g, DeviceGate)]
    sets = [set(gate.passes) for gate in found if gate.device == device]
    every = making.circuit.positions[device]
    return tuple(each for each in every if all(each in one for one in sets))


class _Maker:
    """One valve with several ports, and the rows of symbols that stand before its ports."""

    def __init__(self, making: Making, device: str, flows: list[Flow]) -> None:
        self.of, self.device, self.flows = making, device, flows
        self.block = f"valve:{device}:{flows[0].name}"
        self.shared = _shared(flows)
        self.outlets: list[Outlet] = []
        self.places: list[tuple[str, Flow | None]] = []
        self.spots: dict[tuple[str, str], int] = {}
        self.notes: list[str] = []

    def add(self) -> None:
        circuit, positions = self.of.circuit, self.of.circuit.positions[self.device]
        left = self._left_places()
        for place in sorted(self.shared, key=self.of.ranks.__getitem__):
            self._shared_outlet(place, "left" if place in left else "right")
        for flow in self.flows:
            self._own_outlet(flow, left)
        top, bottom = engines.pair(circuit, self.device, positions[:1])
        if len(positions) > 2:
            last = engines.pair(circuit, self.device, positions[-1:])[0]
            bottom = last if self.device in circuit.devices else bottom
        if self.device in self.of.homes:
            top, bottom = Pilot(top.engine), Pilot(bottom.engine)
        ways = tuple(self._way(flow) for flow in self.flows)
        drawing = circuit.drawings.get(self.device)
        notes = (*self.notes, *((drawing,) if drawing else ()))
        outlets = tuple(self.outlets)
        self.of.blocks[self.block] = Valve(
            self.device, self.device, positions, positions[0], outlets, ways, top, bottom, notes
        )
        self._lines()

    def _left_places(self) -> set[str]:
        """The places that only give air and come first; at least one stays on the right."""
        ends = {end for flow in self.flows for end in (flow.source, flow.target)} - {ATMOSPHERE}
        order = sorted(ends, key=self.of.ranks.__getitem__)
        taking = {flow.target for flow in self.flows}
        vented = any(ATMOSPHERE in (flow.source, flow.target) for flow in self.flows)
        left: list[str] = []
        for place in order if vented and len(order) == 1 else order[:-1]:
            if place in taking and left:
                break
            left.append(place)
        return set(left)

    def _shared_outlet(self, place: str, side: Side) -> None:
        mine = [flow for flow in self.flows if place in (flow.source, flow.target)]
        flows = tuple((flow.name, _sign(flow, place, side)) for flow in mine)
        for flow in mine:
            self.spots[flow.name, place] = len(self.outlets)
        self._add(Outlet(side, (), flows, False), place, None)

    def _add(self, outlet: Outlet, place: str, flow: Flow | None) -> None:
        self.outlets.append(outlet)
        self.places.append((place, flow))

    def _own_outlet(self, flow: Flow, left: set[str]) -> None:
        """The end of a flow that no other flow of the valve uses, with the flow's symbols."""
        own = [end for end in (flow.source, flow.target) if end not in self.shared]
        if not own:
            self.notes.append(_note(flow))
            return
        side: Side = "left" if own[0] in left else "right"
        self.spots[flow.name, own[0]] = len(self.outlets)
        sign = _sign(flow, own[0], side)
        if all(self._mine(gate) for gate in self.of.gates[flow.name]):
            self._add(_outlet(flow, side, sign, own[0] == ATMOSPHERE), own[0], None)
        else:
            self._add(Outlet(side, (), ((flow.name, sign),), False), own[0], flow)

    def _mine(self, gate: Gate) -> bool:
        return isinstance(gate, DeviceGate) and gate.device == self.device

    def _way(self, flow: Flow) -> Way:
        start, end = (self.spots[flow.name, each] for each in (flow.source, flow.target))
        return Way(flow.name, start, end, _passes(self.of, self.device, flow), flow.one_way)

    def _lines(self) -> None:
        for port, (outlet, (place, flow)) in enumerate(zip(self.outlets, self.places, strict=True)):
            into = outlet.side == "left"
            if flow is not None:
                self._row(flow, port, outlet, place)
            elif not outlet.vent:
                self.of.join(place, self.block, port, outlet.flows, into=into)

    def _row(self, flow: Flow, port: int, outlet: Outlet, place: str) -> None:
        """A row of symbols between a port and the place where its flow ends."""
        sign, block = outlet.flows[0][1], f"flow:{flow.name}"
        more = [gate for gate in self.of.gates[flow.name] if not self._mine(gate)]
        cells = [self.of.gate_cell(flow, gate, sign) for gate in more]
        self.of.add_run(flow, cells, sign, block)
        if outlet.side == "left":
            self.of.links.append(Link(End(block, 1), End(self.block, port), outlet.flows))
            self.of.join(place, block, 0, outlet.flows, into=True)
            return
        self.of.links.append(Link(End(self.block, port), End(block, 0), outlet.flows))
        if place != ATMOSPHERE:
            self.of.join(place, block, 1, outlet.flows, into=False)


def _outlet(flow: Flow, side: Side, sign: int, vent: bool) -> Outlet:
    """An outlet with the check valve and the choke of its flow."""
    cells = rest_of(flow, sign)
    if sign < 0:
        cells.reverse()
    if vent:
        cells.append(VentCell(1))
    return Outlet(side, tuple(cells), ((flow.name, sign),), vent, flow.name)


def _note(flow: Flow) -> str:
    """What stands under the valve of a flow that has no port of its own."""
    words = [" ".join(labels.restriction(flow.restriction)), "one way" if flow.one_way else ""]
    if flow.opening:
        words.append(f"opens at {plain(flow.opening)} bar")
    said = ", ".join(word for word in words if word)
    return f"{flow.name}: {said}" if said else flow.name


def _urgency(pair: tuple[str, list[Flow]]) -> tuple[bool, int]:
    """Devices with flows of their own fitted part first, then those with most flows."""
    device, flows = pair
    part = device.rpartition(".")[0]
    return any(flow.name.rpartition(".")[0] != part for flow in flows), -len(flows)


def _sign(flow: Flow, place: str, side: str) -> int:
    """+1 if the flow's air goes to the right at its end in this place."""
    out_of_place = flow.source == place
    return 1 if out_of_place == (side == "left") else -1


def _shared(flows: Sequence[Flow]) -> set[str]:
    ends = [end for flow in flows for end in (flow.source, flow.target)]
    return {end for end in ends if ends.count(end) > 1 and end != ATMOSPHERE}


def _connected(flows: Sequence[Flow]) -> list[list[Flow]]:
    """Flows in groups that hang together by the places of their ends."""
    groups: list[list[Flow]] = []
    for flow in flows:
        ends = {flow.source, flow.target} - {ATMOSPHERE}
        near = [g for g in groups if any(ends & {f.source, f.target} for f in g)]
        groups = [g for g in groups if g not in near]
        groups.append([*(f for g in near for f in g), flow])
    return groups
