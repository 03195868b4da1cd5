"""The kinds that the language takes apart, put together again by the shape of their flows."""

from __future__ import annotations

from airproof.circuit.conditions import MIRROR, Compare, Truth
from airproof.circuit.kinds import ATMOSPHERE, Flow
from airproof.report.schematic import labels
from airproof.report.schematic.cells import Pilot, VentCell
from airproof.report.schematic.making import Making
from airproof.report.schematic.shuttles import Shuttle
from airproof.report.schematic.valves import Outlet, Valve, Way


def put_together(making: Making) -> None:
    """Adds double check, self-lapping and quick-exhaust valves, and strikes their flows off."""
    for name in list(making.left):
        base, _, end = name.rpartition(".")
        if not base or name not in making.left:
            continue
        if end == "1" and f"{base}.2" in making.left:
            _double_check(making, base)
        elif end == "charge" and f"{base}.exhaust" in making.left:
            _lapping_or_quick(making, base)


def _double_check(making: Making, base: str) -> None:
    one, two = making.left[f"{base}.1"], making.left[f"{base}.2"]
    if one.target != two.target or not (_above(one, two.source) and _above(two, one.source)):
        return
    if ATMOSPHERE in (one.source, two.source, one.target):
        return
    flows = ((one.name, 1), (two.name, 1))
    notes = labels.restriction(one.restriction)
    making.blocks[f"valve:{base}"] = Shuttle(base, False, flows[:1], flows[1:], flows, notes)
    for port, flow in enumerate((one, two)):
        making.join(flow.source, f"valve:{base}", port, ((flow.name, 1),), into=True)
        del making.left[flow.name]
    making.join(one.target, f"valve:{base}", 2, flows, into=False)


def _lapping_or_quick(making: Making, base: str) -> None:
    charge, drop = making.left[f"{base}.charge"], making.left[f"{base}.exhaust"]
    if charge.target != drop.source or not (charge.one_way and drop.one_way):
        return
    if ATMOSPHERE in (charge.source, charge.target):
        return
    if charge.condition == Truth(True) and _below(drop, charge.source):
        if drop.target == ATMOSPHERE:
            _quick(making, base, charge, drop)
    elif _follows(charge, drop):
        _lapping(making, base, charge, drop)


def _quick(making: Making, base: str, charge: Flow, drop: Flow) -> None:
    notes = labels.restriction(charge.restriction)
    up, down = (charge.name, 1), (drop.name, -1)
    block = f"valve:{base}"
    making.blocks[block] = Shuttle(base, True, (up,), ((drop.name, 1),), (up, down), notes)
    making.join(charge.source, block, 0, (up,), into=True)
    making.join(charge.target, block, 1, (up, down), into=False)
    del making.left[charge.name], making.left[drop.name]


def _follows(charge: Flow, drop: Flow) -> bool:
    """Both read one difference, one on each side of it."""
    one, two = charge.condition, drop.condition
    if not (isinstance(one, Compare) and isinstance(two, Compare)):
        return False
    return one.form == two.form and one.order[0] != two.order[0]


def _lapping(making: Making, base: str, charge: Flow, drop: Flow) -> None:
    block, vent = f"valve:{base}", drop.target == ATMOSPHERE
    reading = charge.condition
    assert isinstance(reading, Compare)
    followed = [name for name in reading.form.names if name != charge.target]
    top = Pilot("pilot", ("follows", *followed))
    bottom = Pilot("pilot", (charge.target,))
    outlets = (
        Outlet("left", (), ((charge.name, 1),), False),
        Outlet("right", (), ((charge.name, 1), (drop.name, -1)), False),
        Outlet("right", (VentCell(1),) if vent else (), ((drop.name, 1),), vent, drop.name),
    )
    ways = (
        Way(charge.name, 0, 1, ("charge",), True),
        Way(drop.name, 1, 2, ("exhaust",), True),
    )
    positions, notes = ("charge", "lap", "exhaust"), labels.restriction(charge.restriction)
    making.blocks[block] = Valve(base, None, positions, "lap", outlets, ways, top, bottom, notes)
    making.join(charge.source, block, 0, outlets[0].flows, into=True)
    making.join(charge.target, block, 1, outlets[1].flows, into=False)
    if not vent:
        making.join(drop.target, block, 2, outlets[2].flows, into=False)
    del making.left[charge.name], making.left[drop.name]


def _above(flow: Flow, other: str) -> bool:
    """Whether the flow is open just while its source is not below the other place."""
    return _compares(flow, flow.source, other, ">=") and not flow.one_way


def _below(flow: Flow, other: str) -> bool:
    """Whether the flow is open just while the other place is below its source."""
    return _compares(flow, other, flow.source, "<")


def _compares(flow: Flow, one: str, other: str, order: str) -> bool:
    """Whether its condition is that `one` lies so to `other`, whichever way it is written."""
    tree = flow.condition
    if not isinstance(tree, Compare) or tree.constant != 0:
        return False
    weights = dict(tree.form.terms)
    if set(weights) != {one, other} or sum(weights.values()) != 0:
        return False
    said = tree.order if weights[one] > 0 else MIRROR[tree.order]
    return said == order
