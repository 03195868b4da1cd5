"""Which things can set one another off in no time, read off the circuit's text alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from airproof.circuit.conditions import At, Condition, Expired, Flowing, GoneTo, OnTheWay, leaves
from airproof.circuit.kinds import Circuit
from airproof.transition.switching import rules_on


@dataclass(frozen=True, slots=True)
class Group:
    """Things that can set one another off in a circle, or one thing by itself.

    things: in the order of the text
    before: everything else whose moves can set them off, at first or at second hand
    """

    things: tuple[str, ...]
    before: frozenset[str]

    @property
    def all(self) -> tuple[str, ...]:
        return (*sorted(self.before), *self.things)


def groups(circuit: Circuit) -> tuple[Group, ...]:
    """Devices, timers and forced controls; no move in one group sets off an earlier group."""
    reads = {name: frozenset(_read(circuit, name)) for name in _things(circuit)}
    reach = _closed({name: read.intersection(reads) for name, read in reads.items()})
    found: dict[frozenset[str], Group] = {}
    for name, behind in reach.items():
        circle = frozenset(n for n in behind if name in reach[n]) | {name}
        if circle not in found:
            things = tuple(n for n in reads if n in circle)
            found[circle] = Group(things, behind - circle)
    return tuple(sorted(found.values(), key=lambda group: len(group.before)))


def _things(circuit: Circuit) -> tuple[str, ...]:
    forced = {rule.control for rule in circuit.interlocks.values() if rule.rule == "forced"}
    return (*(n for n in circuit.controls if n in forced), *circuit.timers, *circuit.devices)


def _read(circuit: Circuit, name: str) -> Iterator[str]:
    for condition in _conditions(circuit, name):
        yield from named(circuit, condition)


def _conditions(circuit: Circuit, name: str) -> Iterator[Condition]:
    if name in circuit.devices:
        yield from (move.when for move in circuit.devices[name].moves)
    elif name in circuit.timers:
        yield circuit.timers[name].runs
    else:
        yield from (rule.condition for rule in rules_on(circuit, name))


def named(circuit: Circuit, condition: Condition) -> Iterator[str]:
    """The things whose places the condition is about, also through flows."""
    for leaf in leaves(condition):
        match leaf:
            case At(component=name) | OnTheWay(device=name) | Expired(timer=name):
                yield name
            case GoneTo(control=name):
                yield name
            case Flowing(flow=name):
                yield from named(circuit, circuit.flows[name].condition)


def _closed(reads: Mapping[str, frozenset[str]]) -> dict[str, frozenset[str]]:
    """What each reads, at first or at second hand."""
    reach = dict(reads)
    for through in reads:
        for name, behind in reach.items():
            if through in behind:
                reach[name] = behind | reach[through]
    return reach
