"""How a circuit's state lies in z3 variables, and one moment of it as terms."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

import z3

from airproof.circuit.conditions import Form
from airproof.circuit.kinds import ATMOSPHERE, Circuit, Device
from airproof.transition.origins import Origin
from airproof.transition.system import Sort, Variable, variable
from airproof.transition.terms import all_of, negation
from airproof.transition.ties import Ties

CLOCK = "monitor clock"  # of a property with a time in it; a value of no place


@dataclass(frozen=True, slots=True)
class Layout:
    """Every state variable of a circuit, keyed by what it means.

    Positions of a component with two positions are one boolean (true = the
    second); with more, one boolean each, exactly one of them true.  With
    `ties`, terms made over the layout can be let go origin by origin.
    """

    context: z3.Context
    circuit: Circuit
    variables: Mapping[str, Variable]
    positions: Mapping[str, tuple[str, ...]]
    moving: frozenset[str]
    ties: Ties | None = None

    def demand(self, term: z3.BoolRef, *origins: Origin) -> z3.BoolRef:
        """What is asked for on behalf of these origins."""
        return term if self.ties is None else self.ties.demand(term, origins)

    def truth(self, term: z3.BoolRef, origin: Origin | None) -> z3.BoolRef:
        """What a leaf of that origin counts as."""
        return term if self.ties is None or origin is None else self.ties.truth(term, origin)

    def moment(self, *, after: bool) -> Moment:
        """The state before or after a step."""
        terms = {k: v.then if after else v.now for k, v in self.variables.items()}
        return Moment(self, terms)

    def position_keys(self, name: str) -> tuple[str, ...]:
        """The keys of the variables that say where a component is (or is bound for)."""
        return tuple(_one_of("position", name, self.positions[name]))


@dataclass(frozen=True, slots=True)
class Moment:
    """One state as terms, looked up by meaning.

    forms: weighted sums that were asked for already, for making terms is slow
    """

    layout: Layout
    terms: Mapping[str, z3.ExprRef]
    forms: dict[Form, z3.ArithRef] = field(default_factory=dict, compare=False, repr=False)

    def bound(self, name: str, position: str) -> z3.BoolRef:
        """The component stands at the position or is on the way to it."""
        return _placed(self, "position", name, position)

    def left(self, name: str, position: str) -> z3.BoolRef:
        """The device is on the way and left this position."""
        if len(self.layout.positions[name]) == 2:
            return all_of(self.way(name), negation(self.bound(name, position)))
        return self.terms[f"left {name} {position}"]

    def way(self, name: str) -> z3.BoolRef:
        """The device is on the way."""
        if name not in self.layout.moving:
            return self.constant(False)
        return self.terms[f"way {name}"]

    def rests(self, name: str, position: str) -> z3.BoolRef:
        """The component stands at the position, not on the way."""
        at = self.bound(name, position)
        return all_of(at, negation(self.way(name))) if name in self.layout.moving else at

    def flag(self, word: str, name: str) -> z3.BoolRef:
        """One of the booleans `aged`, `running`, `expired`, `fresh` of a component."""
        return self.terms[f"{word} {name}"]

    @property
    def rested(self) -> z3.BoolRef:
        return self.terms["rested"]

    def value(self, name: str) -> z3.ArithRef:
        """A pressure or quantity; atmosphere is 0."""
        if name == ATMOSPHERE:
            return z3.RealVal(0, self.layout.context)
        return self.terms[CLOCK if name == CLOCK else f"value {name}"]

    def form(self, form: Form) -> z3.ArithRef:
        """The weighted sum."""
        if form not in self.forms:
            self.forms[form] = self._sum(form)
        return self.forms[form]

    def _sum(self, form: Form) -> z3.ArithRef:
        parts = [
            self.value(n) if w == 1 else number(self.layout.context, w) * self.value(n)
            for n, w in form.terms
        ]
        return parts[0] if len(parts) == 1 else z3.Sum(parts)

    def constant(self, truth: bool) -> z3.BoolRef:
        return z3.BoolVal(truth, self.layout.context)


def number(context: z3.Context, value: Fraction) -> z3.RatNumRef:
    """An exact rational constant."""
    return z3.RealVal(str(value), context)


def _placed(moment: Moment, word: str, name: str, position: str) -> z3.BoolRef:
    places = moment.layout.positions[name]
    if len(places) == 1:
        return moment.constant(True)
    if len(places) == 2:
        second = moment.terms[f"{word} {name}"]
        return second if position == places[1] else negation(second)
    return moment.terms[f"{word} {name} {position}"]


def lay_out(circuit: Circuit, context: z3.Context) -> Layout:
    """The variables of a circuit, without any monitor."""
    devices = circuit.devices
    positions = circuit.positions
    moving = frozenset(n for n, d in devices.items() if d.moving is not None)
    keys: list[tuple[str, Sort]] = [("rested", "bool")]
    for name, places in positions.items():
        keys += [(key, "bool") for key in _one_of("position", name, places)]
    for name in sorted(moving):
        keys += _way_keys(devices[name])
    for name in circuit.timers:
        keys += [(f"running {name}", "bool"), (f"expired {name}", "bool")]
    keys += [(f"fresh {n}", "bool") for n in (*circuit.controls, *circuit.range_controls)]
    keys += [(f"value {n}", "real") for n in value_names(circuit)]
    return Layout(
        context=context,
        circuit=circuit,
        variables={key: variable(context, key, sort) for key, sort in keys},
        positions=positions,
        moving=moving,
    )


def value_names(circuit: Circuit) -> tuple[str, ...]:
    """Every name that has a value: supplies, volumes, range controls, quantities."""
    return tuple(circuit.value_starts)


def _one_of(word: str, name: str, places: tuple[str, ...]) -> list[str]:
    if len(places) == 1:
        return []
    return [f"{word} {name}"] if len(places) == 2 else [f"{word} {name} {p}" for p in places]


def _way_keys(device: Device) -> list[tuple[str, Sort]]:
    keys: list[tuple[str, Sort]] = [(f"way {device.name}", "bool"), (f"aged {device.name}", "bool")]
    if len(device.positions) > 2:
        keys += [(f"left {device.name} {p}", "bool") for p in device.positions]
    return keys
