"""A run of a part made into a run of the whole, without a solver.

What stands outside the part moves only when it is due, together with the part
where it can.  Where it is due in the middle of a stretch of the part, the
stretch is split.  Every step is one that the solver-free account allows, and
the property is judged on the way, so what comes out needs no further belief.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Hashable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.cone import ELSEWHERE
from airproof.circuit.elapsing import Due, timers_after
from airproof.circuit.kinds import Circuit
from airproof.circuit.landmarks import landmarks
from airproof.circuit.properties import Property
from airproof.circuit.readings import Inner, value_of
from airproof.circuit.state import Monitor, State, Step
from airproof.circuit.switching import Moved
from airproof.engines.beginnings import Outside
from airproof.engines.outsiders import Outsiders, together
from airproof.evidence.sequence import Sequence

LOOKED_AT = 200  # states from which one start is followed
ALL_LOOKED_AT = 400  # before the last start is taken up
HASTY = 2  # starts that are followed in haste if nothing else leads to the end
NOTHING, ALL = Fraction(0), Fraction(1)


@dataclass(frozen=True, slots=True)
class Woven:
    """The sequence of the whole, None if none was found, and what outside was due on the way."""

    sequence: Sequence | None
    due: tuple[str, ...]


def woven(whole: Circuit, part: Circuit, prop: Property, sequence: Sequence) -> Woven:
    """The part's sequence as one of the whole, no longer than it has to be as far as tried."""
    loom = _Loom(whole, part, prop, sequence)
    best: Sequence | None = None
    for start in loom.outside.starts():
        found = loom.followed(start)
        if found is not None and (best is None or found.length < best.length):
            best = found
        if (best and best.length <= sequence.length) or loom.looked_at > ALL_LOOKED_AT:
            break
    if best is None:
        tried = (loom.followed(start, hasty=True) for start in loom.outside.starts())
        best = next(filter(None, itertools.islice(tried, HASTY)), None)
    return Woven(best, tuple(loom.due))


@dataclass(slots=True)
class _Knot:
    """A state of the whole on the way of the part.

    at, share: the part's next step, and how much of it is behind, if it is an elapse step
    length, moves: of the run so far, and how often things outside moved in it
    """

    state: State
    monitor: Monitor
    at: int = 0
    share: Fraction = NOTHING
    length: int = 0
    moves: int = 0
    step: Step | None = None
    parent: _Knot | None = None

    @property
    def passed(self) -> bool:
        return self.step is not None and self.step.kind == "elapse"

    @property
    def key(self) -> Hashable:
        state = self.state
        return (
            self.at,
            self.share,
            self.passed,
            self.monitor,
            *(tuple(sorted(x.items())) for x in (state.positions, state.leaving, state.timers)),
            tuple(sorted(state.values.items())),
            (state.aged, state.fresh, state.rested),
        )

    def run(self) -> Sequence:
        """Everything that led here."""
        steps: list[Step] = []
        knot = self
        while knot.step is not None and knot.parent is not None:
            steps.append(knot.step)
            knot = knot.parent
        return Sequence(knot.state, tuple(reversed(steps)))


class _Loom:
    """One sequence of the part, to be followed by the whole."""

    def __init__(self, whole: Circuit, part: Circuit, prop: Property, sequence: Sequence) -> None:
        self.behaviour, self.prop = Behaviour(whole), prop
        self.pairs = tuple(sequence.pairs())
        self.marks = landmarks(whole, prop.sentence)
        self.inside = part.positions.keys() | part.timers.keys() | part.value_starts.keys()
        values = part.value_starts.keys()
        self.crossable = [
            mark
            for mark in self.marks - landmarks(part, prop.sentence)
            if not values.isdisjoint(mark[0].names)
        ]
        behaviour = Behaviour(part)
        self.own = [
            [m for m in behaviour.moves_made(before, step.after) if m.name != ELSEWHERE]
            if step.kind == "switch"
            else []
            for before, step in self.pairs
        ]
        self.ahead = self._ahead()
        states = dict.fromkeys(map(_Seen, (sequence.start, *(s.after for s in sequence.steps))))
        seen = tuple(one.state for one in states)
        self.outside = Outside(self.behaviour, seen, prop.start, self.marks)
        self.others = Outsiders(self.behaviour, frozenset(self.inside))
        self.due: dict[str, None] = {}
        self.looked_at = 0

    def _ahead(self) -> list[int]:
        """For each step, the length from it on: a stretch counts with its first step."""
        ahead = [0]
        for i in reversed(range(len(self.pairs))):
            _, step = self.pairs[i]
            begins = i > 0 and self.pairs[i - 1][1].kind == "switch" and bool(self.own[i - 1])
            adds = bool(self.own[i]) if step.kind == "switch" else begins
            ahead.append(ahead[-1] + adds)
        return ahead[::-1]

    # ---- the search: least length first, then fewest moves outside

    def followed(self, start: State, *, hasty: bool = False) -> Sequence | None:
        """The shortest run found from this start that ends as the part's does.

        hasty: the first one found by going on as far as can be, moving all that may have to
        """
        order = itertools.count()
        first = _Knot(start, Monitor())
        queue = [(self._rank(first, hasty), next(order), first)]
        known = {first.key}
        for _ in range(LOOKED_AT):
            if not queue:
                break
            knot = heapq.heappop(queue)[-1]
            self.looked_at += 1
            if knot.monitor.breached:
                return knot.run()
            for after in self._onward(knot):
                if after.key not in known:
                    known.add(after.key)
                    heapq.heappush(queue, (self._rank(after, hasty), next(order), after))
        return None

    def _rank(self, knot: _Knot, hasty: bool) -> tuple[int | Fraction, ...]:
        """What it will be long at least, then the calm ones, then those that are far."""
        to_go = 0
        if not knot.monitor.breached and knot.at < len(self.pairs):
            kind = self.pairs[knot.at][1].kind
            now = bool(self.own[knot.at]) if kind == "switch" else not knot.passed
            to_go = now + self.ahead[knot.at + 1]
        if hasty:
            return -knot.at, -knot.share, knot.length + to_go, -knot.moves
        return knot.length + to_go, knot.moves, -knot.at, -knot.share

    def _onward(self, knot: _Knot) -> Iterator[_Knot]:
        if knot.at == len(self.pairs):
            return
        if self.pairs[knot.at][1].kind == "elapse":
            yield from self._waited(knot)
            return
        own = self.own[knot.at]
        if own:
            for moves in ((), *together(self._wanted(knot))):
                yield from self._switched(knot, own, moves, knot.at + 1)
        else:
            yield replace(knot, at=knot.at + 1)
            for moves in self.others.anything(knot.state, self._wanted(knot)):
                yield from self._switched(knot, own, moves, knot.at + 1)

    def _switched(
        self, knot: _Knot, own: list[Moved], others: tuple[Moved, ...], at: int
    ) -> Iterator[_Knot]:
        after = self.behaviour.moved(knot.state, [*own, *others])
        step = Step("switch", after, {}, NOTHING)
        yield from self._stepped(knot, step, (at, NOTHING if at > knot.at else knot.share), others)

    def _stepped(
        self, knot: _Knot, step: Step, to: tuple[int, Fraction], others: tuple[Moved, ...] = ()
    ) -> Iterator[_Knot]:
        """The next knot, if the step is allowed."""
        if not self.behaviour.step_refusals(knot.state, step, self.marks):
            adds = step.kind == "switch" or not knot.passed
            monitor = self.behaviour.next_monitor(self.prop, knot.monitor, knot.state, step)
            length, moves = knot.length + adds, knot.moves + len(others)
            yield _Knot(step.after, monitor, *to, length, moves, step, knot)

    # ---- time passes

    def _waited(self, knot: _Knot) -> Iterator[_Knot]:
        """As much of the part's elapse step as crosses no landmark; what is due moves first."""
        share = self._share(knot)
        after = self._after(knot, share)
        if self._due_outside(knot.state, after):
            for moves in together(self._wanted(knot)) or self.others.by_themselves(knot.state):
                yield from self._switched(knot, [], moves, knot.at)
            return
        part = share - knot.share
        _, whole = self.pairs[knot.at]
        amounts = {flow: amount * part for flow, amount in whole.amounts.items()}
        lasted = None if whole.duration is None else whole.duration * part
        to = (knot.at + 1, NOTHING) if share == ALL else (knot.at, share)
        yield from self._stepped(knot, Step("elapse", after, amounts, lasted), to)

    def _share(self, knot: _Knot) -> Fraction:
        """How far the step may go: to its end, or to the first landmark that it would cross."""
        left, nearest = ALL - knot.share, ALL
        end = {**knot.state.values, **self.pairs[knot.at][1].after.values}
        for form, constant in self.crossable:
            now, then = value_of(form, knot.state.values), value_of(form, end)
            if now < constant < then or then < constant < now:
                nearest = min(nearest, knot.share + left * (constant - now) / (then - now))
        return nearest

    def _after(self, knot: _Knot, share: Fraction) -> State:
        _, step = self.pairs[knot.at]
        first, last = self.pairs[knot.at][0].values, step.after.values
        values = {n: first[n] + share * (last[n] - first[n]) for n in last}
        after = replace(
            knot.state,
            values={**knot.state.values, **values},
            aged=frozenset(knot.state.leaving),
            rested=True,
        )
        inner = Inner(self.behaviour.tables, knot.state, after)
        timers = dict(step.after.timers)
        for name, was in knot.state.timers.items():
            if name not in timers:
                allowed = timers_after(inner, name)
                timers[name] = was if was in allowed else allowed[0]
        return replace(after, timers=timers)

    # ---- what moves outside

    def _due_outside(self, before: State, after: State) -> list[Due]:
        found = self.others.due(before, after)
        self.due.update(dict.fromkeys(thing.name for thing in found))
        return found

    def _wanted(self, knot: _Knot) -> list[Moved]:
        """Moves outside, allowed now, that are due now, in the coming stretch or at its end."""
        coming = itertools.takewhile(
            lambda pair: pair[1].kind == "elapse",
            itertools.dropwhile(lambda pair: pair[1].kind == "switch", self.pairs[knot.at :]),
        )
        state = knot.state
        ends = [replace(state, values={**state.values, **s.after.values}) for _, s in coming]
        spans = [(state, state), *((state, end) for end in ends), *((end, end) for end in ends)]
        if self.pairs[knot.at][1].kind == "elapse":
            spans.insert(0, (state, self._after(knot, self._share(knot))))
        return self.others.wanted(state, spans)


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """A state of the part, the same as any other with the same places and values."""

    state: State

    def _told(self) -> Hashable:
        return (
            tuple(self.state.positions.items()),
            tuple(self.state.leaving.items()),
            tuple(self.state.values.items()),
        )

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Seen) and self._told() == other._told()

    def __hash__(self) -> int:
        return hash(self._told())
