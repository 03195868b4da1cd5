"""What a condition may count as, and what it must count as, to each reader.

Each reading gives a leaf two terms (can, must); `can` and `must` carry them
through `not`, `and`, `or`.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from fractions import Fraction

import z3

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
    Truth,
    form_of,
)
from airproof.circuit.kinds import ATMOSPHERE, Circuit, Flow
from airproof.transition.layout import Moment, number
from airproof.transition.origins import Origin
from airproof.transition.terms import all_of, any_of, negation

Pair = tuple[z3.BoolRef, z3.BoolRef]


class Reading(ABC):
    """Carries the two truths of leaves through the connectives."""

    moment: Moment

    @abstractmethod
    def leaf(self, leaf: Leaf) -> Pair:
        """(can, must) of one leaf."""

    def can(self, condition: Condition, origin: Origin | None = None) -> z3.BoolRef:
        return self._truth(condition, True, origin)

    def must(self, condition: Condition, origin: Origin | None = None) -> z3.BoolRef:
        return self._truth(condition, False, origin)

    def _truth(
        self, condition: Condition, can: bool, origin: Origin | None, path: tuple[int, ...] = ()
    ) -> z3.BoolRef:
        if isinstance(condition, Not):
            return negation(self._truth(condition.part, not can, origin, path))
        if isinstance(condition, AllOf | AnyOf) and condition.parts:
            parts = [
                self._truth(part, can, origin, (*path, i)) for i, part in enumerate(condition.parts)
            ]
            if isinstance(condition, AllOf):
                return all_of([self.moment.constant(True), *parts])
            return any_of([self.moment.constant(False), *parts])
        truth = self._leaf(condition, can)
        return self.moment.layout.truth(truth, origin and origin.leaf(path))

    def _leaf(self, condition: Leaf | AllOf | AnyOf, can: bool) -> z3.BoolRef:
        """A leaf, or an `and` or `or` of nothing."""
        if isinstance(condition, AllOf):
            return all_of([self.moment.constant(True)])
        if isinstance(condition, AnyOf):
            return any_of([self.moment.constant(False)])
        pair = self.leaf(condition)
        return pair[0] if can else pair[1]


def discrete(moment: Moment, leaf: Leaf) -> z3.BoolRef:
    """The truth of a leaf that names no pressure and no flow, the same for can and must."""
    if isinstance(leaf, At):
        return moment.rests(leaf.component, leaf.position)
    if isinstance(leaf, OnTheWay):
        return moment.way(leaf.device)
    if isinstance(leaf, Expired):
        return moment.flag("expired", leaf.timer)
    if isinstance(leaf, GoneTo):
        fresh = moment.flag("fresh", leaf.control)
        return all_of(fresh, moment.bound(leaf.control, leaf.position))
    if isinstance(leaf, Truth):
        return moment.constant(leaf.value)
    raise TypeError(f"not a discrete leaf: {leaf!r}")


def through_the_way(moment: Moment, leaf: At) -> Pair:
    """How a flow reads a position: a device on the way counts by its `on_the_way` word."""
    device = moment.layout.circuit.devices.get(leaf.component)
    rests = moment.rests(leaf.component, leaf.position)
    if device is None or device.moving is None or device.on_the_way == "closed":
        return rests, rests
    between = all_of(
        moment.way(leaf.component),
        any_of(
            moment.left(leaf.component, leaf.position), moment.bound(leaf.component, leaf.position)
        ),
    )
    passing = any_of(rests, between)
    return passing, passing if device.on_the_way == "joined" else rests


def drop(flow: Flow) -> Form:
    """Upstream minus downstream of the flow's named direction; atmosphere is 0."""
    weights = {flow.source: Fraction(1)}
    weights[flow.target] = weights.get(flow.target, Fraction(0)) - 1
    weights.pop(ATMOSPHERE, None)
    return form_of(weights)


def near_edge(c: Compare) -> Fraction:
    """Where the comparison may begin to count as true."""
    return c.constant - c.tolerance if c.order in (">=", ">") else c.constant + c.tolerance


def far_edge(c: Compare) -> Fraction:
    """Where the comparison can no longer count as false."""
    return c.constant + c.tolerance if c.order in (">=", ">") else c.constant - c.tolerance


@dataclass(frozen=True, slots=True)
class Instant(Reading):
    """Read in one state, in no time.  `flow_rule`: the reader is a flow's condition."""

    moment: Moment
    flow_rule: bool = False

    def leaf(self, leaf: Leaf) -> Pair:
        if isinstance(leaf, Compare):
            return self._compare(leaf)
        if isinstance(leaf, Flowing):
            return self._flowing(self.moment.layout.circuit.flows[leaf.flow])
        if isinstance(leaf, At) and self.flow_rule:
            return through_the_way(self.moment, leaf)
        truth = discrete(self.moment, leaf)
        return truth, truth

    def _compare(self, c: Compare) -> Pair:
        f = self.moment.form(c.form)
        near = number(self.moment.layout.context, near_edge(c))
        far = number(self.moment.layout.context, far_edge(c))
        return (f >= near, f > far) if c.order in (">=", ">") else (f <= near, f < far)

    def _flowing(self, flow: Flow) -> Pair:
        inner = Instant(self.moment, flow_rule=True)
        can, must = both_truths(inner, flow)
        f = self.moment.form(drop(flow))
        opening = number(self.moment.layout.context, flow.opening)
        if flow.one_way:
            above, strictly = f >= opening, f > opening
            return (
                all_of(can, downwards(self.moment, flow, above, negation(above))),
                all_of(must, downwards(self.moment, flow, strictly, f < opening)),
            )
        return can, all_of(must, downwards(self.moment, flow, f != opening))


@dataclass(frozen=True, slots=True)
class Cut:
    """Where an elapse step lies beside one landmark.

    Both may hold (it rests there); one of them must (no landmark is crossed).
    """

    up: z3.BoolRef
    down: z3.BoolRef


def cut(before: Moment, after: Moment, form: Form, constant: Fraction) -> Cut:
    """Both ends at or above the landmark; both ends at or below it."""
    f, g = before.form(form), after.form(form)
    c = number(before.layout.context, constant)
    return Cut(all_of(f >= c, g >= c), all_of(f <= c, g <= c))


@dataclass(frozen=True, slots=True)
class Inner(Reading):
    """Read inside an elapse step that crosses no landmark."""

    moment: Moment
    after: Moment
    flow_rule: bool = False

    def leaf(self, leaf: Leaf) -> Pair:
        if isinstance(leaf, Compare):
            return self._compare(leaf)
        if isinstance(leaf, Flowing):
            flow = self.moment.layout.circuit.flows[leaf.flow]
            above = falls(flow, self.moment, self.after)
            can, must = both_truths(Inner(self.moment, self.after, flow_rule=True), flow)
            return all_of(can, above), all_of(must, above)
        if isinstance(leaf, At) and self.flow_rule:
            return through_the_way(self.moment, leaf)
        truth = discrete(self.moment, leaf)
        return truth, truth

    def _compare(self, c: Compare) -> Pair:
        near = cut(self.moment, self.after, c.form, near_edge(c))
        far = cut(self.moment, self.after, c.form, far_edge(c))
        if exact(self.moment.layout.circuit, c.form):
            return inner_truth(c, near), inner_truth(c, far)
        if c.order in (">=", ">"):
            return near.up, negation(far.down)
        return near.down, negation(far.up)


def inner_truth(c: Compare, side: Cut) -> z3.BoolRef:
    """The comparison's one truth inside the step."""
    if c.order == ">=":
        return side.up
    if c.order == ">":
        return negation(side.down)
    return side.down if c.order == "<=" else negation(side.up)


def exact(circuit: Circuit, form: Form) -> bool:
    """The form is made of supplies and range controls only: no resting on its landmarks."""
    return all(n in circuit.supplies or n in circuit.range_controls for n in form.names)


def falls(flow: Flow, before: Moment, after: Moment) -> z3.BoolRef:
    """Upstream is strictly above downstream by inner truth, in a direction the flow has."""
    side = cut(before, after, drop(flow), flow.opening)
    if flow.one_way:
        return downwards(before, flow, negation(side.down), negation(side.up))
    return downwards(before, flow, any_of(negation(side.down), negation(side.up)))


def both_truths(reading: Reading, flow: Flow) -> Pair:
    """What a flow's condition may count as and must count as."""
    origin = Origin("flow", flow.name, "condition")
    return reading.can(flow.condition, origin), reading.must(flow.condition, origin)


def downwards(
    moment: Moment, flow: Flow, above: z3.BoolRef, below: z3.BoolRef | None = None
) -> z3.BoolRef:
    """Upstream is above downstream, or (`below`) the other way if the check valve is let go."""
    ties = moment.layout.ties
    if ties is None:
        return above
    if flow.opening:
        above = ties.truth(above, Origin("flow", flow.name, "opening"))
    if below is not None:
        back = all_of(
            below, ties.truth(moment.constant(False), Origin("flow", flow.name, "one way"))
        )
        above = any_of(above, back)
    return ties.truth(above, Origin("flow", flow.name, "downhill"))


@dataclass(frozen=True, slots=True)
class Judged(Reading):
    """How a property reads an elapse step: inner truth, flows as whichever breaks it."""

    moment: Moment
    after: Moment

    def leaf(self, leaf: Leaf) -> Pair:
        if isinstance(leaf, Compare):
            truth = inner_truth(leaf, cut(self.moment, self.after, leaf.form, leaf.constant))
            return truth, truth
        return Inner(self.moment, self.after).leaf(leaf)


@dataclass(frozen=True, slots=True)
class JudgedInstant(Reading):
    """How a property reads the state after a switch step, as written."""

    moment: Moment

    def leaf(self, leaf: Leaf) -> Pair:
        if isinstance(leaf, Compare):
            truth = self._as_written(leaf)
            return truth, truth
        if isinstance(leaf, Flowing):
            return self._flowing(self.moment.layout.circuit.flows[leaf.flow])
        return Instant(self.moment).leaf(leaf)

    def _as_written(self, c: Compare) -> z3.BoolRef:
        f, k = self.moment.form(c.form), number(self.moment.layout.context, c.constant)
        return {">=": f >= k, ">": f > k, "<=": f <= k, "<": f < k}[c.order]

    def _flowing(self, flow: Flow) -> Pair:
        f = self.moment.form(drop(flow))
        opening = number(self.moment.layout.context, flow.opening)
        can, must = both_truths(Instant(self.moment, flow_rule=True), flow)
        if flow.one_way:
            above = downwards(self.moment, flow, f > opening, f < opening)
        else:
            above = downwards(self.moment, flow, f != opening)
        return all_of(can, above), all_of(must, above)
