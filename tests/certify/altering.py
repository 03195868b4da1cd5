"""A circuit altered in everything that a proof is said not to lean on.

Done on the circuit's own data and judged by the plain encoding, so that it
shares nothing with the ties by which the list was found: a comparison that
may always count as either (`EITHER`) takes the place of each leaf that is not
on the list, on the side from which the rule reads it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Literal, TypeVar

from airproof.circuit.conditions import AllOf, AnyOf, Condition, Not, compare, form_of
from airproof.circuit.kinds import (
    ATMOSPHERE,
    Band,
    Change,
    Circuit,
    Control,
    Device,
    Flow,
    Interlock,
    Move,
    Quantity,
    RangeControl,
    Supply,
    Timer,
    Volume,
)
from airproof.circuit.properties import Assumption, KeptRule, SupplyRule
from airproof.transition.origins import Kind, Origin, Rule

Side = Literal["can", "must"]
Sides = Mapping[tuple[int, ...], set[Side]]
Named = TypeVar("Named")

ANY = "anything"  # a supply that the altered circuit has besides
EITHER = compare(form_of({ANY: Fraction(1)}), ">=", Fraction(0), Fraction(1000))
WIDER = Fraction(5)
_SIDES: Mapping[tuple[Kind, Rule], Side] = {
    ("device", "enters"): "can",
    ("device", "due"): "must",
    ("device", "starts"): "must",
    ("timer", "runs"): "can",
    ("timer", "must run"): "must",
    ("timer", "reset"): "must",
    ("timer", "due"): "can",
    ("interlock", "due"): "must",
    ("interlock", "forces"): "can",
    ("quantity", "rises"): "can",
    ("quantity", "falls"): "can",
}


class Altered:
    """What becomes of each statement, given the origins that a proof leans on."""

    def __init__(self, circuit: Circuit, origins: Iterable[Origin]) -> None:
        self.whole, self.origins = circuit, tuple(origins)

    def circuit(self) -> Circuit:
        """The circuit with everything else altered."""
        c = self.whole
        assert ANY not in c.value_starts
        flows = {**_each(c.flows, self.flow), **dict(self.new_flows())}
        return replace(
            c,
            supplies={**_each(c.supplies, self.supply), ANY: _supply()},
            volumes=_each(c.volumes, self.volume),
            controls=_each(c.controls, self.control),
            range_controls=_each(c.range_controls, self.handle),
            devices=_each(c.devices, self.device),
            timers=_each(c.timers, self.timer),
            flows=flows,
            quantities=_each(c.quantities, self.quantity),
            interlocks={n: self.interlock(x) for n, x in c.interlocks.items() if self.any(n)},
            assumptions={n: self.assumption(x) for n, x in c.assumptions.items() if self.any(n)},
        )

    # ---- what is on the list

    def any(self, name: str) -> bool:
        return any(origin.name == name for origin in self.origins)

    def has(self, kind: Kind, name: str, rule: Rule) -> bool:
        return any((o.kind, o.name, o.rule) == (kind, name, rule) for o in self.origins)

    def of(self, kind: Kind, name: str, index: int = 0) -> list[Origin]:
        return [o for o in self.origins if (o.kind, o.name, o.index) == (kind, name, index)]

    # ---- statements

    def supply(self, s: Supply) -> Supply:
        low = 0 if self.has("supply", s.name, "low") else WIDER
        high = 0 if self.has("supply", s.name, "high") else WIDER
        stated = Band(s.range.low - low, s.range.high + high)
        return replace(s, range=stated, starts=self.starts("supply", s.name, s.starts))

    def starts(self, kind: Kind, name: str, band: Band) -> Band:
        kept = self.has(kind, name, "starts")
        return band if kept else Band(band.low - WIDER, band.high + WIDER)

    def volume(self, v: Volume) -> Volume:
        size = v.size if self.has("volume", v.name, "size") else None
        return replace(v, size=size, starts=self.starts("volume", v.name, v.starts))

    def new_flows(self) -> Iterator[tuple[str, Flow]]:
        """Where nothing says that a volume is tight, it is not."""
        for name in self.whole.volumes:
            if not self.has("volume", name, "tight"):
                for end in (ANY, ATMOSPHERE):
                    new = f"new {name} {end}"
                    yield new, Flow(new, end, name, EITHER)

    def control(self, c: Control) -> Control:
        starts = c.starts if c.sealed is None else (c.sealed,)
        return replace(
            c,
            starts=starts if self.has("control", c.name, "starts") else c.positions,
            sealed=c.sealed if self.has("control", c.name, "sealed") else None,
            ordered=c.ordered and self.has("control", c.name, "order"),
        )

    def handle(self, h: RangeControl) -> RangeControl:
        kept = self.has("control", h.name, "range")
        stated = h.range if kept else Band(h.range.low - WIDER, h.range.high + WIDER)
        return replace(h, range=stated, starts=self.starts("control", h.name, h.starts))

    def device(self, d: Device) -> Device:
        moves = [
            Move(m.to, altered(m.when, self.sides(self.of("device", d.name, i), m.when)))
            for i, m in enumerate(d.moves)
        ]
        entered = {move.to for move in d.moves}
        if not self.has("device", d.name, "never enters"):
            moves += [Move(place, EITHER) for place in d.positions if place not in entered]
        kept = any(o.rule == "starts" and not o.place for o in self.of("device", d.name))
        return replace(d, moves=tuple(moves), starts=d.starts if kept else d.positions)

    def timer(self, t: Timer) -> Timer:
        return replace(t, runs=altered(t.runs, self.sides(self.of("timer", t.name), t.runs)))

    def flow(self, f: Flow) -> Flow:
        kept = {o.path for o in self.of("flow", f.name) if o.rule == "condition"}
        sides: Sides = {path: {"can", "must"} for path in kept}
        opening = f.opening if self.has("flow", f.name, "opening") else Fraction(0)
        one_way = f.one_way and (opening > 0 or self.has("flow", f.name, "one way"))
        condition = altered(f.condition, sides)
        return replace(f, condition=condition, one_way=one_way, opening=opening)

    def quantity(self, q: Quantity) -> Quantity:
        changes = [
            replace(
                c,
                condition=altered(
                    c.condition, self.sides(self.of("quantity", q.name, i), c.condition)
                ),
            )
            for i, c in enumerate(q.changes)
        ]
        ways: tuple[tuple[Rule, Rule, int], ...] = (
            ("rises", "never rises", 1),
            ("falls", "never falls", -1),
        )
        for rule, never, speed in ways:
            if not self.has("quantity", q.name, rule) and not self.has("quantity", q.name, never):
                changes.append(Change(Band(Fraction(speed), Fraction(speed)), EITHER))
        return replace(q, changes=tuple(changes), starts=self.starts("quantity", q.name, q.starts))

    def interlock(self, lock: Interlock) -> Interlock:
        read = self.sides(self.of("interlock", lock.name), lock.condition, lock.rule)
        return replace(lock, condition=altered(lock.condition, read))

    def assumption(self, a: Assumption) -> Assumption:
        if isinstance(a.rule, SupplyRule):
            kept = {o.index for o in self.origins if o.name == a.name}
            left = tuple(c for i, c in enumerate(a.rule.comparisons) if i in kept)
            return replace(a, rule=SupplyRule(left))
        rule: KeptRule = a.rule
        read = self.sides(self.of("assumption", a.name), rule.condition, rule.rule)
        return replace(a, rule=replace(rule, condition=altered(rule.condition, read)))

    def sides(self, origins: Iterable[Origin], condition: Condition, ruling: str = "") -> Sides:
        """From which side each leaf is read by the rules on the list."""
        turned = _turned(condition)
        found: dict[tuple[int, ...], set[Side]] = defaultdict(set)
        for o in origins:
            if (o.kind, o.rule) == ("device", "starts") and not o.place:
                continue
            if (o.kind, o.rule) in _SIDES or o.rule == "needs":
                side = _SIDES.get((o.kind, o.rule)) or ("can" if ruling == "only" else "must")
                found[o.path].add(_other(side) if turned[o.path] else side)
        return found


def altered(condition: Condition, kept: Sides, path: tuple[int, ...] = ()) -> Condition:
    """The condition with each leaf loose on the sides from which nothing kept reads it."""
    if isinstance(condition, Not):
        return Not(altered(condition.part, kept, path))
    if isinstance(condition, AllOf | AnyOf) and condition.parts:
        parts = [altered(part, kept, (*path, i)) for i, part in enumerate(condition.parts)]
        return type(condition)(tuple(parts))
    sides = kept.get(path, set())
    if sides == {"can", "must"}:
        return condition
    if not sides:
        return EITHER
    return AllOf((condition, EITHER)) if "can" in sides else AnyOf((condition, EITHER))


def _turned(
    condition: Condition, path: tuple[int, ...] = (), denied: bool = False
) -> dict[tuple[int, ...], bool]:
    """For each leaf, whether an odd number of `not` stands over it."""
    if isinstance(condition, Not):
        return _turned(condition.part, path, not denied)
    if isinstance(condition, AllOf | AnyOf) and condition.parts:
        found: dict[tuple[int, ...], bool] = {}
        for i, part in enumerate(condition.parts):
            found |= _turned(part, (*path, i), denied)
        return found
    return {path: denied}


def _other(side: Side) -> Side:
    return "must" if side == "can" else "can"


def _supply() -> Supply:
    wide = Band(Fraction(-50), Fraction(50))
    return Supply(ANY, wide, wide)


def _each(things: Mapping[str, Named], change: Callable[[Named], Named]) -> dict[str, Named]:
    return {name: change(thing) for name, thing in things.items()}
