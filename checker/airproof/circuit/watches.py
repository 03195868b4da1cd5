"""What properties remember of a run, kept as bits: `judging` once more, made quick."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from math import ceil, floor

from airproof.circuit.board import ROUND
from airproof.circuit.conditions import NO, Condition
from airproof.circuit.formulas import Test, compiled
from airproof.circuit.glances import Glance
from airproof.circuit.properties import (
    AfterNever,
    Lasts,
    Never,
    OnceLasted,
    OnlyAfter,
    Possible,
    Property,
    Shows,
    Within,
)
from airproof.circuit.state import Monitor

FLAGS = (
    *("cleared_here", "opened_here", "struck_here"),  # true of one stretch only
    *("granted", "armed", "pending", "holding"),
)
HERE = 3  # so many of them

Clock = int  # in sixtieths of a second


@dataclass(frozen=True, slots=True)
class Memory:
    """What one property remembers: flags as bits (as in FLAGS), a clock, and whether breached."""

    flags: int = 0
    clock: Clock = 0
    breached: bool = False


Look = Callable[[Memory, int, Clock], Memory]


@dataclass(frozen=True, slots=True)
class Watch:
    """One property on its board.

    inside:  what it makes of an elapse step, from the bits of its inside
    instant: what it makes of the state after a switch step; None if it does not look
    """

    property: Property
    inside: Look
    instant: Look | None

    def after_switch(self, memory: Memory, rested: bool, facts: int) -> Memory:
        """What it remembers after a switch step from a state that had rested, or had not."""
        if rested and memory.flags & ONE_STRETCH:
            memory = Memory(memory.flags & ~ONE_STRETCH, memory.clock, memory.breached)
        return memory if self.instant is None else self.instant(memory, facts, 0)


CLEARED, OPENED, STRUCK, GRANTED, ARMED, PENDING, HOLDING = (1 << at for at in range(len(FLAGS)))
STRAYED = len(FLAGS)  # the place of the first bit of those for what was shown
ONE_STRETCH = CLEARED | OPENED | STRUCK


def monitor_of(memory: Memory) -> Monitor:
    """The same, as the data that every account of the meaning shares."""
    flags = {word for at, word in enumerate(FLAGS) if memory.flags & (1 << at)}
    shown = memory.flags >> STRAYED
    flags |= {"strayed"} if shown & 1 else set()
    flags |= {f"seen {at}" for at in range(1, shown.bit_length()) if shown & (1 << at)}
    return Monitor(frozenset(flags), Fraction(memory.clock, ROUND), memory.breached)


def watch_of(glances: tuple[Glance, Glance], judged: Property) -> Watch:
    """The property, made quick; `glances` are those of an instant and of a step's inside."""
    instant, inside = (_look(glance, judged) for glance in glances)
    return Watch(judged, inside, instant if judged.even_for_an_instant else None)


def _look(glance: Glance, judged: Property) -> Look:
    def helps(condition: Condition | None) -> Test:
        return compiled(glance.judged(condition or NO, "can"))

    def hinders(condition: Condition | None) -> Test:
        return compiled(glance.judged(condition or NO, "must"))

    match judged.sentence:
        case Never(bad):
            return partial(_never, helps(bad))
        case Possible(goal):
            return partial(_never, hinders(goal))
        case OnlyAfter(act, leave, reset):
            return partial(_only_after, helps(act), hinders(leave), helps(reset))
        case AfterNever(cause, bad, release):
            return partial(_after_never, helps(cause), helps(bad), hinders(release))
        case Within(cause, answer, limit):
            return partial(_within, helps(cause), hinders(answer), _sixtieths(limit))
        case Shows(views):
            return partial(_shows, tuple(helps(view) for view in views))
        case OnceLasted(cause, answer, limit):
            return partial(_at_most, helps(cause), hinders(answer), _sixtieths(limit))
        case Lasts(state, "most", limit):
            return partial(_at_most, helps(state), hinders(NO), _sixtieths(limit))
        case Lasts(state, _, limit):
            short = ceil(limit * ROUND) - 1  # the longest time that is too short
            return partial(_at_least, helps(state), hinders(state), short)


def _sixtieths(limit: Fraction) -> Clock:
    """The longest time that does not exceed the limit."""
    return floor(limit * ROUND)


def _never(bad: Test, memory: Memory, bits: int, _: Clock) -> Memory:
    return _breach(memory) if not memory.breached and bad(bits) else memory


def _breach(memory: Memory) -> Memory:
    return Memory(memory.flags, memory.clock, True)


def _only_after(act: Test, leave: Test, reset: Test, memory: Memory, bits: int, _: Clock) -> Memory:
    cleared = bool(memory.flags & CLEARED) or reset(bits)
    granted = not cleared and (bool(memory.flags & GRANTED) or leave(bits))
    flags = cleared * CLEARED | granted * GRANTED
    breached = memory.breached or (not granted and act(bits))
    return _kept(memory, flags, 0, breached)


def _after_never(
    cause: Test, bad: Test, release: Test, memory: Memory, bits: int, _: Clock
) -> Memory:
    began, struck = cause(bits), bad(bits)
    flags = memory.flags & ONE_STRETCH | began * OPENED | struck * STRUCK
    armed = bool(flags & OPENED) or (bool(memory.flags & ARMED) and not release(bits))
    breached = (armed and struck) or (began and bool(flags & STRUCK))
    return _kept(memory, flags | armed * ARMED, 0, memory.breached or breached)


def _shows(views: tuple[Test, ...], memory: Memory, bits: int, _: Clock) -> Memory:
    shown = memory.flags >> STRAYED
    seen = (shown >> 1).bit_count()
    strayed = bool(shown & 1)
    if not strayed and views[seen](bits):
        seen += 1
    elif strayed or seen == 0 or not views[seen - 1](bits):
        return _kept(memory, memory.flags | 1 << STRAYED, 0, memory.breached)
    told = (1 << min(seen + 1, len(views))) - 2
    return _kept(memory, told << STRAYED, 0, memory.breached or seen == len(views))


def _within(
    cause: Test, answer: Test, limit: Clock, memory: Memory, bits: int, time: Clock
) -> Memory:
    pending = bool(memory.flags & PENDING)
    if answer(bits) or not (pending or cause(bits)):
        return _kept(memory, 0, 0, memory.breached)
    clock = (memory.clock if pending else 0) + time
    return _kept(memory, PENDING, clock, memory.breached or clock > limit)


def _at_most(
    state: Test, answer: Test, limit: Clock, memory: Memory, bits: int, time: Clock
) -> Memory:
    clock = memory.clock + time if state(bits) else 0
    breached = memory.breached or (clock > limit and not answer(bits))
    return _kept(memory, 0, clock, breached)


def _at_least(
    may_go_on: Test, goes_on: Test, limit: Clock, memory: Memory, bits: int, time: Clock
) -> Memory:
    holding = bool(memory.flags & HOLDING)
    breached = memory.breached or (holding and not goes_on(bits) and memory.clock <= limit)
    if not may_go_on(bits):
        return _kept(memory, 0, 0, breached)
    return _kept(memory, HOLDING, (memory.clock if holding else 0) + time, breached)


def _kept(memory: Memory, flags: int, clock: Clock, breached: bool) -> Memory:
    """The same memory if nothing in it has changed."""
    if (memory.flags, memory.clock, memory.breached) == (flags, clock, breached):
        return memory
    return Memory(flags, clock, breached)
