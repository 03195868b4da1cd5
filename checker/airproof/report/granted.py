"""What a result takes for granted: it says nothing about a circuit where this is not so."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from airproof.circuit.kinds import Circuit
from airproof.circuit.normal import normal_thing
from airproof.report.figures import plain
from airproof.report.words import rule, units

Kind = Literal["assumption", "supply", "control", "device"]


@dataclass(frozen=True, slots=True)
class Granted:
    """One thing taken for granted, about the named thing.

    text: may round; what: exactly what is granted, to compare
    """

    kind: Kind
    name: str
    text: str
    what: str = ""


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
        yield Granted("assumption", name, text, repr(normal_thing(assumption.rule)))


def _supplies(circuit: Circuit) -> Iterator[Granted]:
    for name, supply in circuit.supplies.items():
        low, high = plain(supply.range.low), plain(supply.range.high)
        if low == high:
            yield Granted("supply", name, f"{name} stays at {low} bar", repr(supply.range))
        else:
            text = f"{name} stays between {low} and {high} bar"
            yield Granted("supply", name, text, repr(supply.range))


def _sealed(circuit: Circuit) -> Iterator[Granted]:
    for name, control in circuit.controls.items():
        if control.sealed is not None:
            yield Granted("control", name, f"{name} is sealed {control.sealed}: nobody moves it")


def _instant(circuit: Circuit) -> Iterator[Granted]:
    for name, device in circuit.devices.items():
        if device.moving is None:
            yield Granted("device", name, f"{name} moves at once")


def narrower_starts(circuit: Circuit, *others: Circuit) -> Iterator[str]:
    """What starts in fewer ways than in each of the others that have it, if nothing seals it."""
    sealed = {name for name, one in circuit.controls.items() if one.sealed is not None}
    for name in (n for n in (*circuit.positions, *circuit.value_starts) if n not in sealed):
        there = [one for one in others if name in one.positions or name in one.value_starts]
        if there and all(_narrower(circuit, one, name) for one in there):
            yield f"{name} starts {_start_of(circuit, name)} only"


def _narrower(circuit: Circuit, other: Circuit, name: str) -> bool:
    if name in circuit.positions and name in other.positions:
        return not {*_places(circuit, name)} >= {*_places(other, name)}
    if name in circuit.value_starts and name in other.value_starts:
        here, there = circuit.value_starts[name], other.value_starts[name]
        return here.low > there.low or here.high < there.high
    return False


def _places(circuit: Circuit, name: str) -> tuple[str, ...]:
    """Where it may start."""
    return (circuit.controls.get(name) or circuit.devices[name]).starts


def _start_of(circuit: Circuit, name: str) -> str:
    if name in circuit.positions:
        return " or ".join(_places(circuit, name))
    band, unit = circuit.value_starts[name], units(circuit).get(name, "bar")
    low, high = plain(band.low), plain(band.high)
    return f"at {low} {unit}" if low == high else f"between {low} and {high} {unit}"
