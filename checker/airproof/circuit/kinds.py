"""The kinds of things a circuit is made of, after names and units are settled.

Exact fractions in base units throughout: bar (gauge), litre, second, millimetre.
Every component kind of the language (relief valve, governor, double check
valve, ...) has been replaced by the primitives here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

from airproof.circuit.conditions import Condition
from airproof.circuit.properties import Assumption, Property

ATMOSPHERE = "atmosphere"


@dataclass(frozen=True, slots=True)
class Band:
    """A value known to lie between `low` and `high`, both included."""

    low: Fraction
    high: Fraction


@dataclass(frozen=True, slots=True)
class Supply:
    """An outside pressure that wanders within its stated range [bar, bar/s]."""

    name: str
    range: Band
    starts: Band
    rise: Fraction | None = None
    fall: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Volume:
    """Stored air.  `size` [litre] is None when the text states none; `kind` is the trade's word."""

    name: str
    kind: str
    size: Band | None
    starts: Band


@dataclass(frozen=True, slots=True)
class Control:
    """What a person or the outside moves between positions.

    `starts` lists the positions it may start in.  `ordered`: one place per
    step.  `sealed`: it stands there and nobody moves it.  `dwell` [s]: least
    time in each position.
    """

    name: str
    positions: tuple[str, ...]
    starts: tuple[str, ...]
    ordered: bool = False
    sealed: str | None = None
    dwell: Fraction | None = None
    worked_by: str | None = None


@dataclass(frozen=True, slots=True)
class RangeControl:
    """A control that is set to any pressure of its range [bar]; only switch steps move it."""

    name: str
    range: Band
    starts: Band
    worked_by: str | None = None


@dataclass(frozen=True, slots=True)
class Move:
    """One `moves to` clause of a device."""

    to: str
    when: Condition


@dataclass(frozen=True, slots=True)
class Device:
    """What moves by itself when a condition holds.

    `starts` lists the positions it may start in.  `starts_called`: it may
    start only in a position from which no move is called for, read in the
    start state itself.  `moving` [s]: time on the way, None = moves at once.
    `on_the_way`: how a flow reads it meanwhile.
    """

    name: str
    kind: str
    positions: tuple[str, ...]
    moves: tuple[Move, ...]
    starts: tuple[str, ...]
    starts_called: bool = False
    moving: Band | None = None
    on_the_way: Literal["any", "closed", "joined"] = "any"


@dataclass(frozen=True, slots=True)
class Timer:
    """Runs while its condition holds and expires after a time in `expires` [s]."""

    name: str
    runs: Condition
    expires: Band


@dataclass(frozen=True, slots=True)
class Choke:
    """A round hole [mm], with its relative tolerance already in the band."""

    diameter: Band


@dataclass(frozen=True, slots=True)
class Conductance:
    """Sonic conductance [litre/(s bar)] and critical pressure ratio of ISO 6358."""

    conductance: Band
    ratio: Fraction


@dataclass(frozen=True, slots=True)
class Rate:
    """Bounds on the amount moved per time [bar litre/s], whatever the pressures."""

    bounds: Band


Restriction = Choke | Conductance | Rate


@dataclass(frozen=True, slots=True)
class Flow:
    """A way for air from `source` to `target`, and back unless `one_way`.

    `source` and `target` name supplies, volumes or ATMOSPHERE.  `opening`
    [bar] is the check valve's opening pressure, 0 unless `one_way`.
    """

    name: str
    source: str
    target: str
    condition: Condition
    one_way: bool = False
    opening: Fraction = Fraction(0)
    restriction: Restriction | None = None


@dataclass(frozen=True, slots=True)
class Change:
    """A quantity changes at a speed in `speed` [unit/s] while `condition` holds."""

    speed: Band
    condition: Condition


@dataclass(frozen=True, slots=True)
class Quantity:
    """What is not air: it changes at the sum of the speeds that apply."""

    name: str
    unit: str
    starts: Band
    changes: tuple[Change, ...]


@dataclass(frozen=True, slots=True)
class Interlock:
    """A rule on one control.

    only:   it moves to `position` only while `condition`
    locked: it cannot leave `position` while `condition`
    forced: it is due to move to `position`, and nowhere else, while `condition`
    """

    name: str
    title: str
    control: str
    rule: Literal["only", "locked", "forced"]
    position: str
    condition: Condition


@dataclass(frozen=True, slots=True)
class Standing:
    """A standing state: what it pins; the rest is as the circuit starts."""

    name: str
    positions: Mapping[str, str]
    values: Mapping[str, Fraction]


@dataclass(frozen=True, slots=True)
class Circuit:
    """A whole circuit; every mapping is keyed by name, in the order of the text.

    `observed`: what the text marks as watched; where two circuits are compared.
    """

    name: str
    title: str
    supplies: Mapping[str, Supply] = field(default_factory=dict)
    volumes: Mapping[str, Volume] = field(default_factory=dict)
    controls: Mapping[str, Control] = field(default_factory=dict)
    range_controls: Mapping[str, RangeControl] = field(default_factory=dict)
    devices: Mapping[str, Device] = field(default_factory=dict)
    timers: Mapping[str, Timer] = field(default_factory=dict)
    flows: Mapping[str, Flow] = field(default_factory=dict)
    quantities: Mapping[str, Quantity] = field(default_factory=dict)
    interlocks: Mapping[str, Interlock] = field(default_factory=dict)
    signals: Mapping[str, Condition] = field(default_factory=dict)
    properties: Mapping[str, Property] = field(default_factory=dict)
    assumptions: Mapping[str, Assumption] = field(default_factory=dict)
    standings: Mapping[str, Standing] = field(default_factory=dict)
    drawings: Mapping[str, str] = field(default_factory=dict)
    observed: tuple[str, ...] = ()

    @property
    def positions(self) -> dict[str, tuple[str, ...]]:
        """The positions of every control and device."""
        controls = {name: control.positions for name, control in self.controls.items()}
        return controls | {name: device.positions for name, device in self.devices.items()}

    @property
    def value_starts(self) -> dict[str, Band]:
        """Where every supply, volume, range control and quantity may start."""
        found = {name: supply.starts for name, supply in self.supplies.items()}
        found |= {name: volume.starts for name, volume in self.volumes.items()}
        found |= {name: handle.starts for name, handle in self.range_controls.items()}
        return found | {name: quantity.starts for name, quantity in self.quantities.items()}
