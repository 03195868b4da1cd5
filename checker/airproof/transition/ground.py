"""The encoding asked about concrete states and steps: every variable replaced by its value."""

from __future__ import annotations

from fractions import Fraction

import z3

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.circuit.state import Monitor, State, Step
from airproof.transition.decode import Valuation, monitor_values, valuation_of
from airproof.transition.encode import DURATION, encode
from airproof.transition.layout import number
from airproof.transition.system import conjunction


class Ground:
    """One encoded circuit and property, answering for concrete states and steps."""

    def __init__(self, circuit: Circuit, prop: Property | None) -> None:
        self.circuit = circuit
        self.context = z3.Context()
        self.system = encode(circuit, prop, self.context)
        system = self.system
        self._parts = {
            "start": conjunction(self.context, system.start),
            "switch": conjunction(self.context, system.switch),
            "elapse": conjunction(self.context, system.elapse),
        }

    def starts(self, state: State) -> bool:
        """The encoding allows a run to start here."""
        values = self._values(state, Monitor())
        pairs = [(v.now, self._constant(values[v.key])) for v in self.system.variables]
        return self._true(z3.substitute(self._parts["start"], *pairs))

    def allows(self, before: State, memory: Monitor, step: Step, after: Monitor) -> bool:
        """The encoding allows this step, and takes the monitor from `memory` to `after`."""
        now, then = self._values(before, memory), self._values(step.after, after)
        lasted = step.duration if step.duration is not None else Fraction(1)
        inputs = {f"amount {n}": step.amounts.get(n, Fraction(0)) for n in self.circuit.flows}
        inputs[DURATION] = lasted
        pairs = [(v.now, self._constant(now[v.key])) for v in self.system.variables]
        pairs += [(v.then, self._constant(then[v.key])) for v in self.system.variables]
        pairs += [(x.term, self._constant(inputs[x.key])) for x in self.system.inputs]
        return self._true(z3.substitute(self._parts[step.kind], *pairs))

    def _values(self, state: State, memory: Monitor) -> Valuation:
        keys = (v.key for v in self.system.variables)
        return {**valuation_of(self.circuit, state), **monitor_values(memory, keys)}

    def _constant(self, value: bool | Fraction) -> z3.ExprRef:
        if isinstance(value, bool):
            return z3.BoolVal(value, self.context)
        return number(self.context, value)

    def _true(self, term: z3.ExprRef) -> bool:
        """A term without variables comes down to true or false; anything else is an error."""
        value = z3.simplify(term)
        if z3.is_true(value) or z3.is_false(value):
            return bool(z3.is_true(value))
        raise ValueError(f"not decided by the values given: {value}")
