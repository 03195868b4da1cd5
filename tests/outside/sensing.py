"""A third reading of a circuit's conditions: one exact state, one true setting for each tolerance.

Nothing here comes from the two accounts of the meaning: a comparison is read as it is
written, at the value that its setting really has in this machine.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from operator import ge, gt, le, lt

from airproof.circuit import conditions as said
from airproof.circuit.kinds import Circuit
from airproof.circuit.state import TimerState

Values = Mapping[str, Fraction]
Terms = tuple[tuple[str, Fraction], ...]
Setting = tuple[str, Terms, Fraction, Fraction]  # whose, what it compares, nominal, tolerance
ORDERS: Mapping[said.Order, Callable[[Fraction, Fraction], bool]] = {
    ">=": ge,
    ">": gt,
    "<=": le,
    "<": lt,
}


@dataclass
class Machine:
    """How one machine stands; what was drawn for it once and for all lies in `settings`.

    leaving: where each device on its way comes from    ports: which of the two ends pass air
    fresh:   controls moved in the instant in which this stretch began
    touched: controls moved in the present instant      aged: on the way for some time already
    """

    positions: dict[str, str]
    values: dict[str, Fraction]
    settings: Mapping[Setting, Fraction]
    leaving: dict[str, str] = field(default_factory=dict)
    ports: dict[str, tuple[bool, bool]] = field(default_factory=dict)
    left: dict[str, float] = field(default_factory=dict)
    timers: dict[str, TimerState] = field(default_factory=dict)
    clocks: dict[str, float] = field(default_factory=dict)
    fresh: frozenset[str] = frozenset()
    touched: frozenset[str] = frozenset()
    aged: frozenset[str] = frozenset()
    rested: bool = True


Reading = Callable[[Machine, Values], bool]


class Senses:
    """Turns conditions into readings, and remembers where they change their truth."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.marks: set[tuple[Terms, Fraction]] = set()
        self.settings: set[Setting] = set()

    def reading(self, condition: said.Condition, whose: str, passes: bool = False) -> Reading:
        """Whether the condition is so; `passes`: ports on the way count for a flow."""
        match condition:
            case said.Truth(value):
                return lambda machine, values: value
            case said.Not(part):
                inner = self.reading(part, whose, passes)
                return lambda machine, values: not inner(machine, values)
            case said.AllOf(parts):
                every = [self.reading(part, whose, passes) for part in parts]
                return lambda machine, values: all(one(machine, values) for one in every)
            case said.AnyOf(parts):
                some = [self.reading(part, whose, passes) for part in parts]
                return lambda machine, values: any(one(machine, values) for one in some)
            case said.Compare():
                return self._compared(condition, whose)
            case said.Flowing(flow):
                return self._flowing(flow)
            case said.At(component, position):
                return self._at(component, position, passes)
            case said.OnTheWay(device):
                return lambda machine, values: device in machine.leaving
            case said.Expired(timer):
                return lambda machine, values: machine.timers[timer] == "expired"
            case said.GoneTo(control, position):
                return lambda machine, values: (
                    control in machine.fresh and machine.positions[control] == position
                )

    def _compared(self, leaf: said.Compare, whose: str) -> Reading:
        terms, order = leaf.form.terms, ORDERS[leaf.order]
        setting: Setting = (whose, terms, leaf.constant, leaf.tolerance)
        for edge in (leaf.constant - leaf.tolerance, leaf.constant + leaf.tolerance):
            self.marks.add((terms, edge))
        if leaf.tolerance:
            self.settings.add(setting)
            return lambda machine, values: order(total(terms, values), machine.settings[setting])
        return lambda machine, values: order(total(terms, values), leaf.constant)

    def _flowing(self, name: str) -> Reading:
        flow = self.circuit.flows[name]
        open_now = self.reading(flow.condition, f"flow {name}", passes=True)

        def flows(machine: Machine, values: Values) -> bool:
            head = values[flow.source] - values[flow.target]
            downhill = head > flow.opening if flow.one_way else head != 0
            return downhill and open_now(machine, values)

        return flows

    def _at(self, name: str, position: str, passes: bool) -> Reading:
        def stands(machine: Machine, values: Values) -> bool:
            if name not in machine.leaving:
                return machine.positions[name] == position
            old, new = machine.ports[name]
            return passes and (
                (old and machine.leaving[name] == position)
                or (new and machine.positions[name] == position)
            )

        return stands


def total(terms: Terms, values: Values) -> Fraction:
    """What the weighted sum comes to."""
    return sum((weight * values[name] for name, weight in terms), Fraction(0))
