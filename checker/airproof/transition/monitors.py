"""What each property remembers of a run, as variables and updates."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

import z3

from airproof.circuit.conditions import Condition, Not
from airproof.circuit.properties import (
    TIMED,
    AfterNever,
    Lasts,
    Never,
    OnceLasted,
    OnlyAfter,
    Possible,
    Property,
    Sentence,
    Shows,
    Within,
)
from airproof.transition.layout import CLOCK, number
from airproof.transition.readings import Reading
from airproof.transition.system import Sort, Variable, variable
from airproof.transition.terms import all_of, any_of, negation

BREACHED = "monitor breached"

_BITS: dict[type, tuple[str, ...]] = {
    Never: (),
    Possible: (),
    OnlyAfter: ("cleared_here", "granted"),
    AfterNever: ("opened_here", "struck_here", "armed"),
    Within: ("pending",),
    OnceLasted: (),
    Lasts: ("holding",),
}


@dataclass(frozen=True, slots=True)
class Update:
    """The monitor after a moment: each bit, the clock [s], and whether this moment breaches."""

    bits: dict[str, z3.BoolRef]
    breach: z3.BoolRef
    clock: z3.ArithRef | None = None


def variables(context: z3.Context, prop: Property) -> dict[str, Variable]:
    """The monitor's variables."""
    keys: list[tuple[str, Sort]] = [(BREACHED, "bool")]
    keys += [(f"monitor {bit}", "bool") for bit in _bits(prop.sentence)]
    if isinstance(prop.sentence, TIMED):
        keys.append((CLOCK, "real"))
    return {key: variable(context, key, sort) for key, sort in keys}


def _bits(sentence: Sentence) -> tuple[str, ...]:
    if isinstance(sentence, Lasts) and sentence.bound == "most":
        return ()
    if isinstance(sentence, Shows):
        return (*_seen(sentence), "strayed")
    return _BITS[type(sentence)]


@dataclass(frozen=True, slots=True)
class Watch:
    """One moment as the monitor sees it: a reading, the memory so far, how long it lasted."""

    reading: Reading
    bits: dict[str, z3.BoolRef]
    clock: z3.ArithRef | None
    lasted: z3.ArithRef

    def helps(self, condition: Condition | None) -> z3.BoolRef:
        """Read where truth helps the breach; a missing condition is never true."""
        return self.no() if condition is None else self.reading.can(condition)

    def hinders(self, condition: Condition | None) -> z3.BoolRef:
        """Read where truth prevents the breach."""
        return self.no() if condition is None else self.reading.must(condition)

    def no(self) -> z3.BoolRef:
        return self.reading.moment.constant(False)

    def zero(self) -> z3.ArithRef:
        return number(self.reading.moment.layout.context, Fraction(0))


def update(sentence: Sentence, watch: Watch) -> Update:
    """The monitor after one moment (an elapse step, or an instant that is judged too)."""
    makers: dict[type, Callable[..., Update]] = {
        Never: lambda s, w: Update({}, w.helps(s.bad)),
        Possible: lambda s, w: Update({}, w.hinders(s.goal)),
        OnlyAfter: _only_after,
        AfterNever: _after_never,
        Within: _within,
        OnceLasted: _once_lasted,
        Lasts: _lasts,
        Shows: _shows,
    }
    return makers[type(sentence)](sentence, watch)


def _only_after(s: OnlyAfter, w: Watch) -> Update:
    cleared = any_of(w.bits["cleared_here"], w.helps(s.reset))
    granted = all_of(negation(cleared), any_of(w.bits["granted"], w.hinders(s.leave)))
    breach = all_of(w.helps(s.act), negation(granted))
    return Update({"cleared_here": cleared, "granted": granted}, breach)


def _after_never(s: AfterNever, w: Watch) -> Update:
    cause, bad = w.helps(s.cause), w.helps(s.bad)
    opened = any_of(w.bits["opened_here"], cause)
    struck = any_of(w.bits["struck_here"], bad)
    kept = all_of(w.bits["armed"], negation(w.hinders(s.release)))
    armed = any_of(opened, kept)
    breach = any_of(all_of(armed, bad), all_of(cause, struck))
    return Update({"opened_here": opened, "struck_here": struck, "armed": armed}, breach)


def _seen(sentence: Shows) -> tuple[str, ...]:
    """A bit for each view but the last: it was shown, and all before it."""
    return tuple(f"seen {place}" for place in range(1, len(sentence.views)))


def _shows(s: Shows, w: Watch) -> Update:
    seen = [w.bits[bit] for bit in _seen(s)]
    here = [w.helps(view) for view in s.views]
    before = [negation(w.no()), *seen]  # so many views at least, by place
    beyond = [*seen, w.no()]
    strayed = w.bits["strayed"]
    comes, stays = [], [w.no()]
    for place, view in enumerate(here):
        just = all_of(before[place], negation(beyond[place]))
        comes.append(all_of(negation(strayed), just, view))
        if place:
            stays.append(all_of(just, here[place - 1]))
    bits = {bit: any_of(was, come) for bit, was, come in zip(_seen(s), seen, comes, strict=False)}
    bits["strayed"] = any_of(strayed, negation(any_of([*comes, *stays])))
    return Update(bits, comes[-1])


def _within(s: Within, w: Watch) -> Update:
    answered, waits = w.hinders(s.answer), w.bits["pending"]
    pending = all_of(negation(answered), any_of(waits, w.helps(s.cause)))
    clock = z3.If(pending, z3.If(waits, w.clock, w.zero()) + w.lasted, w.zero())
    late = clock > number(w.reading.moment.layout.context, s.limit)
    return Update({"pending": pending}, all_of(pending, late), clock)


def _once_lasted(s: OnceLasted, w: Watch) -> Update:
    holds = w.helps(s.cause)
    clock = z3.If(holds, w.clock + w.lasted, w.zero())
    late = clock > number(w.reading.moment.layout.context, s.limit)
    return Update({}, all_of(holds, late, negation(w.hinders(s.answer))), clock)


def _lasts(s: Lasts, w: Watch) -> Update:
    holds, limit = w.helps(s.state), number(w.reading.moment.layout.context, s.limit)
    if s.bound == "most":
        clock = z3.If(holds, w.clock + w.lasted, w.zero())
        return Update({}, all_of(holds, clock > limit), clock)
    was = w.bits["holding"]
    clock = z3.If(holds, z3.If(was, w.clock, w.zero()) + w.lasted, w.zero())
    ended = all_of(was, w.helps(Not(s.state)), w.clock < limit)
    return Update({"holding": holds}, ended, clock)
