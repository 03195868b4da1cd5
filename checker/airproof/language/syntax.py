"""The tree of a text: one class per rule of `grammar/circuit.lark`.

Names are not looked up yet and kinds are not yet expanded.  Numbers are exact;
`Measure.value` is in base units (bar gauge, litre, s, mm).  Where a statement
itself says which dimension is due (a supply's range, a time, a choke), the
parser has checked it; in conditions, states and quantities the resolver does.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from airproof.base.quantities import Unit
from airproof.base.source import Span

# ---- words and numbers


@dataclass(frozen=True, slots=True)
class Name:
    """A name as written, with dots after parts were fitted: `cab1.handle`."""

    text: str
    span: Span


@dataclass(frozen=True, slots=True)
class Title:
    """A quoted text with its escapes resolved."""

    text: str
    span: Span


@dataclass(frozen=True, slots=True)
class Measure:
    """A number and its unit.  `value` is in base units, `written` the number as it stands.

    A plain number has the unit PLAIN (name ""), a percentage the unit PERCENT.
    """

    value: Fraction
    unit: Unit
    written: str
    span: Span


@dataclass(frozen=True, slots=True)
class Extent:
    """`5 bar`, `5 bar +- 0.1 bar`, `3 litre +- 10 %` or `0 bar .. 8 bar`.

    `tolerance` is a Measure of the same dimension or of unit PERCENT; never
    together with `last`.  In `A .. B` a missing unit of A is that of B.
    """

    first: Measure
    last: Measure | None
    tolerance: Measure | None
    span: Span

    @property
    def spread(self) -> Fraction:
        """The tolerance in base units, 0 if there is none."""
        if self.tolerance is None:
            return Fraction(0)
        if self.tolerance.unit.name == "%":
            return abs(self.first.value) * self.tolerance.value
        return self.tolerance.value

    @property
    def low(self) -> Fraction:
        """The least value in base units."""
        return self.first.value - self.spread

    @property
    def high(self) -> Fraction:
        """The greatest value in base units."""
        return (self.last or self.first).value + self.spread


@dataclass(frozen=True, slots=True)
class Drawing:
    """`drawing "B-104" item 7`."""

    sheet: str
    item: str | None
    span: Span


# ---- conditions


@dataclass(frozen=True, slots=True)
class Term:
    """`2.5 times pipe`, with the sign that stands before it; weight 1 if none is written."""

    weight: Fraction
    name: Name
    span: Span


@dataclass(frozen=True, slots=True)
class Constant:
    """A measure inside a form, `sign` +1 or -1."""

    sign: int
    measure: Measure
    span: Span


@dataclass(frozen=True, slots=True)
class Form:
    """A sum of terms and constants in the order of the text; `atmosphere` may be a term."""

    parts: tuple[Term | Constant, ...]
    span: Span


@dataclass(frozen=True, slots=True)
class Comparison:
    """`left order right`; `X is below Y` has the order `<`, `X is above Y` has `>`.

    `tolerance` is the one after the whole comparison.
    """

    left: Form
    order: Literal[">=", ">", "<=", "<"]
    right: Form
    tolerance: Measure | None
    words: bool  # written with `is below` / `is above`
    span: Span


@dataclass(frozen=True, slots=True)
class Offset:
    """`left is by below right`: right - left >= by; `above`: left - right >= by."""

    left: Form
    by: Measure
    side: Literal["below", "above"]
    right: Form
    tolerance: Measure | None
    span: Span


@dataclass(frozen=True, slots=True)
class Is:
    """`lever is lift`, `lever is not lift`."""

    subject: Name
    position: Name
    negated: bool
    span: Span


@dataclass(frozen=True, slots=True)
class IsMoving:
    """`lockout is moving`, `lockout is not moving`."""

    subject: Name
    negated: bool
    span: Span


@dataclass(frozen=True, slots=True)
class IsFlowing:
    """`lift is flowing`, `lift is not flowing`."""

    subject: Name
    negated: bool
    span: Span


@dataclass(frozen=True, slots=True)
class HasExpired:
    """`notice has expired`, `notice has not expired`."""

    subject: Name
    negated: bool
    span: Span


@dataclass(frozen=True, slots=True)
class HasGoneTo:
    """`lever has gone to lift`."""

    subject: Name
    position: Name
    span: Span


@dataclass(frozen=True, slots=True)
class Signalled:
    """A bare name: a signal, its condition to be looked up."""

    name: Name
    span: Span


@dataclass(frozen=True, slots=True)
class Negation:
    part: Condition
    span: Span


@dataclass(frozen=True, slots=True)
class All:
    """`A and B and C`; a part that is an All or Some was in brackets."""

    parts: tuple[Condition, ...]
    span: Span


@dataclass(frozen=True, slots=True)
class Some:
    """`A or B or C`; a part that is an All or Some was in brackets."""

    parts: tuple[Condition, ...]
    span: Span


Condition = (
    Comparison
    | Offset
    | Is
    | IsMoving
    | IsFlowing
    | HasExpired
    | HasGoneTo
    | Signalled
    | Negation
    | All
    | Some
)

# ---- restrictions


@dataclass(frozen=True, slots=True)
class Choke:
    """`choke 1.2 mm +- 10 %`."""

    diameter: Extent
    span: Span


@dataclass(frozen=True, slots=True)
class Conductance:
    """`conductance 0.5 l/(s bar) +- 10 %, ratio 0.4`."""

    conductance: Extent
    ratio: Measure
    span: Span


@dataclass(frozen=True, slots=True)
class Moving:
    """`moving 0.3 .. 0.4 bar.litre/s`."""

    bounds: Extent
    span: Span


Restriction = Choke | Conductance | Moving

# ---- circuit, parts, places of air


@dataclass(frozen=True, slots=True)
class Circuit:
    """`circuit winder "title"`."""

    name: Name
    title: Title | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class Include:
    """`include "file.circuit"`."""

    path: Title
    span: Span


@dataclass(frozen=True, slots=True)
class Part:
    """`part cab "title"` with `ports feed, out` and its statements, up to `end part`."""

    name: Name
    title: Title | None
    ports: tuple[Name, ...]
    body: tuple[Statement, ...]
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class Binding:
    """`feed from main` or `out to pipe`: the two words mean the same."""

    port: Name
    word: Literal["from", "to"]
    target: Name
    span: Span


@dataclass(frozen=True, slots=True)
class Fit:
    """`fit cab as cab1, feed from main, out to pipe`."""

    part: Name
    name: Name
    bindings: tuple[Binding, ...]
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class Supply:
    """`supply main: 0 bar .. 8 bar, starts 7 bar, rises at most 0.5 bar/s`."""

    name: Name
    range: Extent
    starts: Extent | None
    rise: Measure | None
    fall: Measure | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class Volume:
    """`reservoir pilot: 3 litre +- 10 %, starts 0 bar`."""

    kind: Literal["reservoir", "pipe", "cylinder", "chamber"]
    name: Name
    size: Extent | None
    starts: Extent | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class Quantity:
    """`quantity level: starts 0 mm, changes at 1 mm/s while pump is on, at -2 mm/s while ...`."""

    name: Name
    starts: Extent | None
    changes: tuple[Change, ...]
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class Change:
    """`at 1 mm/s .. 2 mm/s while COND`; no condition = always."""

    speed: Extent
    condition: Condition | None
    span: Span


# ---- controls, devices, timers


@dataclass(frozen=True, slots=True)
class Control:
    """`control lever: brake, hold, lift; in that order; starts brake; worked by winderman`.

    `starts` is empty if the text says nothing.
    """

    name: Name
    positions: tuple[Name, ...]
    starts: tuple[Name, ...]
    ordered: bool
    sealed: Name | None
    dwell: Measure | None
    worked_by: Name | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class RangeControl:
    """`control handle: 0 bar .. 5 bar; starts 0 bar; worked by driver`."""

    name: Name
    range: Extent
    starts: Extent | None
    worked_by: Name | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class Plain:
    """`picked while COND, dropped otherwise`."""

    position: Name
    condition: Condition
    otherwise: Name
    span: Span


@dataclass(frozen=True, slots=True)
class Move:
    """`moves to open when COND`."""

    to: Name
    condition: Condition
    span: Span


@dataclass(frozen=True, slots=True)
class Branch:
    """`to brake when open or half, choke 3 mm`; `when` is empty for `to atmosphere otherwise`."""

    target: Name
    when: tuple[Name, ...]
    restriction: Restriction | None
    span: Span


@dataclass(frozen=True, slots=True)
class Joins:
    """`joins pipe to brake when open, to atmosphere otherwise`."""

    source: Name
    branches: tuple[Branch, ...]
    span: Span


@dataclass(frozen=True, slots=True)
class Device:
    """`valve|relay|switch|latch NAME: ...`.

    `positions`: as listed; with `plain`, its two; empty if the text lists none
    (a valve that only `joins`).  `starts` is empty if the text says nothing.
    """

    kind: Literal["valve", "relay", "switch", "latch"]
    name: Name
    positions: tuple[Name, ...]
    plain: Plain | None
    moves: tuple[Move, ...]
    joins: tuple[Joins, ...]
    starts: tuple[Name, ...]
    moving: Extent | None
    on_the_way: Literal["any", "closed", "joined"] | None
    latched: bool
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class Timer:
    """`timer notice: runs while COND; expires after 2 s .. 2.5 s`."""

    name: Name
    runs: Condition
    expires: Extent
    drawing: Drawing | None
    span: Span


# ---- rules


@dataclass(frozen=True, slots=True)
class Rule:
    """`lever moves to lift only while COND`, `lever is locked in ...`, `lever is forced to ...`."""

    kind: Literal["only", "locked", "forced"]
    control: Name
    position: Name
    condition: Condition
    span: Span


@dataclass(frozen=True, slots=True)
class Interlock:
    """`interlock NAME "title"` and one rule; a nameless one has name None."""

    name: Name | None
    title: Title | None
    rule: Rule
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class AlwaysRule:
    """`always main >= 4 bar` in an assumption."""

    condition: Condition
    span: Span


@dataclass(frozen=True, slots=True)
class Assumption:
    name: Name
    title: Title | None
    rule: Rule | AlwaysRule
    drawing: Drawing | None
    span: Span


# ---- flows and the kinds that stand for flows and devices


@dataclass(frozen=True, slots=True)
class Flow:
    """`flow lift: main -> brake while COND, choke 4 mm, one way opening at 0.2 bar`."""

    name: Name
    source: Name
    target: Name
    condition: Condition | None
    restriction: Restriction | None
    one_way: bool
    opening: Measure | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class DoubleCheckValve:
    """`double check valve NAME: A and B to C`."""

    name: Name
    first: Name
    second: Name
    target: Name
    restriction: Restriction | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class ReliefValve:
    """`relief valve NAME: A -> B, opens at 8 bar +- 0.1 bar, shuts at 7.5 bar +- 0.1 bar`."""

    name: Name
    source: Name
    target: Name
    opens: Extent
    shuts: Extent
    restriction: Restriction | None
    moving: Extent | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class ReducingValve:
    """`reducing valve NAME: A -> B, set to 5 bar +- 0.1 bar`."""

    name: Name
    source: Name
    target: Name
    setting: Extent
    restriction: Restriction | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class SelfLappingValve:
    """`self-lapping valve NAME: A -> B, exhaust atmosphere, follows HANDLE +- 0.05 bar`."""

    name: Name
    source: Name
    target: Name
    exhaust: Name
    follows: Name
    tolerance: Measure | None
    restriction: Restriction | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class QuickExhaustValve:
    """`quick-exhaust valve NAME: A to B, exhaust atmosphere`."""

    name: Name
    source: Name
    target: Name
    exhaust: Name
    restriction: Restriction | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class Governor:
    """`governor NAME: on MAIN, starts at 7 bar +- 0.1 bar, stops at 8 bar +- 0.1 bar`.

    `starts` as for every device (`; starts running`), empty if the text says nothing.
    """

    name: Name
    watches: Name
    starts_at: Extent
    stops_at: Extent
    starts: tuple[Name, ...]
    moving: Extent | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class PressureSwitch:
    """`pressure switch NAME: on PIPE, closes at 4.5 bar, opens at 4.0 bar; starts open`."""

    name: Name
    watches: Name
    closes: Extent
    opens: Extent
    starts: tuple[Name, ...]
    moving: Extent | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class IsolatingCock:
    """`isolating cock NAME: A to B; starts open; worked by fitter; sealed open`."""

    name: Name
    source: Name
    target: Name
    starts: tuple[Name, ...]
    sealed: Name | None
    worked_by: Name | None
    restriction: Restriction | None
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class SpringCylinder:
    """`spring-applied cylinder NAME: 12 litre, starts 0 bar; on below 1 bar, off above 3 bar`."""

    name: Name
    size: Extent | None
    starts: Extent | None
    on_below: Extent
    off_above: Extent
    drawing: Drawing | None
    span: Span


# ---- signals, states, properties


@dataclass(frozen=True, slots=True)
class Signal:
    """`signal low_supply: main < 4.6 bar`."""

    name: Name
    condition: Condition
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class Observe:
    """`observe brake, lockout`: what is watched where two circuits are compared."""

    names: tuple[Name, ...]
    span: Span


@dataclass(frozen=True, slots=True)
class ValuePin:
    """`main = 7 bar` in a standing state."""

    name: Name
    value: Measure
    span: Span


@dataclass(frozen=True, slots=True)
class PositionPin:
    """`lever is brake` in a standing state."""

    name: Name
    position: Name
    span: Span


@dataclass(frozen=True, slots=True)
class State:
    """`state charged: main = 7 bar, pipe = 5 bar, lever is brake`."""

    name: Name
    pins: tuple[ValuePin | PositionPin, ...]
    drawing: Drawing | None
    span: Span


@dataclass(frozen=True, slots=True)
class Never:
    """`never A while B`."""

    act: Condition
    meanwhile: Condition | None
    span: Span


@dataclass(frozen=True, slots=True)
class Always:
    condition: Condition
    span: Span


@dataclass(frozen=True, slots=True)
class Whenever:
    """`whenever A, B` or `whenever A, B within T`."""

    cause: Condition
    answer: Condition
    within: Measure | None
    span: Span


@dataclass(frozen=True, slots=True)
class OnlyAfter:
    """`A only after B since C`."""

    act: Condition
    leave: Condition
    since: Condition | None
    span: Span


@dataclass(frozen=True, slots=True)
class AfterNever:
    """`after A, never B until C`."""

    cause: Condition
    bad: Condition
    until: Condition | None
    span: Span


@dataclass(frozen=True, slots=True)
class OnceLasted:
    """`once A has lasted T, B`."""

    cause: Condition
    lasted: Measure
    answer: Condition
    span: Span


@dataclass(frozen=True, slots=True)
class Lasts:
    """`A lasts at least T`, `A lasts at most T`."""

    state: Condition
    bound: Literal["least", "most"]
    limit: Measure
    span: Span


@dataclass(frozen=True, slots=True)
class Possible:
    goal: Condition
    span: Span


Sentence = Never | Always | Whenever | OnlyAfter | AfterNever | OnceLasted | Lasts | Possible


@dataclass(frozen=True, slots=True)
class Property:
    """`property NAME "title"`, its clauses and one sentence."""

    name: Name
    title: Title
    severity: Name | None
    reason: Title | None
    hazard: Title | None
    sentence: Sentence
    instant: bool  # `even for an instant`
    start: Name | None  # `from STATE`
    drawing: Drawing | None
    span: Span


Statement = (
    Circuit
    | Include
    | Part
    | Fit
    | Supply
    | Volume
    | Quantity
    | Control
    | RangeControl
    | Device
    | Timer
    | Interlock
    | Assumption
    | Flow
    | DoubleCheckValve
    | ReliefValve
    | ReducingValve
    | SelfLappingValve
    | QuickExhaustValve
    | Governor
    | PressureSwitch
    | IsolatingCock
    | SpringCylinder
    | Signal
    | State
    | Observe
    | Property
)


@dataclass(frozen=True, slots=True)
class Document:
    """The statements of one text in their order; `circuit NAME` is one of them."""

    path: str
    statements: tuple[Statement, ...]
