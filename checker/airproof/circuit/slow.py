"""A circuit or a property asked about again, with one thing about it taken otherwise."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from airproof.circuit.kinds import Band, Circuit
from airproof.circuit.properties import Never, Property

SOME_TIME = Band(Fraction(1), Fraction(1))  # [s]; at any speed only that there is one counts


def quick_devices(circuit: Circuit) -> tuple[str, ...]:
    """The devices without a moving time, which are taken to move at once."""
    return tuple(name for name, device in circuit.devices.items() if device.moving is None)


def slowed(circuit: Circuit, name: str) -> Circuit:
    """The circuit with that device slow, and read either way by flows while it is on its way."""
    slow = replace(circuit.devices[name], moving=SOME_TIME, on_the_way="any")
    return replace(circuit, devices={**circuit.devices, name: slow})


def passing(prop: Property) -> bool:
    """A sentence judged while time passes that could be judged in instants too."""
    return isinstance(prop.sentence, Never) and not prop.even_for_an_instant


def instantly(circuit: Circuit, name: str) -> Circuit:
    """The circuit with that property judged even for an instant."""
    strict = replace(circuit.properties[name], even_for_an_instant=True)
    return replace(circuit, properties={**circuit.properties, name: strict})
