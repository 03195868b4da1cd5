"""A circuit without any number, laid out so that all its states can be counted."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import reduce
from itertools import product
from math import prod
from operator import or_

from airproof.circuit.board import Board, Spot, board_of
from airproof.circuit.formulas import Formula, Test, all_of, any_of, compiled, has
from airproof.circuit.glances import Glance
from airproof.circuit.kinds import Circuit, Control, Device
from airproof.circuit.offers import Offer, Offers, offers_of
from airproof.circuit.passing import Ticking, passing_of
from airproof.circuit.sight import ON_THE_WAY, Scene, Sight
from airproof.circuit.state import State
from airproof.circuit.tables import tables_of

Facts = int  # a state: the bits of the board


class TooMany(Exception):
    """There is more to count than is allowed."""


def countable(circuit: Circuit) -> bool:
    """The circuit has no value and no flow, so that its states are finitely many."""
    return not circuit.value_starts and not circuit.flows


@dataclass(slots=True)
class Counted:
    """The states of one circuit and its steps, found as they are asked for.

    most: combinations of moves that may be tried, and states that may be looked at again;
          TooMany is raised beyond
    before: the circuit is `countable`
    """

    circuit: Circuit
    sight: Sight
    most: int
    board: Board = field(init=False)
    offers: Offers = field(init=False)
    timers: tuple[Ticking, ...] = field(init=False)
    called: Test = field(init=False)
    places: int = field(init=False)  # the bits that scenes are made of
    tried: int = field(init=False, default=0)
    _switched: dict[Facts, tuple[Facts, ...]] = field(init=False, default_factory=dict)
    _scenes: dict[Facts, Scene] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        tables = tables_of(self.circuit)
        self.board = board_of(self.circuit, ())
        self.offers = offers_of(self.board, tables)
        self.timers = passing_of(self.board, tables, self.offers.due).timers
        self.called = compiled(self._calls())
        self.places = reduce(or_, self.board.rests.values(), 0)

    def _calls(self) -> Formula:
        """A device is called away from where it may then not start."""
        now = Glance(self.board, instant=True)
        return any_of(
            all_of((has(self.board.rests[device.name, here]), now.plain(move.when, "must")))
            for device in self.circuit.devices.values()
            if device.starts_called
            for here in device.positions
            for move in device.moves
            if move.to != here
        )

    def starts(self) -> Iterator[Facts]:
        """Every state in which a run may begin."""
        things: list[Control | Device] = [
            *self.circuit.controls.values(),
            *self.circuit.devices.values(),
        ]
        for places in product(*(_begins(thing) for thing in things)):
            facts = self.board.rested
            for thing, place in zip(things, places, strict=True):
                facts |= self.board.standing(thing.name, place)
            if not self.called(facts):
                yield facts

    def elapsed(self, facts: Facts) -> Facts | None:
        """The state after some time; None while anything is due."""
        if self.offers.due(facts):
            return None
        after = facts | self.board.rested
        for timer in self.timers:
            if not facts & timer.expired:
                runs = timer.must(facts)
                after = after | timer.running if runs else after & ~timer.running
        return after | (facts & self.board.all_ways) << self.board.shift

    def switched(self, facts: Facts) -> tuple[Facts, ...]:
        """The states that one switch step leads to."""
        if facts not in self._switched:
            self._switched[facts] = tuple({*self._moved(facts)} - {facts})
        return self._switched[facts]

    def _moved(self, facts: Facts) -> Iterator[Facts]:
        own: dict[str, list[Offer | None]] = {}
        for offer in (*self.offers.by_hand(facts), *self.offers.by_itself(facts)):
            own.setdefault(offer.name, [None]).append(offer)
        self.spend(prod(map(len, own.values())))
        for chosen in product(*own.values()):
            made = [offer for offer in chosen if offer is not None]
            after = self.offers.after(facts, made) if made else None
            if after is not None:
                yield after

    def spend(self, count: int) -> None:
        """So much more was looked at."""
        self.tried += count
        if self.tried > self.most:
            raise TooMany

    def scene(self, facts: Facts) -> Scene:
        """What a stretch in this state shows."""
        seen = facts & self.places
        if seen not in self._scenes:
            rests = {name: place for (name, place), bit in self.board.rests.items() if seen & bit}
            places = tuple(rests.get(name, ON_THE_WAY) for name in self.sight.places)
            self._scenes[seen] = Scene(places, ())
        return self._scenes[seen]

    def state(self, facts: Facts) -> State:
        """The state as data."""
        return self.board.state_of(Spot(facts, [], self.board.base))

    @property
    def met(self) -> int:
        """How many states were met."""
        return len(self._switched)


def _begins(thing: Control | Device) -> tuple[str, ...]:
    if isinstance(thing, Control) and thing.sealed:
        return (thing.sealed,)
    return thing.starts
