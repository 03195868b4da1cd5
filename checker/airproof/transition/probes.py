"""Terms that health asks about, over the variables of an encoded circuit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import z3

from airproof.circuit.kinds import Circuit, Control, Device, Standing
from airproof.transition.decode import spread
from airproof.transition.elapsing import Elapsing
from airproof.transition.layout import Moment, lay_out, number
from airproof.transition.readings import Inner
from airproof.transition.switching import Switching, rules_on, towards
from airproof.transition.system import Input, System


@dataclass(frozen=True, slots=True)
class Probes:
    """What a step or state is, beyond being allowed.

    driven: over a switch step: everything that moves in it is due, no control moves freely
    same:   over a step: every position, and every timer, is as before
    stuck:  over a state, by control: a rule forces it and the other rules hold it
    open:   over an elapse step, by flow: it may count as open
    stands: over a state, by (component, position)
    pinned: over a state, by standing state: all that it pins is so
    """

    driven: z3.BoolRef
    stuck: Mapping[str, z3.BoolRef]
    open: Mapping[str, z3.BoolRef]
    stands: Mapping[tuple[str, str], z3.BoolRef]
    pinned: Mapping[str, z3.BoolRef]


def probes(circuit: Circuit, context: z3.Context) -> Probes:
    """The terms, over the same variables as `encode` in this context."""
    layout = lay_out(circuit, context)
    now, then = layout.moment(after=False), layout.moment(after=True)
    switching, elapsing = Switching(now, then), Elapsing(now, then)
    forced = [c for c in circuit.controls.values() if _forces(circuit, c)]
    return Probes(
        driven=_driven(switching),
        stuck={c.name: _stuck(switching, c) for c in forced},
        open={n: elapsing.through.can(f.condition) for n, f in circuit.flows.items()},
        stands={(n, p): now.rests(n, p) for n, places in layout.positions.items() for p in places},
        pinned={n: _pinned(now, standing) for n, standing in circuit.standings.items()},
    )


def _pinned(now: Moment, standing: Standing) -> z3.BoolRef:
    places = [now.rests(name, place) for name, place in standing.positions.items()]
    values = [
        now.value(name) == number(now.layout.context, v) for name, v in standing.values.items()
    ]
    return z3.And([now.constant(True), *places, *values])


def _forces(circuit: Circuit, control: Control) -> bool:
    return any(rule.rule == "forced" for rule in rules_on(circuit, control.name))


def _driven(step: Switching) -> z3.BoolRef:
    """Every move of the switch step must happen before time passes."""
    parts = [z3.Not(step.range_moves(n)) for n in step.circuit.range_controls]
    for device in step.circuit.devices.values():
        parts += _driven_device(step, device)
    for control in step.circuit.controls.values():
        called = _forced_due(step, control)
        parts.append(z3.Implies(step.differs(control.name), called))
    for name in step.circuit.timers:
        parts += [z3.Not(step.flips(f"running {name}")), z3.Not(step.flips(f"expired {name}"))]
    return z3.And([step.now.constant(True), *parts])


def _driven_device(step: Switching, device: Device) -> list[z3.BoolRef]:
    reading, parts = Inner(step.now, step.now), []
    if device.moving is not None:  # on the way, nothing is due
        way = step.now.way(device.name)
        stays = z3.And(step.then.way(device.name), z3.Not(step.differs(device.name)))
        parts.append(z3.Implies(way, stays))
    for place in device.positions:
        calls = [reading.must(m.when) for m in device.moves if m.to == place]
        called = z3.Or([step.now.constant(False), *calls])
        if len(device.positions) > 1:
            parts.append(z3.Implies(step.goes(device.name, place), called))
    return parts


def _forced_due(step: Switching, control: Control) -> z3.BoolRef:
    reading = Inner(step.now, step.now)
    calls = [
        z3.And(z3.Not(step.now.bound(control.name, rule.position)), reading.must(rule.condition))
        for rule in rules_on(step.circuit, control.name)
        if rule.rule == "forced"
    ]
    return z3.Or([step.now.constant(False), *calls])


def _stuck(step: Switching, control: Control) -> z3.BoolRef:
    """It is due to move and, with everything else still, may not."""
    alone = Switching(step.now, step.now)
    ways = [
        z3.And(step.now.bound(control.name, was), alone.allowed(control, was, now))
        for rule in rules_on(step.circuit, control.name)
        if rule.rule == "forced" and not control.sealed
        for was in control.positions
        for now in control.positions
        if was not in (now, rule.position) and towards(control, rule.position, was, now)
    ]
    return z3.And(_forced_due(step, control), z3.Not(z3.Or([step.now.constant(False), *ways])))


def overlooked(name: str) -> str:
    """The key of the input that lets an elapse step overlook that a thing is due, unless 0."""
    return f"overlooks {name}"


def overlooking(system: System) -> System:
    """The system with elapse steps that may overlook what is due, each thing by its own input."""
    context = system.context
    inputs = {n: z3.Real(overlooked(n), context) for n in system.due}
    terms = {
        z3.Not(term).get_id(): z3.Or(z3.Not(term), inputs[name] != 0)
        for name, term in system.due.items()
    }
    return replace(
        system,
        inputs=(*system.inputs, *(Input(overlooked(n), term) for n, term in inputs.items())),
        elapse=tuple(
            replace(part, term=terms.get(part.term.get_id(), part.term)) for part in system.elapse
        ),
    )


def positions_put(
    system: System, circuit: Circuit, places: Mapping[str, str]
) -> list[tuple[z3.ExprRef, z3.ExprRef]]:
    """The position variables of these components, each with its value at the place."""
    now = {v.key: v.now for v in system.variables}
    return [
        (now[key], z3.BoolVal(value, system.context))
        for name, place in places.items()
        for key, value in spread("position", name, circuit.positions[name], place).items()
    ]
