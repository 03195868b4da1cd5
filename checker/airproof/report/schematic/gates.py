"""What a flow's condition is made of: one gate for each thing that must be so."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from airproof.circuit.conditions import (
    AllOf,
    AnyOf,
    At,
    Compare,
    Condition,
    Not,
    OnTheWay,
    Truth,
    leaves,
)
from airproof.circuit.kinds import Circuit, Flow
from airproof.report.words import inward


@dataclass(frozen=True, slots=True)
class DeviceGate:
    """A device or control that lets air pass in some of its positions."""

    device: str
    passes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PressureGate:
    """A flow that depends on a pressure of its own ends: `reducing` reads its target."""

    reading: Compare
    reducing: bool


@dataclass(frozen=True, slots=True)
class OtherGate:
    """Anything else; `signal` is the name the circuit gives to it, if any."""

    condition: Condition
    signal: str | None


Gate = DeviceGate | PressureGate | OtherGate


def gates_of(circuit: Circuit, flow: Flow) -> tuple[Gate, ...]:
    """The gates in series that the flow's condition asks for."""
    return tuple(_gate(circuit, flow, part) for part in _conjuncts(circuit, flow.condition))


def _conjuncts(circuit: Circuit, tree: Condition) -> Iterator[Condition]:
    """What must all be so; a signal that stands for several things stays whole."""
    if _signal(circuit, tree) is None:
        tree = inward(tree)
    if isinstance(tree, AllOf):
        for part in tree.parts:
            yield from _conjuncts(circuit, part)
    elif tree != Truth(True):
        yield tree


def _signal(circuit: Circuit, tree: Condition) -> str | None:
    return next((name for name, said in circuit.signals.items() if said == tree), None)


def _gate(circuit: Circuit, flow: Flow, part: Condition) -> Gate:
    one = _one_device(part)
    if one is not None:
        positions = circuit.positions[one]
        passes = tuple(position for position in positions if _so(part, position))
        return DeviceGate(one, passes)
    if isinstance(part, Compare) and flow.one_way and len(part.form.terms) == 1:
        read = part.form.names[0]
        if read == flow.target and part.order in ("<", "<="):
            return PressureGate(part, reducing=True)
        if read == flow.source and part.order in (">", ">="):
            return PressureGate(part, reducing=False)
    return OtherGate(part, _signal(circuit, part))


def _one_device(part: Condition) -> str | None:
    """The one device or control whose position is all that the condition reads."""
    found = list(leaves(part))
    names = {leaf.component for leaf in found if isinstance(leaf, At)}
    only = all(isinstance(leaf, At) for leaf in found)
    return names.pop() if only and len(names) == 1 else None


def _so(part: Condition, position: str) -> bool:
    """A condition on one device alone, with the device at rest there."""
    match part:
        case At(_, wanted):
            return wanted == position
        case Not(inner):
            return not _so(inner, position)
        case AllOf(parts):
            return all(_so(each, position) for each in parts)
        case AnyOf(parts):
            return any(_so(each, position) for each in parts)
        case Truth(value):
            return value
        case OnTheWay():
            return False
    raise AssertionError(f"not a condition on one device: {part!r}")
