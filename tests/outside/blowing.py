"""Isothermal air between places, by the law of ISO 6358, in small exact amounts.

Rates are floats and rounded to fractions; what leaves one place is exactly what enters the next.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import sqrt
from random import Random

from airproof.circuit.kinds import ATMOSPHERE, Band, Choke, Circuit, Conductance, Flow, Rate
from outside.sensing import Machine, Reading, Setting, Terms, Values, total

OUTSIDE = 1.01325  # bar absolute, the standard atmosphere of ISO 2533
GRAIN = 1 << 20  # amounts and changes are rounded to this part of a unit
LEVEL = 1e-5  # bar litre: so little is moved at once, and cut where the places are level


@dataclass(frozen=True)
class Build:
    """What one machine is made of: sizes [litre], rates, times [s] and speeds, all fixed.

    passes: of each flow its sonic conductance [litre/(s bar)] and critical ratio, or a rate
    """

    sizes: Mapping[str, Fraction]
    passes: Mapping[str, tuple[float, float] | float]
    expiry: Mapping[str, float]
    travel: Mapping[str, float]
    speeds: Mapping[str, tuple[Fraction, ...]]
    tick: float


def built(circuit: Circuit, rng: Random) -> Build:
    """A machine as written, or one with other chokes and times: both are *at any speed*."""
    wild = rng.random() < 0.6

    def times(spread: float) -> float:
        return float(10 ** rng.uniform(-spread, spread)) if wild else 1.0

    return Build(
        sizes={
            name: within(volume.size, rng)
            if volume.size
            else Fraction(rng.choice((1, 2, 5, 20, 100)), 20)
            for name, volume in circuit.volumes.items()
        },
        passes={name: _passes(flow, times(1.5), rng) for name, flow in circuit.flows.items()},
        expiry={t.name: float(within(t.expires, rng)) * times(1) for t in circuit.timers.values()},
        travel={
            d.name: float(within(d.moving, rng)) * times(1)
            for d in circuit.devices.values()
            if d.moving
        },
        speeds={
            quantity.name: tuple(within(change.speed, rng) for change in quantity.changes)
            for quantity in circuit.quantities.values()
        },
        tick=10 ** rng.uniform(-2.3, -0.3),
    )


def within(band: Band, rng: Random) -> Fraction:
    return band.low + (band.high - band.low) * Fraction(rng.randrange(9), 8)


def _passes(flow: Flow, wild: float, rng: Random) -> tuple[float, float] | float:
    match flow.restriction:
        case Choke(diameter):
            return conductance(float(diameter.low + diameter.high) / 2) * wild, 0.4
        case Conductance(given, ratio):
            return float(given.low + given.high) / 2 * wild, float(ratio)
        case Rate(bounds):
            return float(within(bounds, rng)) * wild
        case None:
            return float(10 ** rng.uniform(-1.5, 2)), 0.4


def conductance(bore: float) -> float:
    """Sonic conductance of a hole of this bore [mm], in litre/(s bar).

    One-dimensional choked flow of air (any book on compressible flow, such as A.H. Shapiro,
    The Dynamics and Thermodynamics of Compressible Fluid Flow, 1953, ch. 4):
    mass per time = Cd A p 0.0404 / sqrt(T) in SI units; with Cd 0.8, T 293 K and the reference
    air of ISO 8778 (1.185 kg/m3) about 0.125 litre/(s bar) for 1 mm, growing with the area.
    """
    return 0.125 * bore**2


def rate(passes: tuple[float, float] | float, high: Fraction, low: Fraction) -> float:
    """Air per time [bar litre/s] from one gauge pressure down to another.

    ISO 6358-1: q = C p1 while p2/p1 <= b, else q = C p1 sqrt(1 - ((p2/p1 - b)/(1 - b))^2),
    pressures absolute.
    """
    if isinstance(passes, float):
        return passes
    sonic, critical = passes
    upstream, downstream = float(high) + OUTSIDE, max(float(low) + OUTSIDE, 0.0)
    if upstream <= 0:
        return 0.0
    over = max(downstream / upstream - critical, 0) / (1 - critical)
    return sonic * upstream * sqrt(max(0.0, 1 - over**2))


@dataclass(frozen=True)
class Blow:
    """Where the air goes in a little time [s]: values at its end, amounts moved by each flow."""

    values: Mapping[str, Fraction]
    amounts: Mapping[str, Fraction]
    seconds: float


def grained(value: float) -> Fraction:
    return Fraction(round(value * GRAIN), GRAIN)


def blown(
    build: Build, machine: Machine, open_flows: Iterable[Flow], onward: Values, seconds: float
) -> Blow:
    """All open flows at once; none moves more than its share of what makes its places level.

    onward: values where supplies and quantities have gone meanwhile
    """
    here, values, amounts = machine.values, dict(onward), dict[str, Fraction]()
    ways = [way for flow in open_flows if (way := _downhill(flow, here))]
    ends = [end for way in ways for end in way[1:3] if end in build.sizes]
    for flow, high, low, head in ways:
        stored = [place for place in (high, low) if place in build.sizes]
        if not stored:
            continue
        full = float(head) / sum(1 / float(build.sizes[place]) for place in stored)
        share = full / max(ends.count(place) for place in stored)
        amount = min(rate(build.passes[flow.name], here[high], here[low]) * seconds, share)
        moved = grained(full if full < LEVEL else amount) or Fraction(1, GRAIN)
        amounts[flow.name] = moved if high == flow.source else -moved
        for place in stored:
            values[place] += (moved if place == low else -moved) / build.sizes[place]
    return Blow(values, amounts, seconds)


def _downhill(flow: Flow, values: Values) -> tuple[Flow, str, str, Fraction] | None:
    head = values[flow.source] - values[flow.target]
    if flow.one_way:
        head -= flow.opening
        return (flow, flow.source, flow.target, head) if head > 0 else None
    if head == 0:
        return None
    ends = (flow.source, flow.target) if head > 0 else (flow.target, flow.source)
    return (flow, *ends, abs(head))


def shortened(blow: Blow, machine: Machine, marks: Iterable[tuple[Terms, Fraction]]) -> Blow:
    """The part of it that passes no landmark and no true setting."""
    share = Fraction(1)
    for terms, edge in marks:
        first, last = total(terms, machine.values), total(terms, blow.values)
        if first < edge < last or last < edge < first:
            share = min(share, (edge - first) / (last - first))
    values = {
        name: first + share * (blow.values[name] - first) for name, first in machine.values.items()
    }
    amounts = {name: share * amount for name, amount in blow.amounts.items()}
    return Blow(values, amounts, blow.seconds * float(share))


def true_marks(
    machine: Machine, edges: Iterable[tuple[Terms, Fraction]]
) -> list[tuple[Terms, Fraction]]:
    """Landmarks, and where this machine's settings really are."""
    own = [(setting[1], value) for setting, value in machine.settings.items()]
    return [*edges, *own]


def settings_drawn(settings: Iterable[Setting], rng: Random) -> dict[Setting, Fraction]:
    """One true value within each tolerance."""
    return {
        setting: setting[2] + setting[3] * Fraction(rng.choice((-4, 4, rng.randrange(-4, 5))), 4)
        for setting in sorted(settings)
    }


def head_marks(circuit: Circuit) -> set[tuple[Terms, Fraction]]:
    """Where each flow sets in: upstream minus downstream against its opening."""
    found = set()
    for flow in circuit.flows.values():
        ends = {flow.source: Fraction(1), flow.target: Fraction(-1)}
        terms = tuple(sorted((name, w) for name, w in ends.items() if name != ATMOSPHERE))
        if terms:
            found.add((terms, flow.opening if flow.one_way else Fraction(0)))
    return found


def apace(
    machine: Machine, build: Build, readings: Mapping[str, tuple[Reading, ...]]
) -> dict[str, Fraction]:
    """The speed of each quantity now [its unit/s]."""
    return {
        name: sum(
            (
                speed
                for speed, reading in zip(build.speeds[name], changes, strict=True)
                if reading(machine, machine.values)
            ),
            Fraction(0),
        )
        for name, changes in readings.items()
    }
