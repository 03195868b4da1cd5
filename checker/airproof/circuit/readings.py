"""How a condition is read, in one state and over an elapse step.

Every reading gives two truths: whether the condition CAN count as true, and
whether it MUST (cannot count as false).  What must, can.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping, Set
from fractions import Fraction
from typing import Protocol

from airproof.circuit.conditions import (
    AllOf,
    AnyOf,
    At,
    Compare,
    Condition,
    Expired,
    Flowing,
    Form,
    GoneTo,
    Leaf,
    Not,
    OnTheWay,
    Order,
    Truth,
)
from airproof.circuit.kinds import ATMOSPHERE, Flow
from airproof.circuit.state import State, TimerState
from airproof.circuit.tables import Tables

Truths = tuple[bool, bool]  # (can, must)

SURELY: Truths = (True, True)
PERHAPS: Truths = (True, False)
NOT_SO: Truths = (False, False)
NOTHING = Fraction(0)


class Placed(Protocol):
    """Where everything stands and how the timers are, as a `State` has it."""

    @property
    def positions(self) -> Mapping[str, str]: ...
    @property
    def leaving(self) -> Mapping[str, str]: ...
    @property
    def timers(self) -> Mapping[str, TimerState]: ...
    @property
    def fresh(self) -> Set[str]: ...


class View(ABC):
    """What the members of a circuit see; made for one reading and thrown away."""

    __slots__ = ("_conditions", "state", "tables")

    def __init__(self, tables: Tables, state: State) -> None:
        self.tables = tables
        self.state = state
        self._conditions: dict[str, Truths] = {}

    def plain(self, condition: Condition) -> Truths:
        """As devices, timers and interlocks read it."""
        return _read(condition, self._plain)

    def passing(self, condition: Condition) -> Truths:
        """As flows and quantities read it: a device on the way counts as it is stated to."""
        return _read(condition, self._in_flow)

    def judged(self, condition: Condition) -> Truths:
        """As properties read it: (where its truth helps a breach, where it hinders one)."""
        return _read(condition, self._judged)

    def flow_condition(self, flow: Flow) -> Truths:
        """The flow's own condition, in which a device on the way counts as it is stated to."""
        if flow.name not in self._conditions:
            self._conditions[flow.name] = self.passing(flow.condition)
        return self._conditions[flow.name]

    @abstractmethod
    def _compare(self, leaf: Compare) -> Truths: ...

    @abstractmethod
    def _as_written(self, leaf: Compare) -> bool: ...

    @abstractmethod
    def _downhill(self, flow: Flow) -> Truths: ...

    @abstractmethod
    def _strictly_downhill(self, flow: Flow) -> bool: ...

    def _plain(self, leaf: Leaf) -> Truths:
        if isinstance(leaf, Compare):
            return self._compare(leaf)
        if isinstance(leaf, Flowing):
            flow = self.tables.circuit.flows[leaf.flow]
            return _both(self.flow_condition(flow), self._downhill(flow))
        return _exactly(told(self.state, leaf))

    def _in_flow(self, leaf: Leaf) -> Truths:
        if isinstance(leaf, At) and leaf.component in self.state.leaving:
            return self._passing(leaf)
        return self._plain(leaf)

    def _judged(self, leaf: Leaf) -> Truths:
        if isinstance(leaf, Compare):
            return _exactly(self._as_written(leaf))
        if isinstance(leaf, Flowing):
            flow = self.tables.circuit.flows[leaf.flow]
            return _both(self.flow_condition(flow), _exactly(self._strictly_downhill(flow)))
        return _exactly(told(self.state, leaf))

    def _passing(self, leaf: At) -> Truths:
        name = leaf.component
        if leaf.position not in (self.state.positions[name], self.state.leaving[name]):
            return NOT_SO
        passing = {"any": PERHAPS, "closed": NOT_SO, "joined": SURELY}
        return passing[self.tables.circuit.devices[name].on_the_way]


class Instant(View):
    """One state, read in no time: at a landmark a comparison counts as true and as false."""

    __slots__ = ()

    def _compare(self, leaf: Compare) -> Truths:
        value = value_of(leaf.form, self.state.values)
        near, far = edges(leaf)
        if leaf.order in (">=", ">"):
            return value >= near, value > far
        return value <= near, value < far

    def _as_written(self, leaf: Compare) -> bool:
        return holds_as_written(leaf, self.state.values)

    def _downhill(self, flow: Flow) -> Truths:
        can = not flow.one_way or gap(flow, self.state.values) >= flow.opening
        return can, self._strictly_downhill(flow)

    def _strictly_downhill(self, flow: Flow) -> bool:
        ahead = gap(flow, self.state.values)
        return ahead > flow.opening if flow.one_way else ahead != 0


class Inner(View):
    """An elapse step, read at both ends; right where no landmark is crossed between them."""

    __slots__ = ("_gaps", "after")

    def __init__(self, tables: Tables, before: State, after: State) -> None:
        super().__init__(tables, before)
        self.after = after
        self._gaps: dict[str, tuple[Fraction, Fraction]] = {}

    def ends(self, form: Form) -> tuple[Fraction, Fraction]:
        """The form's value at the start and at the end."""
        return value_of(form, self.state.values), value_of(form, self.after.values)

    def gaps(self, flow: Flow) -> tuple[Fraction, Fraction]:
        """Source minus target [bar] at the start and at the end."""
        if flow.name not in self._gaps:
            ends = gap(flow, self.state.values), gap(flow, self.after.values)
            self._gaps[flow.name] = ends
        return self._gaps[flow.name]

    def _compare(self, leaf: Compare) -> Truths:
        first, last = self.ends(leaf.form)
        near, far = edges(leaf)
        can = _true_inside(leaf.order, near, first, last)
        must = _true_inside(leaf.order, far, first, last)
        if first == last and not self.tables.exact.issuperset(leaf.form.names):
            return can or first == near, must and first != far
        return can, must

    def _as_written(self, leaf: Compare) -> bool:
        return _true_inside(leaf.order, leaf.constant, *self.ends(leaf.form))

    def _downhill(self, flow: Flow) -> Truths:
        return _exactly(self._strictly_downhill(flow))

    def _strictly_downhill(self, flow: Flow) -> bool:
        first, last = self.gaps(flow)
        if flow.one_way:
            return first > flow.opening or last > flow.opening
        return first != 0 or last != 0


def value_of(form: Form, values: Mapping[str, Fraction]) -> Fraction:
    """The weighted sum at these values."""
    total = NOTHING
    for name, weight in form.terms:
        if weight == 1:  # nearly always, and products of fractions are slow
            total = total + values[name] if total else values[name]
        elif weight == -1:
            total = total - values[name]
        else:
            total = total + weight * values[name]
    return total


def gap(flow: Flow, values: Mapping[str, Fraction]) -> Fraction:
    """Pressure at the source minus pressure at the target [bar]."""
    return pressure(flow.source, values) - pressure(flow.target, values)


def pressure(place: str, values: Mapping[str, Fraction]) -> Fraction:
    """The pressure of a supply, a volume or the atmosphere [bar]."""
    return NOTHING if place == ATMOSPHERE else values[place]


def edges(leaf: Compare) -> tuple[Fraction, Fraction]:
    """The near and the far edge: where it may count as true, and beyond which it must."""
    if not leaf.tolerance:
        return leaf.constant, leaf.constant
    low, high = leaf.constant - leaf.tolerance, leaf.constant + leaf.tolerance
    return (low, high) if leaf.order in (">=", ">") else (high, low)


def holds_as_written(leaf: Compare, values: Mapping[str, Fraction]) -> bool:
    """The comparison at one point, tolerance aside."""
    value = value_of(leaf.form, values)
    return _true_inside(leaf.order, leaf.constant, value, value)


def _true_inside(order: Order, edge: Fraction, first: Fraction, last: Fraction) -> bool:
    match order:
        case ">=":
            return first >= edge and last >= edge
        case ">":
            return first > edge or last > edge
        case "<=":
            return first <= edge and last <= edge
        case "<":
            return first < edge or last < edge


def _read(condition: Condition, leaf: Callable[[Leaf], Truths]) -> Truths:
    if isinstance(condition, Not):
        can, must = _read(condition.part, leaf)
        return not must, not can
    if isinstance(condition, AllOf):
        together = SURELY
        for part in condition.parts:
            together = _both(together, _read(part, leaf))
        return together
    if isinstance(condition, AnyOf):
        can, must = NOT_SO
        for part in condition.parts:
            may, shall = _read(part, leaf)
            can, must = can or may, must or shall
        return can, must
    return leaf(condition)


def told(state: Placed, leaf: Condition) -> bool:
    """A leaf without a number or a flow in it; raises TypeError for another condition."""
    match leaf:
        case At(name, position):
            return state.positions[name] == position and name not in state.leaving
        case OnTheWay(device):
            return device in state.leaving
        case Expired(timer):
            return state.timers[timer] == "expired"
        case GoneTo(control, position):
            return control in state.fresh and state.positions[control] == position
        case Truth(value):
            return value
    raise TypeError(f"not read from positions and timers alone: {leaf!r}")


def _both(one: Truths, other: Truths) -> Truths:
    return one[0] and other[0], one[1] and other[1]


def _exactly(value: bool) -> Truths:
    return SURELY if value else NOT_SO
