"""What works a valve: hands, pilots, springs, electricity, as its moves say."""

from __future__ import annotations

from collections.abc import Collection

from airproof.circuit.conditions import (
    AnyOf,
    At,
    Compare,
    Condition,
    GoneTo,
    Not,
    leaves,
)
from airproof.circuit.kinds import Circuit
from airproof.report.schematic import labels
from airproof.report.schematic.cells import Pilot
from airproof.report.words import inward

NONE = Pilot("")


def pair(circuit: Circuit, name: str, upper: Collection[str]) -> tuple[Pilot, Pilot]:
    """What brings a control or device to the upper positions, and what takes it away."""
    device = circuit.devices.get(name)
    if device is None:
        return Pilot("hand"), NONE
    there = [move.when for move in device.moves if move.to in upper]
    away = [move.when for move in device.moves if move.to not in upper]
    top, bottom = _pilot(circuit, there), _pilot(circuit, away)
    if not _returns(there, away):
        return top, bottom
    if _on_falling(there[0]):
        return Pilot("spring"), _with_back(bottom, top, there[0])
    return _with_back(top, bottom, away[0]), Pilot("spring")


def _with_back(pilot: Pilot, spring: Pilot, back: Condition) -> Pilot:
    """A pilot that also says at what setting its spring brings the valve back."""
    more = spring.reads[1:] if isinstance(inward(back), Compare) else ()
    return Pilot(pilot.engine, (*pilot.reads, *more))


def _on_falling(when: Condition) -> bool:
    """Whether a pressure that falls brings it there: what a spring does against a pilot."""
    simple = inward(when)
    return isinstance(simple, Compare) and simple.order in ("<", "<=")


def other(circuit: Circuit, condition: Condition) -> Pilot:
    """What works a valve that stands for a condition without a device of its own."""
    return Pilot(_pilot(circuit, [condition]).engine)


def _pilot(circuit: Circuit, conditions: list[Condition]) -> Pilot:
    if not conditions:
        return NONE
    whole = conditions[0] if len(conditions) == 1 else AnyOf(tuple(conditions))
    found = list(leaves(whole))
    if any(isinstance(leaf, Compare) for leaf in found):
        return Pilot("pilot", labels.pilot(whole, circuit))
    hands = all(
        (isinstance(leaf, At) and leaf.component in circuit.controls) or isinstance(leaf, GoneTo)
        for leaf in found
    )
    return Pilot("hand" if hands else "electric")


def _returns(there: list[Condition], away: list[Condition]) -> bool:
    """Whether leaving is only the want of what called it there: a spring does that."""
    if len(there) != 1 or len(away) != 1:
        return False
    one, other = inward(there[0]), inward(away[0])
    if isinstance(one, Compare) and isinstance(other, Compare):
        return one.form == other.form and one.order[0] != other.order[0]
    return inward(Not(one)) == other
