"""Plain counting with something ruled out, for what a sequence depends on and for other sequences.

`Lacking` takes a thing away: what the circuit is due to do with it falls away
too.  `Refraining` leaves the circuit as it is and drops the steps that do
something, so that what is due to be done keeps time from passing.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

import networkx as nx

from airproof.circuit.conditions import Condition, Expired
from airproof.circuit.deeds import EXPIRED, Deed
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.circuit.without import Thing
from cross.explicit import Change, Machine, Node, Test
from cross.watching import BEGIN, graph


class Lacking(Machine):
    """The circuit without one device's move to a place, a control's, or a timer's expiry."""

    def __init__(self, circuit: Circuit, thing: Thing) -> None:
        self.thing, self.unnoticed = thing, thing.name if thing.way == "timer" else None
        super().__init__(circuit)
        self.unnoticed = None  # the property may still speak of it
        self.whole = Machine(circuit)
        if thing.way == "device":
            number = [device.name for device in self.devices].index(thing.name)
            self.calls[number] = [call for call in self.calls[number] if call[0] != thing.place]
        if thing.way == "control":
            i = self.where[thing.name]
            self.rules[i] = [rule for rule in self.rules[i] if rule[0].rule != "forced"]

    def test(self, condition: Condition) -> Test:
        if isinstance(condition, Expired) and condition.timer == self.unnoticed:
            return lambda _: False
        return super().test(condition)

    def starts(self, standing: str | None) -> Iterator[Node]:
        return self.whole.starts(standing)

    def hands(self, node: Node) -> Iterator[list[Change]]:
        barred = self.thing.place if self.thing.way == "control" else None
        for i, changes in enumerate(super().hands(node)):
            own = self.names[i] == self.thing.name
            yield [change for change in changes if not (own and change.place == barred)]


class Refraining(Machine):
    """The circuit's own runs, as far as they do none of the deeds."""

    def __init__(self, circuit: Circuit, barred: Collection[Deed]) -> None:
        super().__init__(circuit)
        self.barred = frozenset(barred)

    def switched(self, node: Node) -> Iterator[Node]:
        return (
            after for after in super().switched(node) if not self.barred & done(self, node, after)
        )


def done(machine: Machine, before: Node, after: Node) -> set[Deed]:
    """What a switch step does."""
    placed = zip(machine.names, before.at, after.at, strict=True)
    timed = zip(machine.circuit.timers, before.timers, after.timers, strict=True)
    moved = {Deed(name, now) for name, was, now in placed if was != now}
    return moved | {Deed(n, EXPIRED) for n, was, now in timed if was != now == "expired"}


def fewest(machine: Machine, asked: Property) -> int | None:
    """The fewest switch and elapse steps in which the property is breached; None if it never is."""
    far = nx.single_source_shortest_path_length(graph(machine, asked), BEGIN)
    found = [n - 1 for point, n in far.items() if not isinstance(point, str) and point[1].over]
    return min(found) if found else None
