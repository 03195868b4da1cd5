"""From a circuit to a sheet: which symbols stand on it and what joins them.

Flows that one device switches at one place become one valve with several
ports; the kinds that the language takes apart are put together again; every
other flow is a row of symbols of its own.
"""

from __future__ import annotations

from airproof.circuit.kinds import ATMOSPHERE, Circuit, Flow
from airproof.report.schematic import labels
from airproof.report.schematic.blocks import Flows, Place
from airproof.report.schematic.cells import widest
from airproof.report.schematic.making import LEFT, RIGHT, Making
from airproof.report.schematic.multiports import switch
from airproof.report.schematic.sheet import End, Sheet
from airproof.report.schematic.special import put_together


def sheet_of(circuit: Circuit) -> Sheet:
    """The blocks and lines of the circuit's drawing."""
    making = Making(circuit)
    put_together(making)
    switch(making)
    for flow in list(making.left.values()):
        _run(making, flow)
    places = {
        f"place:{name}": _place(making, name) for name in (*circuit.supplies, *circuit.volumes)
    }
    return Sheet({**places, **making.blocks}, tuple(making.links), tuple(making.spelled))


def _place(making: Making, name: str) -> Place:
    left, right = (_at(making, End(f"place:{name}", side)) for side in (LEFT, RIGHT))
    drawing = making.circuit.drawings.get(name)
    about = (drawing,) if drawing else ()
    room = widest(["~-00.00 bar", labels.reading(making.circuit.value_starts[name])], bold=True)
    volume = making.circuit.volumes.get(name)
    if volume is None:
        supply = making.circuit.supplies[name]
        about = (f"supply {labels.band(supply.range)}", *about)
        return Place(name, "supply", about, room, left, right)
    about = (*((labels.spread(volume.size, "litre"),) if volume.size else ()), *about)
    spring = f"{name}.spring"
    found = making.circuit.devices.get(spring)
    held = spring if found and found.kind == "spring-applied cylinder" else None
    if held:
        making.homes.add(held)
    return Place(name, volume.kind, about, room, left, right, held)


def _at(making: Making, end: End) -> Flows:
    """The flows of the lines at one side of a place."""
    mine = [link for link in making.links if end in (link.start, link.end)]
    return tuple(flow for link in mine for flow in link.flows)


def _run(making: Making, flow: Flow) -> None:
    way = making.way(flow.source, flow.target)
    cells = [making.gate_cell(flow, gate, way) for gate in making.gates[flow.name]]
    making.add_run(flow, cells, way, f"flow:{flow.name}")
    block = f"flow:{flow.name}"
    near, far = (flow.source, flow.target) if way > 0 else (flow.target, flow.source)
    flows = ((flow.name, way),)
    if near != ATMOSPHERE:
        making.join(near, block, 0, flows, into=True)
    if far != ATMOSPHERE:
        making.join(far, block, int(near != ATMOSPHERE), flows, into=False)
