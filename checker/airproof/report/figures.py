"""Numbers as people read them: exact when short, else rounded and marked `about`."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from airproof.circuit.conditions import Compare, Condition, leaves
from airproof.circuit.kinds import Circuit
from airproof.evidence.sequence import Sequence

SHORT = 4  # decimals that still read as an exact number
ROUGH = 2  # decimals of a rounded number, unless two values would look alike
FINEST = 12


def plain(value: Fraction, places: int = ROUGH) -> str:
    """The value in decimals, exact if it has at most four, else `about` and `places` of them."""
    if (value * 10**SHORT).denominator == 1:
        return _decimals(value, SHORT)
    return f"about {_decimals(value, places)}"


def exact(value: Fraction) -> str:
    """The value as text that loses nothing: `5.25`, or `47/7` where decimals do not end."""
    scaled = value * 10**FINEST
    return _decimals(value, FINEST) if scaled.denominator == 1 else str(value)


def _decimals(value: Fraction, places: int) -> str:
    whole, part = divmod(round(abs(value) * 10**places), 10**places)
    tail = f"{part:0{places}d}".rstrip("0")
    sign = "-" if value < 0 and (whole or part) else ""
    return f"{sign}{whole}.{tail}" if tail else f"{sign}{whole}"


@dataclass(frozen=True, slots=True)
class Figures:
    """How to write each named value of one story, so that unequal values look unequal."""

    places: Mapping[str, int]
    units: Mapping[str, str]

    def bare(self, name: str, value: Fraction) -> str:
        return plain(value, self.places.get(name, ROUGH))

    def unit(self, name: str) -> str:
        return self.units.get(name, "bar")

    def full(self, name: str, value: Fraction) -> str:
        return f"{self.bare(name, value)} {self.unit(name)}".rstrip()


def figures(circuit: Circuit, sequence: Sequence | None = None) -> Figures:
    """The figures for a story: values of the sequence and the settings they are read against."""
    known: dict[str, set[Fraction]] = defaultdict(set)
    for state in _states(sequence):
        for name, value in state.items():
            known[name].add(value)
    for leaf in _comparisons(circuit):
        if len(leaf.form.terms) == 1:
            edges = (leaf.constant - leaf.tolerance, leaf.constant, leaf.constant + leaf.tolerance)
            known[leaf.form.names[0]].update(edges)
    units = {name: quantity.unit for name, quantity in circuit.quantities.items()}
    return Figures({name: _telling(values) for name, values in known.items()}, units)


def _telling(values: set[Fraction]) -> int:
    """The fewest decimals, two at least, that keep unequal values apart."""
    places = ROUGH
    while places < FINEST and len({_decimals(v, places) for v in values}) < len(values):
        places += 1
    return places


def _states(sequence: Sequence | None) -> Iterator[Mapping[str, Fraction]]:
    if sequence is not None:
        yield sequence.start.values
        for step in sequence.steps:
            yield step.after.values


def _comparisons(circuit: Circuit) -> Iterator[Compare]:
    for condition in _conditions(circuit):
        for leaf in leaves(condition):
            if isinstance(leaf, Compare):
                yield leaf


def _conditions(circuit: Circuit) -> Iterator[Condition]:
    for device in circuit.devices.values():
        yield from (move.when for move in device.moves)
    for quantity in circuit.quantities.values():
        yield from (change.condition for change in quantity.changes)
    yield from (timer.runs for timer in circuit.timers.values())
    yield from (flow.condition for flow in circuit.flows.values())
    yield from (lock.condition for lock in circuit.interlocks.values())
    yield from circuit.signals.values()
