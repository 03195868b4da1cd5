"""What a property remembers of a run, and when it is breached."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from fractions import Fraction

from airproof.circuit.conditions import NO, Condition
from airproof.circuit.properties import (
    TIMED,
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
from airproof.circuit.readings import NOTHING, Inner, Instant, View
from airproof.circuit.state import Monitor, State, Step
from airproof.circuit.tables import Tables

HERE = frozenset({"cleared_here", "opened_here", "struck_here"})  # true of one stretch only


def next_monitor(
    tables: Tables, judged: Property, monitor: Monitor, before: State, step: Step
) -> Monitor:
    """What the property remembers after the step.

    Raises ValueError if it has a time in it and the elapse step has no duration.
    """
    if step.kind == "elapse":
        if step.duration is None and isinstance(judged.sentence, TIMED):
            raise ValueError(f"{judged.name} needs the duration of every elapse step")
        return _told(judged, monitor, Inner(tables, before, step.after), step.duration or NOTHING)
    if before.rested:
        monitor = replace(monitor, flags=monitor.flags - HERE)
    if not judged.even_for_an_instant:
        return monitor
    return _told(judged, monitor, Instant(tables, step.after), NOTHING)


def _told(judged: Property, monitor: Monitor, view: View, time: Fraction) -> Monitor:
    match judged.sentence:
        case Never(bad):
            seen = replace(monitor, breached=_adverse(view, bad))
        case Possible(goal):
            seen = replace(monitor, breached=_friendly(view, goal))
        case OnlyAfter():
            seen = _only_after(judged.sentence, monitor.flags, view)
        case AfterNever():
            seen = _after_never(judged.sentence, monitor.flags, view)
        case Within():
            seen = _within(judged.sentence, monitor, view, time)
        case OnceLasted(cause, answer, limit):
            seen = _at_most(limit, monitor, _adverse(view, cause), time)
            seen = replace(seen, breached=seen.breached and not _friendly(view, answer))
        case Shows(views):
            seen = _shows(views, monitor.flags, view)
        case Lasts(state, "most", limit):
            seen = _at_most(limit, monitor, _adverse(view, state), time)
        case Lasts():
            seen = _at_least(judged.sentence, monitor, view, time)
    return replace(seen, breached=monitor.breached or seen.breached)


def _adverse(view: View, condition: Condition) -> bool:
    """Where truth helps a breach: what can be, is."""
    return view.judged(condition)[0]


def _friendly(view: View, condition: Condition) -> bool:
    """Where truth hinders a breach: only what must be, is."""
    return view.judged(condition)[1]


def _flags(**bits: bool) -> frozenset[str]:
    return frozenset(name for name, value in bits.items() if value)


def _only_after(sentence: OnlyAfter, flags: Collection[str], view: View) -> Monitor:
    cleared = "cleared_here" in flags or _adverse(view, sentence.reset or NO)
    granted = not cleared and ("granted" in flags or _friendly(view, sentence.leave))
    return Monitor(
        flags=_flags(cleared_here=cleared, granted=granted),
        breached=not granted and _adverse(view, sentence.act),
    )


def _after_never(sentence: AfterNever, flags: Collection[str], view: View) -> Monitor:
    cause, bad = _adverse(view, sentence.cause), _adverse(view, sentence.bad)
    opened = "opened_here" in flags or cause
    struck = "struck_here" in flags or bad
    released = _friendly(view, sentence.release or NO)
    armed = opened or ("armed" in flags and not released)
    return Monitor(
        flags=_flags(opened_here=opened, struck_here=struck, armed=armed),
        breached=(armed and bad) or (cause and struck),
    )


def _shows(views: tuple[Condition, ...], flags: Collection[str], view: View) -> Monitor:
    """`seen i`: the i-th view was shown, with those before it; `strayed`: something else was."""
    seen = sum(f"seen {place}" in flags for place in range(1, len(views)))
    if "strayed" not in flags and _adverse(view, views[seen]):
        seen += 1
    elif "strayed" in flags or seen == 0 or not _adverse(view, views[seen - 1]):
        return Monitor(flags=frozenset({*flags, "strayed"}))
    told = (f"seen {place}" for place in range(1, min(seen + 1, len(views))))
    return Monitor(flags=frozenset(told), breached=seen == len(views))


def _within(sentence: Within, monitor: Monitor, view: View, time: Fraction) -> Monitor:
    pending = "pending" in monitor.flags
    if _friendly(view, sentence.answer):
        return Monitor()
    if not pending and not _adverse(view, sentence.cause):
        return Monitor()
    clock = (monitor.clock if pending else NOTHING) + time
    return Monitor(flags=_flags(pending=True), clock=clock, breached=clock > sentence.limit)


def _at_most(limit: Fraction, monitor: Monitor, state: bool, time: Fraction) -> Monitor:
    clock = monitor.clock + time if state else NOTHING
    return Monitor(clock=clock, breached=clock > limit)


def _at_least(sentence: Lasts, monitor: Monitor, view: View, time: Fraction) -> Monitor:
    may_go_on, goes_on = view.judged(sentence.state)
    holding = "holding" in monitor.flags
    cut_short = holding and not goes_on and monitor.clock < sentence.limit
    if not may_go_on:
        return Monitor(breached=cut_short)
    clock = (monitor.clock if holding else NOTHING) + time
    return Monitor(flags=_flags(holding=True), clock=clock, breached=cut_short)
