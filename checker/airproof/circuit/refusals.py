"""Why a start or a step is not one of the circuit's: codes and names, no sentences."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from airproof.circuit.conditions import Form

Rule = Literal[
    # any state
    "names",  # not exactly the circuit's names, or a position that is none
    # starts
    "start position",
    "start value",
    "start memory",  # on the way, aged, fresh, timed or not rested
    "start called",
    "supply rule",  # ends of elapse steps as well
    # switch steps
    "nothing moves",
    "memory",  # fresh, rested or aged not as the step makes them; elapse steps as well
    "value changed",
    "sealed",
    "not a neighbour",
    "twice in no time",
    "interlock",
    "range",  # of a range control or a supply
    "no such move",
    "not called",
    "not aged",
    "timer",  # elapse steps as well
    "takes no time",
    # elapse steps
    "moved",
    "landmark",
    "due",
    "no such flow",
    "flow shut",
    "uphill",
    "air balance",
    "not filled",
    "not drained",
    "quantity",
    "duration",
]


@dataclass(frozen=True, slots=True)
class Refusal:
    """One broken rule, the names it concerns, and the landmark that was crossed."""

    rule: Rule
    names: tuple[str, ...] = ()
    mark: tuple[Form, Fraction] | None = None
