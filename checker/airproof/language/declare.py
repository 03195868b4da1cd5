"""The table entry of each statement: what its name may stand for elsewhere in the text."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import singledispatch

from airproof.base.quantities import COUNT, PRESSURE
from airproof.language import syntax
from airproof.language.names import Entry, Problems, Scope, Table, Use
from airproof.language.parts import Placed


def declare(placed: Iterable[Placed], problems: Problems) -> Table:
    """The table of everything that the statements name."""
    table = Table(problems)
    for one in placed:
        entry = entry_of(one.statement, one.scope)
        if entry is not None and not _is_port(one):
            for named in (entry, *_inner(entry)):
                table.add(_seen(named))
    return table


def _seen(entry: Entry) -> Entry:
    """What has positions or a value can be watched."""
    if entry.uses.isdisjoint(("positions", "value")):
        return entry
    return replace(entry, uses=entry.uses | {"watched"})


def _inner(entry: Entry) -> list[Entry]:
    """The flows and the device that a kind stands for, by names of their own: `vent.1`."""
    flow, stands = frozenset[Use](("flow",)), frozenset[Use](("positions", "device"))
    found = [
        Entry(name, "flow", entry.span, flow, flows=(name,))
        for name in entry.flows
        if name != entry.name
    ]
    if entry.stands not in ("", entry.name):
        found.append(
            Entry(entry.stands, "device", entry.span, stands, entry.positions, entry.stands)
        )
    return found


def _is_port(placed: Placed) -> bool:
    """Whether the statement gives the name of a port, which was refused where the part stands."""
    name = getattr(placed.statement, "name", None)
    return isinstance(name, syntax.Name) and name.text in placed.scope.ports


def device_positions(device: syntax.Device) -> tuple[syntax.Name, ...]:
    """The positions of a device; the two of its plain clause if it lists none."""
    if device.positions or device.plain is None:
        return device.positions
    return (device.plain.position, device.plain.otherwise)


def branches(device: syntax.Device) -> list[tuple[syntax.Joins, syntax.Branch]]:
    """Each way a multi-port valve joins, in the order of the text."""
    return [(joins, branch) for joins in device.joins for branch in joins.branches]


@singledispatch
def entry_of(statement: object, scope: Scope) -> Entry | None:
    """What the statement names, or None."""
    return None


def _entry(name: syntax.Name, word: str, scope: Scope, *uses: Use) -> Entry:
    return Entry(scope.full(name.text), word, name.span, frozenset(uses))


@entry_of.register
def _supply(statement: syntax.Supply, scope: Scope) -> Entry:
    name, uses = statement.name, frozenset[Use](("place", "value", "supply", "target"))
    return Entry(scope.full(name.text), "supply", name.span, uses, dimension=PRESSURE)


@entry_of.register
def _volume(statement: syntax.Volume, scope: Scope) -> Entry:
    name, uses = statement.name, frozenset[Use](("place", "value", "target"))
    return Entry(scope.full(name.text), statement.kind, name.span, uses, dimension=PRESSURE)


@entry_of.register
def _spring_cylinder(statement: syntax.SpringCylinder, scope: Scope) -> Entry:
    full = scope.full(statement.name.text)
    return Entry(
        full,
        "spring-applied cylinder",
        statement.name.span,
        frozenset(("place", "value", "positions", "device", "target")),
        positions=SPRING_POSITIONS,
        stands=f"{full}.spring",
        dimension=PRESSURE,
    )


SPRING_POSITIONS = ("on", "dragging", "off")


@entry_of.register
def _quantity(statement: syntax.Quantity, scope: Scope) -> Entry:
    name = statement.name
    dimension = statement.starts.first.unit.dimension if statement.starts else COUNT
    uses = frozenset[Use](("value", "target"))
    return Entry(scope.full(name.text), "quantity", name.span, uses, dimension=dimension)


@entry_of.register
def _control(statement: syntax.Control, scope: Scope) -> Entry:
    full = scope.full(statement.name.text)
    positions = tuple(position.text for position in statement.positions)
    uses = frozenset[Use](("positions", "control", "target"))
    return Entry(full, "control", statement.name.span, uses, positions, full)


@entry_of.register
def _isolating_cock(statement: syntax.IsolatingCock, scope: Scope) -> Entry:
    full = scope.full(statement.name.text)
    return Entry(
        full,
        "isolating cock",
        statement.name.span,
        frozenset(("positions", "control", "flow", "target")),
        ("open", "shut"),
        full,
        flows=(f"{full}.flow",),
    )


@entry_of.register
def _range_control(statement: syntax.RangeControl, scope: Scope) -> Entry:
    name, uses = statement.name, frozenset[Use](("value", "target"))
    full = scope.full(name.text)
    return Entry(full, "range control", name.span, uses, dimension=PRESSURE)


@entry_of.register
def _device(statement: syntax.Device, scope: Scope) -> Entry:
    full = scope.full(statement.name.text)
    flows = tuple(f"{full}.{number + 1}" for number in range(len(branches(statement))))
    plain: tuple[Use, ...] = ("positions", "device", "target")
    return Entry(
        full,
        statement.kind,
        statement.name.span,
        frozenset((*plain, "flow") if flows else plain),
        tuple(position.text for position in device_positions(statement)),
        full,
        flows=flows,
        moving=statement.moving is not None,
    )


@entry_of.register
def _relief_valve(statement: syntax.ReliefValve, scope: Scope) -> Entry:
    full = scope.full(statement.name.text)
    return Entry(
        full,
        "relief valve",
        statement.name.span,
        frozenset(("positions", "device", "flow", "target")),
        ("shut", "open"),
        full,
        flows=(f"{full}.flow",),
        moving=statement.moving is not None,
    )


@entry_of.register
def _governor(statement: syntax.Governor, scope: Scope) -> Entry:
    full = scope.full(statement.name.text)
    uses = frozenset[Use](("positions", "device", "target"))
    positions, moving = ("running", "stopped"), statement.moving is not None
    return Entry(full, "governor", statement.name.span, uses, positions, full, moving=moving)


@entry_of.register
def _pressure_switch(statement: syntax.PressureSwitch, scope: Scope) -> Entry:
    full = scope.full(statement.name.text)
    uses = frozenset[Use](("positions", "device", "target"))
    positions, moving = ("open", "closed"), statement.moving is not None
    return Entry(full, "pressure switch", statement.name.span, uses, positions, full, moving=moving)


@entry_of.register
def _timer(statement: syntax.Timer, scope: Scope) -> Entry:
    return _entry(statement.name, "timer", scope, "timer", "target")


def _flows(name: syntax.Name, word: str, scope: Scope, *ends: str) -> Entry:
    full = scope.full(name.text)
    flows = tuple(f"{full}.{end}" if end else full for end in ends)
    return Entry(full, word, name.span, frozenset(("flow", "target")), flows=flows)


@entry_of.register
def _flow(statement: syntax.Flow, scope: Scope) -> Entry:
    return _flows(statement.name, "flow", scope, "")


@entry_of.register
def _double_check_valve(statement: syntax.DoubleCheckValve, scope: Scope) -> Entry:
    return _flows(statement.name, "double check valve", scope, "1", "2")


@entry_of.register
def _reducing_valve(statement: syntax.ReducingValve, scope: Scope) -> Entry:
    return _flows(statement.name, "reducing valve", scope, "")


@entry_of.register
def _self_lapping_valve(statement: syntax.SelfLappingValve, scope: Scope) -> Entry:
    return _flows(statement.name, "self-lapping valve", scope, "charge", "exhaust")


@entry_of.register
def _quick_exhaust_valve(statement: syntax.QuickExhaustValve, scope: Scope) -> Entry:
    return _flows(statement.name, "quick-exhaust valve", scope, "charge", "exhaust")


@entry_of.register
def _signal(statement: syntax.Signal, scope: Scope) -> Entry:
    return _entry(statement.name, "signal", scope, "signal", "target")


@entry_of.register
def _state(statement: syntax.State, scope: Scope) -> Entry:
    return _entry(statement.name, "standing state", scope, "state")


@entry_of.register
def _assumption(statement: syntax.Assumption, scope: Scope) -> Entry:
    return _entry(statement.name, "assumption", scope)


@entry_of.register
def _interlock(statement: syntax.Interlock, scope: Scope) -> Entry | None:
    if statement.name is None:
        return None
    return _entry(statement.name, "interlock", scope)


@entry_of.register
def _property(statement: syntax.Property, scope: Scope) -> Entry:
    return _entry(statement.name, "property", scope)


@entry_of.register
def _fit(statement: syntax.Fit, scope: Scope) -> Entry:
    return _entry(statement.name, "fitted part", scope)
