"""What a result takes for granted: it says nothing about a circuit where this is not so."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from airproof.circuit.kinds import Circuit
from airproof.report.figures import plain
from airproof.report.words import rule, units

Kind = Literal["assumption", "supply", "control", "device"]


@dataclass(frozen=True, slots=True)
class Granted:
    """One thing taken for granted, about the named thing."""

    kind: Kind
    name: str
    text: str


def granted(circuit: Circuit) -> tuple[Granted, ...]:
    """Assumptions, ranges of supplies, sealed controls and devices that move at once."""
    return (
        *_assumptions(circuit),
        *_supplies(circuit),
        *_sealed(circuit),
        *_instant(circuit),
    )


def _assumptions(circuit: Circuit) -> Iterator[Granted]:
    for name, assumption in circuit.assumptions.items():
        said = rule(assumption.rule, units(circuit))
        text = f"{assumption.title} ({said})" if assumption.title else said
        yield Granted("assumption", name, text)


def _supplies(circuit: Circuit) -> Iterator[Granted]:
    for name, supply in circuit.supplies.items():
        low, high = plain(supply.range.low), plain(supply.range.high)
        if low == high:
            yield Granted("supply", name, f"{name} stays at {low} bar")
        else:
            yield Granted("supply", name, f"{name} stays between {low} and {high} bar")


def _sealed(circuit: Circuit) -> Iterator[Granted]:
    for name, control in circuit.controls.items():
        if control.sealed is not None:
            yield Granted("control", name, f"{name} is sealed {control.sealed}: nobody moves it")


def _instant(circuit: Circuit) -> Iterator[Granted]:
    for name, device in circuit.devices.items():
        if device.moving is None:
            yield Granted("device", name, f"{name} moves at once")
