"""Whether a run can do without something, found by going through it again."""

from __future__ import annotations

from collections.abc import Sequence

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.circuit.state import State, Step
from airproof.circuit.without import Thing, without


class DoingWithout:
    """Runs of one circuit that decide one property, each gone through without something."""

    def __init__(self, circuit: Circuit, prop: Property) -> None:
        self.circuit, self.prop = circuit, prop
        self._changed: dict[Thing, Behaviour] = {}

    def _without(self, thing: Thing) -> Behaviour:
        if thing not in self._changed:
            self._changed[thing] = Behaviour(without(self.circuit, thing))
        return self._changed[thing]

    def decides(self, start: State, steps: Sequence[Step], thing: Thing) -> bool:
        """The very same run decides the property in the circuit without the thing."""
        if thing.way == "value":
            value = start.values[thing.name]
            return all(step.after.values[thing.name] == value for step in steps)
        replay = self._without(thing).replay(self.prop, start, tuple(steps))
        return not replay.steps and replay.decided is not None

    def time_passes(self, start: State, thing: Thing) -> bool:
        """Time passes at all without it; else everything would be needed, and nothing shown."""
        if thing.way == "value":
            return True
        return self._without(thing).explore_devices(start).outcome == "settled"
