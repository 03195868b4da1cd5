"""From a circuit and a property to a transition system."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import z3

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.transition import monitors
from airproof.transition.balancing import balanced
from airproof.transition.elapsing import Elapsing
from airproof.transition.landmarks import landmarks
from airproof.transition.layout import CLOCK, Layout, Moment, lay_out
from airproof.transition.readings import Judged, JudgedInstant, Reading
from airproof.transition.starts import starts
from airproof.transition.switching import Switching
from airproof.transition.system import Conjunct, Input, System
from airproof.transition.terms import all_of, any_of, negation
from airproof.transition.ties import Ties

DURATION = "duration"


def encode(
    circuit: Circuit,
    prop: Property | None,
    context: z3.Context,
    ties: Ties | None = None,
    *,
    amounts: bool = True,
) -> System:
    """The circuit judged at any speed, with the property's monitor if one is given.

    With ties, every piece of it can be let go by its origin.  Without amounts, an
    elapse step is one for some amounts, which are no inputs.
    """
    layout = replace(lay_out(circuit, context), ties=ties)
    watched = monitors.variables(context, prop) if prop else {}
    layout = replace(layout, variables={**layout.variables, **watched})
    now, then = layout.moment(after=False), layout.moment(after=True)
    switching, elapsing = Switching(now, then), Elapsing(now, then)
    marks = landmarks(circuit, prop.sentence if prop else None)
    due = elapsing.due()
    standing = circuit.standings[prop.start] if prop and prop.start else None
    lasted = z3.Real(DURATION, context)
    flows = circuit.flows.items() if amounts else ()
    moved = [Input(f"amount {n}", elapsing.amount(f)) for n, f in flows]
    air = elapsing.air() if amounts else balanced(elapsing)
    monitor = _Monitor(now, then, prop) if prop else None
    return System(
        context=context,
        variables=tuple(layout.variables.values()),
        inputs=(*moved, Input(DURATION, lasted)),
        start=(*starts(now, standing), *(monitor.starts() if monitor else ())),
        switch=(*switching.conjuncts(), *(monitor.switches() if monitor else ())),
        elapse=(
            *elapsing.conjuncts(marks, due, air),
            Conjunct(lasted > 0),
            *(monitor.elapses(lasted) if monitor else ()),
        ),
        control_moves=tuple(switching.control_moves()),
        due=due,
        breached=monitors.BREACHED if prop else None,
    )


class _Monitor:
    """The conjuncts of one property's memory."""

    def __init__(self, now: Moment, then: Moment, prop: Property) -> None:
        self.now, self.then, self.prop = now, then, prop
        self.keys = [k for k in now.terms if k.startswith("monitor ") and k != monitors.BREACHED]
        self.zero = z3.RealVal(0, now.layout.context)

    def starts(self) -> Iterator[Conjunct]:
        for key in (monitors.BREACHED, *self.keys):
            term = self.now.terms[key]
            fresh = term == self.zero if key == CLOCK else negation(term)
            yield Conjunct(fresh, (key,))

    def elapses(self, lasted: z3.ArithRef) -> Iterator[Conjunct]:
        bits = {k.removeprefix("monitor "): self.now.terms[k] for k in self.keys}
        yield from self._follows(Judged(self.now, self.then), bits, lasted)

    def switches(self) -> Iterator[Conjunct]:
        bits = {k.removeprefix("monitor "): self._carried(k) for k in self.keys}
        if self.prop.even_for_an_instant:
            yield from self._follows(JudgedInstant(self.then), bits, self.zero)
            return
        for key in (monitors.BREACHED, *self.keys):
            yield Conjunct(self.then.terms[key] == self._carried(key), (key,))

    def _carried(self, key: str) -> z3.ExprRef:
        """What is remembered into a switch step: a new stretch forgets what belongs to the old."""
        term = self.now.terms[key]
        return all_of(term, negation(self.now.rested)) if key.endswith("_here") else term

    def _follows(
        self, reading: Reading, bits: dict[str, z3.ExprRef], lasted: z3.ArithRef
    ) -> Iterator[Conjunct]:
        watch = monitors.Watch(reading, bits, bits.get("clock"), lasted)
        after = monitors.update(self.prop.sentence, watch)
        for bit, term in after.bits.items():
            yield Conjunct(self.then.terms[f"monitor {bit}"] == term, (f"monitor {bit}",))
        if after.clock is not None:
            yield Conjunct(self.then.terms[CLOCK] == after.clock, (CLOCK,))
        was = self.now.terms[monitors.BREACHED]
        breach = any_of(was, after.breach)
        yield Conjunct(self.then.terms[monitors.BREACHED] == breach, (monitors.BREACHED,))


def layout_of(system: System, circuit: Circuit) -> Layout:
    """The layout whose variables the system uses."""
    layout = lay_out(circuit, system.context)
    return replace(layout, variables={v.key: v for v in system.variables})
