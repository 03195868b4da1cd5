"""Terms that health asks about, over the variables of an encoded circuit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import z3

from airproof.circuit.kinds import Circuit, Standing
from airproof.transition.elapsing import Elapsing
from airproof.transition.layout import Moment, lay_out, number
from airproof.transition.settling import Settling
from airproof.transition.switching import Switching
from airproof.transition.terms import all_of, implies


@dataclass(frozen=True, slots=True)
class Probes:
    """What a step or state is, beyond being allowed.

    open:   over an elapse step, by flow: it may count as open
    stands: over a state, by (component, position)
    pinned: over a state, by standing state: all that it pins is so
    """

    open: Mapping[str, z3.BoolRef]
    stands: Mapping[tuple[str, str], z3.BoolRef]
    pinned: Mapping[str, z3.BoolRef]


def probes(circuit: Circuit, context: z3.Context) -> Probes:
    """The terms, over the same variables as `encode` in this context."""
    layout = lay_out(circuit, context)
    now, then = layout.moment(after=False), layout.moment(after=True)
    through = Elapsing(now, then).through
    return Probes(
        open={n: through.can(f.condition) for n, f in circuit.flows.items()},
        stands={(n, p): now.rests(n, p) for n, places in layout.positions.items() for p in places},
        pinned={n: pinned(now, standing) for n, standing in circuit.standings.items()},
    )


def pinned(now: Moment, standing: Standing) -> z3.BoolRef:
    """All that the standing state pins is so."""
    places = [now.rests(name, place) for name, place in standing.positions.items()]
    values = [
        now.value(name) == number(now.layout.context, v) for name, v in standing.values.items()
    ]
    return all_of([now.constant(True), *places, *values])


def driven(step: Switching, name: str) -> z3.BoolRef:
    """Where a device that moves at once, or a control, moves, it is due to."""
    device = step.circuit.devices.get(name)
    if device is None:
        return implies(step.differs(name), Settling(step.now).due(name))
    called = Settling(step.now).called
    moves = [implies(step.goes(name, p), called(device, p)) for p in device.positions]
    return all_of(moves)
