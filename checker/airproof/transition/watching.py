"""A system that watches for states of its own circuit, also just behind an edge."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

import z3

from airproof.transition.layout import Layout, Moment
from airproof.transition.monitors import BREACHED
from airproof.transition.settling import Settling
from airproof.transition.system import Conjunct, System, Variable, variable
from airproof.transition.terms import all_of, any_of, negation

Term = Callable[[Moment], z3.BoolRef]


@dataclass(frozen=True, slots=True)
class Watch:
    """What is watched for.

    wanted:     over a state: what the system is to be breached by
    marks:      over a state, by any name: what else each state is marked with
    overlooked: for each thing that time may pass without although it is due,
                the mark of the next state that excuses it
    """

    wanted: Term
    marks: Mapping[str, Term]
    overlooked: Mapping[str, str]


def mark_key(name: str) -> str:
    """The key of the variable for a mark."""
    return f"monitor {name}"


def watched(system: System, layout: Layout, watch: Watch, known: Iterable[z3.BoolRef]) -> System:
    """The system, breached as soon as a state is as wanted; known: so in every state of a run.

    A run may end with one step behind an edge: it overlooks that things are
    due that were not while every value stood still, and that find no rest in
    the state it leads to.  Without it, no step leads to where time cannot go
    on, and nobody would see that place.

    before: the system has a monitor that judges nothing.
    """
    now, then = layout.moment(after=False), layout.moment(after=True)
    bits = {name: variable(system.context, mark_key(name), "bool") for name in watch.marks}
    breached = next(v for v in system.variables if v.key == BREACHED)
    means = {breached.key: (breached, watch.wanted)}
    means |= {bits[name].key: (bits[name], term) for name, term in watch.marks.items()}
    first = [Conjunct(v.now == term(now), (key,)) for key, (v, term) in means.items()]
    later = [Conjunct(v.then == term(then), (key,)) for key, (v, term) in means.items()]
    last = negation(any_of(breached.now, watch.wanted(now)))  # no run goes on from such a state
    rest = (*later, Conjunct(last), *map(Conjunct, known))
    return replace(
        system,
        variables=(*system.variables, *bits.values()),
        start=(*_bare(system.start), *first),
        switch=(*_bare(system.switch), *rest),
        elapse=(*_relaxed(system, _excuses(system, now, watch, bits)), *rest),
    )


def _bare(parts: Iterable[Conjunct]) -> Iterator[Conjunct]:
    """Without the monitor's own."""
    return (part for part in parts if BREACHED not in part.defines)


def _excuses(
    system: System, now: Moment, watch: Watch, bits: Mapping[str, Variable]
) -> dict[str, z3.BoolRef]:
    """For each thing, when time may pass although it is due."""
    ends = next(v.then for v in system.variables if v.key == BREACHED)
    return {
        name: all_of(ends, bits[why].then, negation(Settling(now).due(name)))
        for name, why in watch.overlooked.items()
    }


def _relaxed(system: System, excuses: Mapping[str, z3.BoolRef]) -> Iterator[Conjunct]:
    """What is due keeps time from passing, but for the step behind an edge."""
    known = {negation(system.due[name]).get_id(): term for name, term in excuses.items()}
    for part in _bare(system.elapse):
        excuse = known.get(part.term.get_id())
        yield part if excuse is None else replace(part, term=any_of(part.term, excuse))
