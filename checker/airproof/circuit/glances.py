"""How a condition is read off the bits of a board: `readings` once more, made quick.

`can`: it may count as true.  `must`: it cannot count as false.  The bits are
those of a state, or for an elapse step those of its inside: a form that moves
off a landmark counts on the side it moves to.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from airproof.circuit.board import Board
from airproof.circuit.conditions import (
    AllOf,
    AnyOf,
    At,
    Compare,
    Condition,
    Expired,
    Flowing,
    GoneTo,
    Leaf,
    Not,
    OnTheWay,
    Order,
    Truth,
    compare,
    form_of,
)
from airproof.circuit.formulas import ALWAYS, Formula, all_of, any_of, has, opposite, truth
from airproof.circuit.kinds import ATMOSPHERE, Flow
from airproof.circuit.readings import NOTHING, edges

Side = Literal["can", "must"]
Reader = Literal["plain", "passing", "judged"]  # devices and controls; flows; properties
OTHER: dict[Side, Side] = {"can": "must", "must": "can"}


@dataclass(frozen=True, slots=True)
class Glance:
    """Reads in one state (`instant`), or inside an elapse step."""

    board: Board
    instant: bool

    def plain(self, condition: Condition, side: Side) -> Formula:
        """As devices, timers and interlocks read it."""
        return self._read(condition, side, "plain")

    def passing(self, condition: Condition, side: Side) -> Formula:
        """As flows and quantities read it: a device on the way counts as it is stated to."""
        return self._read(condition, side, "passing")

    def judged(self, condition: Condition, side: Side) -> Formula:
        """As properties read it: can where its truth helps a breach, must where it hinders one."""
        return self._read(condition, side, "judged")

    def as_written(self, leaf: Compare) -> Formula:
        """The comparison, true at its edge as its order says."""
        return self._side(leaf, leaf.order)

    def downhill(self, flow: Flow, order: Literal[">=", ">"], *, backwards: bool) -> Formula:
        """Upstream minus downstream against the opening pressure."""
        weights = {flow.source: NOTHING, flow.target: NOTHING}
        weights[flow.source] += -1 if backwards else 1
        weights[flow.target] -= -1 if backwards else 1
        weights.pop(ATMOSPHERE, None)
        form, opening = form_of(weights), flow.opening if flow.one_way else NOTHING
        if not form.terms:
            return truth(opening <= 0 if order == ">=" else opening < 0)
        return self.as_written(compare(form, order, opening))

    def _read(self, condition: Condition, side: Side, reader: Reader) -> Formula:
        match condition:
            case Not(part):
                return opposite(self._read(part, OTHER[side], reader))
            case AllOf(parts):
                return all_of(self._read(part, side, reader) for part in parts)
            case AnyOf(parts):
                return any_of(self._read(part, side, reader) for part in parts)
        return self._leaf(condition, side, reader)

    def _leaf(self, leaf: Leaf, side: Side, reader: Reader) -> Formula:
        board = self.board
        match leaf:
            case Compare():
                return self.as_written(leaf) if reader == "judged" else self._edge(leaf, side)
            case Flowing(name):
                return self._flowing(board.circuit.flows[name], side, reader)
            case At(name, position):
                return has(self._at(name, position, side, reader))
            case OnTheWay(device):
                return has(board.way[device]) if device in board.way else truth(False)
            case Expired(timer):
                return has(board.timer[timer, "expired"])
            case GoneTo(control, position):
                return has(board.fresh[control] | board.bound[control, position])
            case Truth(value):
                return truth(value)

    def _at(self, name: str, position: str, side: Side, reader: Reader) -> int:
        """At rest there, or for a flow on the way from there or to there as well."""
        board, place = self.board, (name, position)
        if reader != "passing" or name not in board.way:
            return board.rests[place]
        word = board.circuit.devices[name].on_the_way
        counts = word == "joined" or (word == "any" and side == "can")
        return (board.joins if counts else board.rests)[place]

    def _edge(self, leaf: Compare, side: Side) -> Formula:
        near, far = edges(leaf)
        edge = compare(leaf.form, leaf.order, near if side == "can" else far)
        if not self.instant and {n for n, _ in leaf.form.terms} <= self.board.exact:
            return self.as_written(edge)
        return self._side(edge, _at_edge(leaf.order, counts=side == "can"))

    def _side(self, leaf: Compare, order: Order) -> Formula:
        low, high = self.board.marks[leaf.form, leaf.constant]
        match order:
            case ">=":
                return has(low)
            case ">":
                return opposite(has(high))
            case "<=":
                return has(high)
            case "<":
                return opposite(has(low))

    def _flowing(self, flow: Flow, side: Side, reader: Reader) -> Formula:
        strictly = side == "must" or not self.instant or reader == "judged"
        ways = [False] if flow.one_way else [False, True]
        if not strictly and not flow.one_way:
            downhill: Formula = ALWAYS
        else:
            downhill = any_of(
                self.downhill(flow, ">" if strictly else ">=", backwards=back) for back in ways
            )
        return all_of((self.passing(flow.condition, side), downhill))


def _at_edge(order: Order, *, counts: bool) -> Order:
    """The order that makes a comparison true, or false, at its edge."""
    upwards = order in (">=", ">")
    if counts:
        return ">=" if upwards else "<="
    return ">" if upwards else "<"
