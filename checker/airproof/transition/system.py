"""A transition system as z3 terms: variables, start, the two kinds of step.

Every conjunct is labelled with the variables it defines, so that a later
slice can be cut along them; conjuncts that only restrict carry no label.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import z3

from airproof.transition.terms import all_of

Sort = Literal["bool", "real"]


@dataclass(frozen=True, slots=True)
class Variable:
    """One state variable: its term before (`now`) and after (`then`) a step."""

    key: str
    sort: Sort
    now: z3.ExprRef
    then: z3.ExprRef


@dataclass(frozen=True, slots=True)
class Input:
    """A value chosen anew in each step: an amount [bar litre] or the duration [s]."""

    key: str
    term: z3.ExprRef


@dataclass(frozen=True, slots=True)
class Conjunct:
    """`term` must hold; `defines` lists the keys of the variables it determines."""

    term: z3.BoolRef
    defines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class System:
    """One circuit with at most one property's monitor.

    start ranges over `now`; switch and elapse over `now`, inputs and `then`;
    breached is the key of the monitor's latching variable, None without a property.
    """

    context: z3.Context
    variables: tuple[Variable, ...]
    inputs: tuple[Input, ...]
    start: tuple[Conjunct, ...]
    switch: tuple[Conjunct, ...]
    elapse: tuple[Conjunct, ...]
    control_moves: tuple[z3.BoolRef, ...]
    due: Mapping[str, z3.BoolRef]
    breached: str | None = None


def variable(context: z3.Context, key: str, sort: Sort) -> Variable:
    """A fresh variable; `'` marks the value after the step."""
    make = z3.Bool if sort == "bool" else z3.Real
    return Variable(key, sort, make(key, context), make(key + "'", context))


def conjunction(context: z3.Context, parts: tuple[Conjunct, ...]) -> z3.BoolRef:
    """All conjuncts as one term."""
    if not parts:
        return z3.BoolVal(True, context)
    return all_of([part.term for part in parts])


def memory_of(system: System) -> frozenset[str]:
    """The keys of what the system's monitor remembers."""
    return frozenset(v.key for v in system.variables if v.key.startswith("monitor "))
