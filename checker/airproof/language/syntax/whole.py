"""A whole text, and parts, which hold statements of their own."""

from __future__ import annotations

from dataclasses import dataclass

from airproof.base.source import Span
from airproof.language.syntax.devices import (
    Assumption,
    Control,
    Device,
    Interlock,
    RangeControl,
    Timer,
)
from airproof.language.syntax.kinds import (
    DoubleCheckValve,
    Flow,
    Governor,
    IsolatingCock,
    PressureSwitch,
    QuickExhaustValve,
    ReducingValve,
    ReliefValve,
    SelfLappingValve,
    SpringCylinder,
)
from airproof.language.syntax.places import Circuit, Fit, Include, Quantity, Supply, Volume
from airproof.language.syntax.properties import Observe, Property, Signal, State
from airproof.language.syntax.words import Drawing, Name, Title


@dataclass(frozen=True, slots=True)
class Part:
    """`part cab "title"` with `ports feed, out` and its statements, up to `end part`."""

    name: Name
    title: Title | None
    ports: tuple[Name, ...]
    body: tuple[Statement, ...]
    drawing: Drawing | None
    span: Span


Statement = (
    Circuit
    | Include
    | Part
    | Fit
    | Supply
    | Volume
    | Quantity
    | Control
    | RangeControl
    | Device
    | Timer
    | Interlock
    | Assumption
    | Flow
    | DoubleCheckValve
    | ReliefValve
    | ReducingValve
    | SelfLappingValve
    | QuickExhaustValve
    | Governor
    | PressureSwitch
    | IsolatingCock
    | SpringCylinder
    | Signal
    | State
    | Observe
    | Property
)


@dataclass(frozen=True, slots=True)
class Document:
    """The statements of one text in their order; `circuit NAME` is one of them."""

    path: str
    statements: tuple[Statement, ...]
