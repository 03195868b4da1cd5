"""States and steps: the data that every account of the meaning shares."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

TimerState = Literal["idle", "running", "expired"]


@dataclass(frozen=True, slots=True)
class State:
    """One state of a circuit.

    positions: each control and device; a device on the way has the position
               it is bound for
    leaving:   for each device on the way, the position it left
    aged:      devices on the way for which time has passed since they set off
    values:    supplies, volumes, range controls [bar] and quantities [their unit]
    timers:    each timer
    fresh:     controls (range controls too) that moved in the instant with
               which the present stretch began, or in the present instant
    rested:    time has passed since the last switch step (true at the start)
    clocks:    [s] since a timer began or a device set off (as sized only)
    """

    positions: Mapping[str, str]
    values: Mapping[str, Fraction]
    leaving: Mapping[str, str] = field(default_factory=dict)
    aged: frozenset[str] = frozenset()
    timers: Mapping[str, TimerState] = field(default_factory=dict)
    fresh: frozenset[str] = frozenset()
    rested: bool = True
    clocks: Mapping[str, Fraction] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Monitor:
    """What a property remembers of the run so far.

    flags: bits named in the property's own account
    clock: [s] for properties with a time in them
    """

    flags: frozenset[str] = frozenset()
    clock: Fraction = Fraction(0)
    breached: bool = False


@dataclass(frozen=True, slots=True)
class Step:
    """A switch step (`duration` 0, no amounts) or an elapse step that ends in `after`.

    amounts: [bar litre] moved by each flow, negative from target to source;
             a missing flow moved nothing
    duration: [s]; None where the judgement does not depend on it
    """

    kind: Literal["switch", "elapse"]
    after: State
    amounts: Mapping[str, Fraction] = field(default_factory=dict)
    duration: Fraction | None = None
