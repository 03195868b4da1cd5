"""Where a run may start."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import z3

from airproof.circuit.kinds import Band, Circuit, Device, Standing
from airproof.circuit.properties import SupplyRule
from airproof.transition.layout import Moment, number
from airproof.transition.origins import Kind, Origin
from airproof.transition.readings import Instant, JudgedInstant
from airproof.transition.system import Conjunct
from airproof.transition.terms import all_of, any_of, negation


def starts(now: Moment, standing: Standing | None) -> Iterator[Conjunct]:
    """Before the first step, from the circuit's own start or a standing state."""
    circuit = now.layout.circuit
    pinned = dict(standing.positions) if standing else {}
    yield Conjunct(now.rested, ("rested",))
    for name, control in circuit.controls.items():
        allowed = (control.sealed,) if control.sealed else control.starts
        sealed = control.sealed is not None and name not in pinned
        origin = Origin("control", name, "sealed" if sealed else "starts")
        yield from _placed(now, origin, (pinned[name],) if name in pinned else allowed)
    for name, device in circuit.devices.items():
        origin = Origin("device", name, "starts")
        yield from _placed(now, origin, (pinned[name],) if name in pinned else device.starts)
        yield from at_rest(now, device)
        if device.starts_called and standing is None:
            yield Conjunct(negation(called_away(now, device)))
    yield from _clocks(now)
    yield from _values(now, standing)
    yield from supply_rules(now)


def _placed(now: Moment, origin: Origin, allowed: tuple[str, ...]) -> Iterator[Conjunct]:
    name = origin.name
    places = now.layout.positions[name]
    keys = now.layout.position_keys(name)
    there = any_of([now.bound(name, p) for p in allowed] + [now.constant(False)])
    yield Conjunct(now.layout.demand(there, origin), keys)
    if len(places) > 2:
        yield Conjunct(exactly_one([now.bound(name, p) for p in places]), keys)


def exactly_one(terms: list[z3.BoolRef]) -> z3.BoolRef:
    """One of the terms is true and no other."""
    apart = [negation(all_of(a, b)) for a, b in itertools.combinations(terms, 2)]
    return all_of(any_of(terms), *apart)


def at_rest(now: Moment, device: Device) -> Iterator[Conjunct]:
    """The device is not on the way."""
    if device.moving is None:
        return
    words = [k for k in now.terms if k.startswith(f"left {device.name} ")]
    for key in (f"way {device.name}", f"aged {device.name}", *words):
        yield Conjunct(negation(now.terms[key]), (key,))


def called_away(now: Moment, device: Device) -> z3.BoolRef:
    """In this very state some move of the device must count as called for."""
    reading = Instant(now)
    n = device.name
    calls = [
        all_of(
            negation(now.rests(n, move.to)),
            reading.must(move.when, Origin("device", n, "starts", move.to, index)),
        )
        for index, move in enumerate(device.moves)
    ]
    return any_of([now.constant(False), *calls])


def _clocks(now: Moment) -> Iterator[Conjunct]:
    for key, term in now.terms.items():
        if key.startswith(("running ", "expired ", "fresh ")):
            yield Conjunct(negation(term), (key,))


def _values(now: Moment, standing: Standing | None) -> Iterator[Conjunct]:
    pinned = dict(standing.values) if standing else {}
    for name, band in now.layout.circuit.value_starts.items():
        if name in pinned:
            band = Band(pinned[name], pinned[name])
        origin = Origin(_kind(now.layout.circuit, name), name, "starts")
        yield Conjunct(now.layout.demand(within(now, name, band), origin), (f"value {name}",))


def _kind(circuit: Circuit, name: str) -> Kind:
    """What a thing that has a value is."""
    if name in circuit.supplies:
        return "supply"
    if name in circuit.volumes:
        return "volume"
    return "quantity" if name in circuit.quantities else "control"


def within(moment: Moment, name: str, band: Band) -> z3.BoolRef:
    """The value lies in the band, both ends included."""
    value, ctx = moment.value(name), moment.layout.context
    if band.low == band.high:
        return value == number(ctx, band.low)
    return all_of(value >= number(ctx, band.low), value <= number(ctx, band.high))


def supply_rules(moment: Moment) -> Iterator[Conjunct]:
    """What is taken for granted of supplies, in one state."""
    reading, layout = JudgedInstant(moment), moment.layout
    for assumption in layout.circuit.assumptions.values():
        if isinstance(assumption.rule, SupplyRule):
            for index, comparison in enumerate(assumption.rule.comparisons):
                origin = Origin("assumption", assumption.name, "always", index=index)
                yield Conjunct(layout.demand(reading.can(comparison), origin))
