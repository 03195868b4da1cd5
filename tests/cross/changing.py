"""Random changes of finite circuits: one thing of a circuit made otherwise."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from random import Random

from airproof.circuit.conditions import AllOf, AnyOf, At, Condition, Not
from airproof.circuit.kinds import Circuit


def changed(circuit: Circuit, rng: Random) -> Circuit:
    """The circuit with one thing changed at random; the circuit itself if nothing could be."""
    ways: list[Callable[[Circuit, Random], Circuit | None]] = [_turned, _sealed, _freed, _begun]
    rng.shuffle(ways)
    for way in ways:
        found = way(circuit, rng)
        if found is not None and found != circuit:
            return found
    return circuit


def _turned(circuit: Circuit, rng: Random) -> Circuit | None:
    """One move of one device waits for something a little else."""
    if not circuit.devices:
        return None
    device = rng.choice(list(circuit.devices.values()))
    at = rng.randrange(len(device.moves))
    moves = list(device.moves)
    moves[at] = replace(moves[at], when=_other(moves[at].when, circuit, rng))
    there = {**circuit.devices, device.name: replace(device, moves=tuple(moves))}
    return replace(circuit, devices=there)


def _other(condition: Condition, circuit: Circuit, rng: Random) -> Condition:
    match condition:
        case AllOf(parts) | AnyOf(parts) if parts:
            at = rng.randrange(len(parts))
            changed_parts = (*parts[:at], _other(parts[at], circuit, rng), *parts[at + 1 :])
            return replace(condition, parts=changed_parts)
        case Not(part) if rng.randrange(2):
            return Not(_other(part, circuit, rng))
        case At(name, _):
            return At(name, rng.choice(circuit.positions[name]))
    name = rng.choice(list(circuit.positions))
    more = At(name, rng.choice(circuit.positions[name]))
    return AllOf((condition, more)) if rng.randrange(2) else AnyOf((condition, more))


def _sealed(circuit: Circuit, rng: Random) -> Circuit | None:
    """A control is fixed where it may start."""
    loose = [one for one in circuit.controls.values() if one.sealed is None]
    if not loose:
        return None
    control = rng.choice(loose)
    place = rng.choice(control.starts)
    fixed = replace(control, sealed=place, starts=(place,))
    return replace(circuit, controls={**circuit.controls, control.name: fixed})


def _freed(circuit: Circuit, rng: Random) -> Circuit | None:
    """An interlock is taken away."""
    if not circuit.interlocks:
        return None
    gone = rng.choice(list(circuit.interlocks))
    left = {name: one for name, one in circuit.interlocks.items() if name != gone}
    return replace(circuit, interlocks=left)


def _begun(circuit: Circuit, rng: Random) -> Circuit | None:
    """A control may start elsewhere too."""
    loose = [one for one in circuit.controls.values() if one.sealed is None]
    if not loose:
        return None
    control = rng.choice(loose)
    anywhere = replace(control, starts=control.positions)
    return replace(circuit, controls={**circuit.controls, control.name: anywhere})


def pairs(
    first: int, count: int, make: Callable[[Random], Circuit]
) -> Iterator[tuple[Circuit, Circuit]]:
    """Circuits with a change to each, by the seeds from the first on."""
    for seed in range(first, first + count):
        rng = Random(seed)
        old = make(rng)
        yield old, changed(old, rng)
