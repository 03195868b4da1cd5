"""Moves of some things alone, each of them due, one step after another in no time."""

from __future__ import annotations

from collections.abc import Iterator

import z3

from airproof.transition.layout import Layout, Moment
from airproof.transition.probes import driven
from airproof.transition.starts import exactly_one
from airproof.transition.switching import Switching
from airproof.transition.terms import all_of, any_of


class Circles:
    """States 0, 1, 2, ... of an instant in which only these things move.

    things: devices that move at once, and controls; nothing else can be back
            where it was before time has passed
    State 0 is the layout's own `now`, after a move; the others have variables
    of their own for whatever says where these things are.
    """

    def __init__(self, layout: Layout, things: tuple[str, ...]) -> None:
        self.layout, self.things = layout, things
        self.keys = [key for name in things for key in layout.position_keys(name)]
        self.fresh = [f"fresh {name}" for name in things if name in layout.circuit.controls]
        self.steps: list[z3.BoolRef] = []
        calm = z3.BoolVal(False, layout.context)
        self.states = [Moment(layout, {**layout.moment(after=False).terms, "rested": calm})]

    def state(self, number: int) -> Moment:
        while len(self.states) <= number:
            mark = f"{' '.join(self.things)} {len(self.states)}"
            own = {
                key: z3.Bool(f"{key}!{mark}", self.layout.context)
                for key in (*self.keys, *self.fresh)
            }
            self.states.append(Moment(self.layout, {**self.states[0].terms, **own}))
        return self.states[number]

    def step(self, number: int) -> z3.BoolRef:
        """From this state to the next something moves, and all that moves is due."""
        while len(self.steps) <= number:
            self.steps.append(self._first() if not self.steps else self._again(len(self.steps)))
        return self.steps[number]

    def _first(self) -> z3.BoolRef:
        step = Switching(self.state(0), self.state(1))
        moved = [step.differs(name) for name in self.things]
        due = [driven(step, name) for name in self.things]
        return all_of(any_of(moved), *due, *self._allowed(step))

    def _again(self, number: int) -> z3.BoolRef:
        """The first step, with later states put for its own."""
        swaps = [
            (self.states[i].terms[key], self.state(number + i).terms[key])
            for key in (*self.keys, *self.fresh)
            for i in (0, 1)
        ]
        return z3.substitute(self.steps[0], *swaps)

    def _allowed(self, step: Switching) -> Iterator[z3.BoolRef]:
        for name in self.things:
            if name in step.circuit.controls:
                yield from (part.term for part in step.control(step.circuit.controls[name]))
                continue
            yield from (part.term for part in step.quick(step.circuit.devices[name]))
            places = step.circuit.devices[name].positions
            if len(places) > 2:
                yield exactly_one([step.then.bound(name, place) for place in places])

    def closes(self, length: int) -> z3.BoolRef:
        """So many steps lead back to where these things were at first."""
        first, last = self.state(0).terms, self.state(length).terms
        return all_of([first[key] == last[key] for key in self.keys])

    def whole(self, length: int) -> z3.BoolRef:
        """All the steps, and that they lead back."""
        return all_of(*(self.step(i) for i in range(length)), self.closes(length))
