"""Which moves a state offers, and the state they lead to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction

from airproof.circuit.kinds import Circuit, Control, Device, Timer
from airproof.circuit.readings import Instant
from airproof.circuit.state import State, TimerState
from airproof.circuit.switching import Moved, called_to, is_forced, switch_refusals
from airproof.circuit.tables import Tables


def options(tables: Tables, state: State) -> tuple[Moved, ...]:
    """The moves of one control, device or timer that are switch steps on their own.

    Range controls are left out: they may be set to any value of their range.
    """
    view = Instant(tables, state)
    circuit = tables.circuit
    hands = [
        move
        for control in circuit.controls.values()
        for move in _of_control(control, state)
        if not switch_refusals(tables, state, moved(circuit, state, [move]))
    ]
    devices = (move for device in circuit.devices.values() for move in _of_device(view, device))
    timers = (move for timer in circuit.timers.values() for move in _of_timer(view, timer))
    return (*hands, *devices, *timers)


def unattended(tables: Tables, state: State) -> tuple[Moved, ...]:
    """The options that nobody takes by hand: devices, timer resets, forced controls."""
    view = Instant(tables, state)
    controls = tables.circuit.controls

    def by_itself(move: Moved) -> bool:
        if move.kind == "control":
            return is_forced(view, controls[move.name], str(move.now))
        return move.kind != "timer expires"

    return tuple(move for move in options(tables, state) if by_itself(move))


def moved(circuit: Circuit, state: State, moves: Iterable[Moved]) -> State:
    """The state after a switch step with these moves, whether they are allowed or not."""
    positions, values = dict(state.positions), dict(state.values)
    leaving, timers = dict(state.leaving), dict(state.timers)
    settled: set[str] = set()
    hands: set[str] = set()
    for move in moves:
        if move.kind == "range":
            assert isinstance(move.now, Fraction)
            values[move.name] = move.now
        elif move.kind in ("timer expires", "timer reset"):
            timers[move.name] = _reached(move)
        else:
            leaving.update(_left(move, state))
            positions[move.name] = str(move.now)
            settled.add(move.name)
        if move.kind in ("control", "range"):
            hands.add(move.name)
        elif move.kind == "arrives":
            del leaving[move.name]
    return replace(
        state,
        positions=positions,
        values=values,
        leaving=leaving,
        timers=timers,
        aged=state.aged - settled,
        fresh=frozenset(hands) | (frozenset() if state.rested else state.fresh),
        rested=False,
    )


def _reached(move: Moved) -> TimerState:
    return "expired" if move.kind == "timer expires" else "idle"


def _left(move: Moved, state: State) -> dict[str, str]:
    if move.kind == "sets off":
        return {move.name: state.positions[move.name]}
    if move.kind == "turns round" and move.now == state.leaving[move.name]:
        return {move.name: state.positions[move.name]}
    return {}


def _of_control(control: Control, state: State) -> Iterator[Moved]:
    here = state.positions[control.name]
    if control.sealed is None:
        for there in control.positions:
            if there != here:
                yield Moved("control", control.name, here, there)


def _of_device(view: Instant, device: Device) -> Iterator[Moved]:
    name, state = device.name, view.state
    here = state.positions[name]
    if name in state.aged:
        yield Moved("arrives", name, state.leaving[name], here)
    for there in dict.fromkeys(called_to(view, device)):
        if device.moving is None:
            yield Moved("device", name, here, there)
        elif name in state.leaving:
            yield Moved("turns round", name, here, there)
        else:
            yield Moved("sets off", name, here, there)


def _of_timer(view: Instant, timer: Timer) -> Iterator[Moved]:
    now = view.state.timers[timer.name]
    if now == "running":
        yield Moved("timer expires", timer.name, now, "expired")
    if now != "idle" and not view.plain(timer.runs)[1]:
        yield Moved("timer reset", timer.name, now, "idle")
