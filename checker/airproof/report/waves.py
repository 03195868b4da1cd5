"""A sequence as a value change dump (IEEE 1364), for any viewer of waveforms.

A unit of its time is one step, for at any speed only the order of happening is
known; where durations are known, the real `elapsed_s` adds them up.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import partial

from vcd import VCDWriter

from airproof import __version__
from airproof.circuit.kinds import Circuit
from airproof.circuit.state import State
from airproof.evidence.sequence import Sequence

Value = bool | float
TOP = "airproof"  # the outermost scope


@dataclass(frozen=True, slots=True)
class _Signal:
    """One variable: its scope, its name there, whether it is a number, how to read it."""

    scope: str
    name: str
    real: bool
    read: Callable[[int, State], Value]


def to_vcd(circuit: Circuit, sequence: Sequence) -> str:
    """The dump as text.

    Each position of a control or device is a wire that is 1 while it stands
    there; `on_the_way` has one for each device, 1 while it moves.  Pressures [bar,
    gauge], quantities and the amounts [bar litre] that a step moved are reals, rounded.
    """
    stream = io.StringIO()
    states = [sequence.start, *(step.after for step in sequence.steps)]
    with VCDWriter(
        stream,
        timescale="1 s",
        date="",
        version=f"airproof {__version__}",
        comment=_comment(circuit),
    ) as writer:
        kept = [
            (
                signal,
                writer.register_var(
                    signal.scope,
                    signal.name,
                    "real" if signal.real else "wire",
                    size=64 if signal.real else 1,
                    init=signal.read(0, states[0]),
                ),
            )
            for signal in _signals(circuit, sequence)
        ]
        for number, state in enumerate(states):
            for signal, variable in kept:
                writer.change(variable, number, signal.read(number, state))
        writer.close(len(states))
    return stream.getvalue()


def _comment(circuit: Circuit) -> str:
    told = f"{circuit.name}: {circuit.title}; a unit of time is one step"
    return " ".join(told.split()).replace("$", "(dollar)")  # a dollar begins a keyword


def _signals(circuit: Circuit, sequence: Sequence) -> Iterator[_Signal]:
    if all(step.duration is not None for step in sequence.steps):
        yield _Signal(TOP, "elapsed_s", True, partial(_lasted, sequence))
    yield _Signal(TOP, "time_passed", False, partial(_elapsed, sequence))
    for name in circuit.value_starts:
        yield _Signal(*_placed("values", name), True, partial(_value, name))
    for name in circuit.flows:
        yield _Signal(*_placed("amounts", name), True, partial(_amount, sequence, name))
    for name, places in circuit.positions.items():
        for place in places:
            yield _Signal(f"{TOP}.positions.{name}", place, False, partial(_stands, name, place))
    for name, device in circuit.devices.items():
        if device.moving is not None:
            yield _Signal(*_placed("on_the_way", name), False, partial(_moves, name))
    for name in circuit.timers:
        for word in ("running", "expired"):
            yield _Signal(f"{TOP}.timers.{name}", word, False, partial(_timed, name, word))


def _placed(scope: str, name: str) -> tuple[str, str]:
    """A part's things are in a scope of the part; no simple name of the dump has a dot."""
    *parts, last = name.split(".")
    return ".".join((TOP, scope, *parts)), last


def _lasted(sequence: Sequence, number: int, _: State) -> float:
    known = (step.duration or Fraction(0) for step in sequence.steps[:number])
    return float(sum(known, Fraction(0)))


def _elapsed(sequence: Sequence, number: int, _: State) -> bool:
    return number > 0 and sequence.steps[number - 1].kind == "elapse"


def _value(name: str, _: int, state: State) -> float:
    return float(state.values[name])


def _amount(sequence: Sequence, flow: str, number: int, _: State) -> float:
    step = sequence.steps[number - 1] if number else None
    return float(step.amounts.get(flow, Fraction(0))) if step else 0.0


def _stands(name: str, place: str, _: int, state: State) -> bool:
    return state.positions[name] == place and name not in state.leaving


def _moves(name: str, _: int, state: State) -> bool:
    return name in state.leaving


def _timed(name: str, word: str, _: int, state: State) -> bool:
    return state.timers[name] == word
