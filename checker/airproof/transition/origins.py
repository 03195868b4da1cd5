"""Where a piece of a transition system comes from: one rule of one statement."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal[
    "device", "timer", "control", "interlock", "assumption", "flow", "volume", "quantity", "supply"
]
Rule = Literal[
    "starts",  # where it starts; with a place: that it starts there if it is called there
    "enters",  # a device moves to a place only while its condition
    "never enters",  # no move of the device leads to the place
    "due",  # it must move before time passes
    "travel",  # a device with a moving time sets off, turns round, arrives
    "runs",  # a timer runs only while its condition
    "must run",  # a timer runs whenever its condition
    "expires",  # a timer expires only when it ran
    "reset",  # a timer is reset only when its condition has ended
    "order",  # one place per step
    "sealed",  # nobody moves it
    "once",  # moved at most once in no time
    "range",  # set within its range
    "needs",  # what an interlock or a kept rule asks of a move
    "forces",  # only a forced move is made twice in no time
    "condition",  # air passes only while the flow's condition
    "downhill",  # air passes only from the flow's higher end to its lower one
    "one way",  # the check valve
    "opening",  # the check valve's opening pressure
    "tight",  # air comes and goes through the stated flows only
    "size",  # the stated size
    "rises",  # a quantity rises only while a condition
    "falls",  # a quantity falls only while a condition
    "never rises",  # no change of the quantity leads upwards
    "never falls",  # no change of the quantity leads downwards
    "low",  # the lower end of a supply's range
    "high",  # the upper end
    "always",  # an assumption about supplies
]


@dataclass(frozen=True, slots=True)
class Origin:
    """One rule of one statement.

    place: the position concerned, for the moves of a device
    index: which of the statement's clauses (moves, changes, comparisons), from 0
    path:  which leaf of the condition, as indices from the root (`not` has no index)
    """

    kind: Kind
    name: str
    rule: Rule
    place: str = ""
    index: int = 0
    path: tuple[int, ...] = ()

    def at(self, index: int) -> Origin:
        """The same rule, of one clause of the statement."""
        return Origin(self.kind, self.name, self.rule, self.place, index)

    def to(self, rule: Rule) -> Origin:
        """Another rule of the same statement."""
        return Origin(self.kind, self.name, rule, self.place, self.index)

    def leaf(self, path: tuple[int, ...]) -> Origin:
        """The same rule, of one leaf of its condition."""
        return Origin(self.kind, self.name, self.rule, self.place, self.index, path)
