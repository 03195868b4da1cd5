"""Where time can stop, counted state by state on the third account (`explicit`)."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from cross.explicit import Change, Machine, Node


def stopped(machine: Machine, standing: str | None = None) -> set[Node]:
    """The states of runs from which nothing that moves by itself leads to where time passes."""
    reached = machine.reachable(standing)
    onward = {node: set(_by_itself(machine, node)) for node in reached}
    calm = {node for node in reached if machine.elapsed(node) is not None}
    while more := {node for node in reached - calm if not onward[node].isdisjoint(calm)}:
        calm |= more
    return reached - calm


def _by_itself(machine: Machine, node: Node) -> Iterator[Node]:
    """Every joint move of devices, forced controls and timers that must be reset."""
    hands = (
        [change for change in changes if machine.forces(node, change.index, change.place)]
        for changes in machine.hands(node)
    )
    choices: list[list[Change | None]] = [
        [None, *changes] for changes in (*hands, *machine.things(node))
    ]
    resets = (
        [was, "idle"] if was != "idle" and not runs(node) else [was]
        for was, runs in zip(node.timers, machine.runs, strict=True)
    )
    timers = list(product(*resets))
    for changes in product(*choices):
        after = machine.changed(node, changes)
        moved = [c.index for c in changes if c and c.index < len(machine.controls)]
        for times in timers:
            done = after._replace(timers=times)
            anything = any(changes) or times != node.timers
            if anything and all(machine.permitted(node, done, i) for i in moved):
                yield done
