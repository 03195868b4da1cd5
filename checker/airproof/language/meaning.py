"""Which reader reads which statement."""

from __future__ import annotations

from functools import singledispatch

from airproof.language import components, flows, properties, rules, syntax, valves
from airproof.language.draft import Here


@singledispatch
def read(statement: object, here: Here) -> None:
    """Adds what the statement says to the draft, or its problems to the problems."""


@read.register
def _supply(statement: syntax.Supply, here: Here) -> None:
    components.supply(here, statement)


@read.register
def _volume(statement: syntax.Volume, here: Here) -> None:
    components.volume(here, statement)


@read.register
def _quantity(statement: syntax.Quantity, here: Here) -> None:
    components.quantity(here, statement)


@read.register
def _control(statement: syntax.Control, here: Here) -> None:
    components.control(here, statement)


@read.register
def _range_control(statement: syntax.RangeControl, here: Here) -> None:
    components.range_control(here, statement)


@read.register
def _device(statement: syntax.Device, here: Here) -> None:
    valves.joining_device(here, statement)


@read.register
def _timer(statement: syntax.Timer, here: Here) -> None:
    components.timer(here, statement)


@read.register
def _flow(statement: syntax.Flow, here: Here) -> None:
    flows.flow(here, statement)


@read.register
def _isolating_cock(statement: syntax.IsolatingCock, here: Here) -> None:
    valves.isolating_cock(here, statement)


@read.register
def _double_check_valve(statement: syntax.DoubleCheckValve, here: Here) -> None:
    valves.double_check_valve(here, statement)


@read.register
def _relief_valve(statement: syntax.ReliefValve, here: Here) -> None:
    valves.relief_valve(here, statement)


@read.register
def _reducing_valve(statement: syntax.ReducingValve, here: Here) -> None:
    valves.reducing_valve(here, statement)


@read.register
def _self_lapping_valve(statement: syntax.SelfLappingValve, here: Here) -> None:
    valves.self_lapping_valve(here, statement)


@read.register
def _quick_exhaust_valve(statement: syntax.QuickExhaustValve, here: Here) -> None:
    valves.quick_exhaust_valve(here, statement)


@read.register
def _governor(statement: syntax.Governor, here: Here) -> None:
    valves.governor(here, statement)


@read.register
def _pressure_switch(statement: syntax.PressureSwitch, here: Here) -> None:
    valves.pressure_switch(here, statement)


@read.register
def _spring_cylinder(statement: syntax.SpringCylinder, here: Here) -> None:
    valves.spring_cylinder(here, statement)


@read.register
def _interlock(statement: syntax.Interlock, here: Here) -> None:
    rules.interlock(here, statement)


@read.register
def _assumption(statement: syntax.Assumption, here: Here) -> None:
    rules.assumption(here, statement)


@read.register
def _state(statement: syntax.State, here: Here) -> None:
    rules.state(here, statement)


@read.register
def _observe(statement: syntax.Observe, here: Here) -> None:
    rules.observe(here, statement)


@read.register
def _fit(statement: syntax.Fit, here: Here) -> None:
    rules.fit(here, statement)


@read.register
def _property(statement: syntax.Property, here: Here) -> None:
    properties.read_property(here, statement)


@read.register
def _signal(statement: syntax.Signal, here: Here) -> None:
    name = here.name(statement.name)
    here.draft.signals[name] = here.conditions().written_out(name, statement.name.span)
