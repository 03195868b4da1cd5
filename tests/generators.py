"""Random circuits, for tests that set one account of the meaning against another.

Everything is drawn from the `random.Random` that is handed in, so a seed is a
circuit.  Constants lie on a coarse grid, so that landmarks and starts often
coincide: that is where rules differ.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from random import Random
from typing import Literal, TypeVar

from airproof.circuit.conditions import (
    YES,
    AllOf,
    AnyOf,
    At,
    Compare,
    Condition,
    Expired,
    Flowing,
    Form,
    GoneTo,
    Not,
    OnTheWay,
    Order,
    Truth,
    compare,
    form_of,
)
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
    Standing,
    Supply,
    Timer,
    Volume,
)
from airproof.circuit.properties import (
    AfterNever,
    Assumption,
    KeptRule,
    Lasts,
    Never,
    OnceLasted,
    OnlyAfter,
    Possible,
    Property,
    Sentence,
    SupplyRule,
    Within,
)
from circuit.small import Thing
from circuit.small import circuit as assembled

Item = TypeVar("Item")
Word = Literal["any", "closed", "joined"]
ORDERS: tuple[Order, ...] = (">=", ">", "<=", "<")
WEIGHTS = (Fraction(1), Fraction(1), Fraction(2), Fraction(1, 2), Fraction(-1), Fraction(5, 2))
TOLERANCES = (Fraction(0), Fraction(0), Fraction(1, 2), Fraction(1))
LIMITS = (Fraction(0), Fraction(1), Fraction(1), Fraction(3, 2), Fraction(2))
ASKED = "asked0"  # the name of each circuit's first property


def finite(rng: Random, *, most: int = 400, asked: int = 1) -> Circuit:
    """A circuit without any number, of at most `most` combinations of its members' states.

    It has `asked` properties.
    """
    while True:
        maker = _Maker(rng)
        maker.members(controls=(0, 2), devices=(0, 3), timers=(0, 2))
        if 4 <= maker.combinations() <= most:
            return maker.finish(asked)


def airy(rng: Random) -> Circuit:
    """A circuit of supplies, volumes, flows and quantities, with a few members that switch."""
    maker = _Maker(rng)
    maker.places()
    maker.members(controls=(0, 2), devices=(0, 2), timers=(0, 1))
    return maker.finish()


class _Maker:
    """A circuit in the making; conditions name only what has been declared before."""

    def __init__(self, rng: Random) -> None:
        self.rng = rng
        self.supplies: list[str] = []
        self.volumes: list[str] = []
        self.handles: list[str] = []
        self.quantities: list[str] = []
        self.flows: list[Flow] = []
        self.controls: list[Control] = []
        self.devices: list[Device] = []
        self.timers: list[str] = []
        self.things: list[Thing] = []

    # ---- small draws

    def some(self, low: int, high: int) -> int:
        return self.rng.randint(low, high)

    def one_in(self, count: int) -> bool:
        return self.rng.randrange(count) == 0

    def pick(self, items: Sequence[Item]) -> Item:
        return self.rng.choice(items)

    def subset(self, items: tuple[str, ...]) -> tuple[str, ...]:
        """One of them at least, in their order."""
        chosen = {self.pick(items)} | {item for item in items if self.one_in(3)}
        return tuple(item for item in items if item in chosen)

    def level(self) -> Fraction:
        return Fraction(self.some(0, 4))

    def band(self, low: int, high: int) -> Band:
        ends = sorted((self.some(low, high), self.some(low, high)))
        return Band(Fraction(ends[0]), Fraction(ends[1]))

    # ---- places for air, and what is not air

    def places(self) -> None:
        for number in range(self.some(1, 2)):
            self.supplies.append(f"main{number}")
            stated = Band(Fraction(-self.some(0, 1)), Fraction(self.some(4, 6)))
            self.things.append(Supply(f"main{number}", stated, self.band(0, 4)))
        for number in range(self.some(1, 3)):
            self.volumes.append(f"tank{number}")
            self.things.append(Volume(f"tank{number}", "reservoir", self._size(), self.band(0, 4)))
        if self.one_in(3):
            self.handles.append("handle")
            stated = Band(Fraction(0), Fraction(4))
            self.things.append(RangeControl("handle", stated, self.band(0, 4)))
        self.quantities = ["level"] if self.one_in(2) else []

    def _size(self) -> Band | None:
        if self.one_in(3):
            return None
        size = Fraction(self.some(1, 3))
        return Band(size, size + Fraction(self.some(0, 2), 2))

    def flow(self, name: str) -> Flow:
        """Any two places; one of them at least is a volume, nearly always."""
        ends = [*self.supplies, *self.volumes, ATMOSPHERE]
        one = self.pick(ends if self.one_in(6) else self.volumes)
        other = self.pick([end for end in ends if end != one])
        source, target = self.rng.sample((one, other), 2)
        one_way = self.one_in(2)
        opening = self.pick((Fraction(0), Fraction(1, 2), Fraction(1))) if one_way else Fraction(0)
        return Flow(name, source, target, self._flow_condition(), one_way, opening)

    def _flow_condition(self) -> Condition:
        moving = [device for device in self.devices if device.moving]
        if moving and self.one_in(2):
            device = self.pick(moving)
            return self._maybe_not(At(device.name, self.pick(device.positions)))
        return YES if self.one_in(3) else self.condition()

    def quantity(self, name: str) -> Quantity:
        changes = tuple(Change(self.band(-2, 2), self.condition()) for _ in range(self.some(1, 3)))
        return Quantity(name, "mm", self.band(0, 4), changes)

    # ---- what switches

    def members(
        self, controls: tuple[int, int], devices: tuple[int, int], timers: tuple[int, int]
    ) -> None:
        """Controls, devices and timers; the flows once the devices are known by name."""
        for number in range(self.some(*controls)):
            self.controls.append(self._control(f"lever{number}"))
        self.timers = [f"delay{number}" for number in range(self.some(*timers))]
        self.devices = [self._device(f"valve{n}") for n in range(self.some(*devices))]
        for number in range(self.some(1, 4) if self.volumes else 0):
            self.flows.append(self.flow(f"way{number}"))

    def _positions(self, most: int) -> tuple[str, ...]:
        return ("p", "q", "r", "s")[: self.pick((2, 2, 2, 3, most))]

    def _control(self, name: str) -> Control:
        places = self._positions(3)
        sealed = self.pick(places) if self.one_in(12) else None
        return Control(name, places, self.subset(places), self.one_in(2), sealed)

    def _device(self, name: str) -> Device:
        """A device without its moves; they are drawn when everything has a name."""
        places = self._positions(4)
        moving = Band(Fraction(1), Fraction(2)) if self.one_in(2) else None
        word: Word = self.pick(("any", "closed", "joined"))
        called = self.one_in(4)
        return Device(name, "valve", places, (), self.subset(places), called, moving, word)

    def combinations(self) -> int:
        """An upper bound on the states of a circuit without numbers."""
        count = 2 * math.prod(3 for _ in self.timers)
        for control in self.controls:
            count *= 2 * len(control.positions)
        for device in self.devices:
            ways = 2 * (len(device.positions) - 1) if device.moving else 0
            count *= len(device.positions) * (1 + ways)
        return count

    # ---- conditions

    def condition(self, depth: int = 2, *, plain: bool = False) -> Condition:
        """A random tree; `plain` leaves tolerances out, as properties must."""
        if depth == 0 or self.one_in(3):
            return self.leaf(plain=plain)
        kind = self.some(0, 3)
        if kind == 0:
            return Not(self.condition(depth - 1, plain=plain))
        parts = tuple(self.condition(depth - 1, plain=plain) for _ in range(self.some(1, 3)))
        return AllOf(parts) if kind == 1 else AnyOf(parts)

    def leaf(self, *, plain: bool = False) -> Condition:
        """One comparison, place, timer, flow or press; none of those is left out for long."""
        if self.supplies and self.one_in(2):
            return self.comparison(plain=plain)
        placed: list[Control | Device] = [*self.controls, *self.devices]
        offers: list[Condition] = [Truth(self.one_in(2))]
        if placed:
            thing = self.pick(placed)
            offers = [At(thing.name, self.pick(thing.positions))] * 3
        offers += [OnTheWay(device.name) for device in self.devices if device.moving]
        offers += [Expired(timer) for timer in self.timers]
        offers += [Flowing(flow.name) for flow in self.flows]
        offers += [GoneTo(c.name, self.pick(c.positions)) for c in self.controls]
        return self.pick(offers)

    def comparison(self, *, plain: bool = False, of: Sequence[str] = ()) -> Compare:
        form = self._form(of or [*self.supplies, *self.volumes, *self.handles, *self.quantities])
        tolerance = Fraction(0) if plain else self.pick(TOLERANCES)
        return compare(form, self.pick(ORDERS), self.level(), tolerance)

    def _form(self, names: Sequence[str]) -> Form:
        if len(names) > 1 and self.one_in(2):
            one, other = self.rng.sample(list(names), 2)
            if self.one_in(2):
                return form_of({one: Fraction(1), other: Fraction(-1)})
            return form_of({one: self.pick(WEIGHTS), other: self.pick(WEIGHTS)})
        return form_of({self.pick(names): Fraction(1)})

    def _maybe_not(self, condition: Condition) -> Condition:
        return Not(condition) if self.one_in(4) else condition

    # ---- the whole

    def finish(self, asked: int = 1) -> Circuit:
        """The circuit, with its rules, a standing state and some properties."""
        things: list[Thing] = [*self.things, *self.flows, *self.controls]
        things += [self._with_moves(device) for device in self.devices]
        band = Band(Fraction(1), Fraction(2))
        things += [Timer(name, self.condition(), band) for name in self.timers]
        things += [self.quantity(name) for name in self.quantities]
        things += self._rules()
        things += [self._standing()]
        things += [self._property(f"asked{number}") for number in range(asked)]
        return assembled(*things)

    def _with_moves(self, device: Device) -> Device:
        targets = [self.pick(device.positions)] if self.one_in(6) else list(device.positions)
        if self.one_in(5):
            targets.append(self.pick(targets))
        moves = tuple(Move(to, self.condition()) for to in targets)
        return Device(
            device.name,
            "latch" if len(targets) == 1 else "valve",
            device.positions,
            moves,
            device.starts,
            device.starts_called,
            device.moving,
            device.on_the_way,
        )

    def _rules(self) -> list[Thing]:
        rules: list[Thing] = []
        for number in range(self.some(0, 3) if self.controls else 0):
            control = self.pick(self.controls)
            place, when = self.pick(control.positions), self.condition()
            kept: Literal["only", "locked"] = "only" if self.one_in(2) else "locked"
            if self.one_in(4):
                kept_rule = KeptRule(control.name, kept, place, when)
                rules.append(Assumption(f"rule{number}", "A kept rule", kept_rule))
                continue
            rule: Literal["only", "locked", "forced"] = "forced" if self.one_in(3) else kept
            rules.append(Interlock(f"rule{number}", "A rule", control.name, rule, place, when))
        if self.supplies and self.one_in(3):
            some = [self.comparison(plain=True, of=self.supplies) for _ in range(self.some(1, 2))]
            rules.append(Assumption("granted", "Of supplies", SupplyRule(tuple(some))))
        return rules

    def _standing(self) -> Standing:
        placed: list[Control | Device] = [*self.controls, *self.devices]
        positions = {x.name: self.pick(x.positions) for x in placed if self.one_in(2)}
        values = {name: self.level() for name in self.volumes if self.one_in(2)}
        return Standing("resting", positions, values)

    def _property(self, name: str) -> Property:
        start = "resting" if self.one_in(4) else None
        return Property(name, "What is asked", self._sentence(), self.one_in(2), start)

    def _sentence(self) -> Sentence:
        def read() -> Condition:
            return self.condition(plain=True)

        limit = self.pick(LIMITS)
        kind = self.some(0, 7)
        if kind == 0:
            return Never(read())
        if kind == 1:
            return OnlyAfter(read(), read(), None if self.one_in(3) else read())
        if kind == 2:
            return AfterNever(read(), read(), None if self.one_in(3) else read())
        if kind == 3:
            return Within(read(), read(), limit)
        if kind == 4:
            return OnceLasted(read(), read(), limit)
        if kind == 5:
            return Possible(read())
        return Lasts(read(), "least" if kind == 6 else "most", limit)
