"""Breaches that do without something that every sequence known so far does.

The system remembers each deed of a run until its first breach.  A rival is a
breach that, for each known sequence, leaves out one of its deeds: the same
with a detour, or in another order, is none.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import replace

import z3

from airproof.circuit.deeds import EXPIRED, Deed, deeds, possible_deeds
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.circuit.tables import tables_of
from airproof.engines.budget import Budget
from airproof.engines.prover import Prover
from airproof.engines.search import Known, Outcome, Search
from airproof.engines.unrolling import Unrolling
from airproof.evidence.sequence import Sequence
from airproof.transition.encode import encode, layout_of
from airproof.transition.layout import Layout
from airproof.transition.switching import Switching
from airproof.transition.system import Conjunct, System, Variable, conjunction, variable

RIVAL = "monitor rival"

Deeds = frozenset[Deed]
Notes = dict[Deed, Variable]


def done_by(circuit: Circuit, sequence: Sequence) -> Deeds:
    """What the sequence does."""
    tables = tables_of(circuit)
    steps = ((before, s.after) for before, s in sequence.pairs() if s.kind == "switch")
    return frozenset(deed for before, after in steps for deed in deeds(tables, before, after))


def rival(
    circuit: Circuit, prop: Property, known: Iterable[Deeds], budget: Budget, *, after: int = 0
) -> Outcome:
    """The shortest breach that leaves out a deed of each known set.

    after: a breach is known to take more than so many steps
    A known set without a deed leaves nothing out, so then there is no rival.
    """
    prover = Prover(circuit, prop, budget)
    attempt = prover.facts()
    if attempt.invariant is not None:
        return Outcome(None, budget.steps, "deepest", prover.effort)
    layout = layout_of(prover.system, circuit)
    system = _watching(prover.system, layout, known)
    hunt = Search(circuit, prop, budget, Known(system, prover.literals))
    return hunt.deepen(budget.steps, after=after)


def _watching(system: System, layout: Layout, known: Iterable[Deeds]) -> System:
    """The system, breached by its rivals only."""
    noting, notes = _noting(system, layout)
    breached = next(v for v in system.variables if v.key == system.breached)
    found = variable(system.context, RIVAL, "bool")
    lacking = [
        z3.Or([z3.BoolVal(False, system.context), *(z3.Not(notes[deed].then) for deed in one)])
        for one in known
    ]
    first = z3.And(breached.then, z3.Not(breached.now), *lacking)
    latch = Conjunct(found.then == z3.Or(found.now, first), (RIVAL,))
    return replace(
        noting,
        variables=(*noting.variables, found),
        start=(*noting.start, Conjunct(z3.Not(found.now), (RIVAL,))),
        switch=(*noting.switch, latch),
        elapse=(*noting.elapse, latch),
        breached=RIVAL,
    )


def _noting(system: System, layout: Layout) -> tuple[System, Notes]:
    """The system with a note of each deed, once done."""
    circuit, context = layout.circuit, system.context
    notes = {
        deed: variable(context, f"note {deed.name} {deed.place}", "bool")
        for deed in possible_deeds(circuit)
    }
    switching = Switching(layout.moment(after=False), layout.moment(after=True))
    noted = {deed: z3.Or(v.now, _does(switching, deed)) for deed, v in notes.items()}
    return replace(
        system,
        variables=(*system.variables, *notes.values()),
        start=(*system.start, *(Conjunct(z3.Not(v.now), (v.key,)) for v in notes.values())),
        switch=(
            *system.switch,
            *(
                Conjunct(notes[deed].then == term, (notes[deed].key,))
                for deed, term in noted.items()
            ),
        ),
        elapse=(*system.elapse, *(Conjunct(v.then == v.now, (v.key,)) for v in notes.values())),
    ), notes


def _does(switching: Switching, deed: Deed) -> z3.BoolRef:
    circuit, now, then = switching.circuit, switching.now, switching.then
    if deed.name in circuit.range_controls:
        return switching.range_moves(deed.name)
    if deed.name in circuit.timers:
        expired = (moment.flag(EXPIRED, deed.name) for moment in (then, now))
        return z3.And(next(expired), z3.Not(next(expired)))
    return switching.goes(deed.name, deed.place)


def essential(circuit: Circuit, prop: Property, done: Deeds, steps: int, budget: Budget) -> Deeds:
    """Of these deeds some that suffice for a breach of so many steps, and no fewer of them do.

    What stood in a run by the way is left out, so that a run without just that
    counts as the same.  All of them where the budget ends before.
    circuit: perhaps a part of the one that did them; what is not of it is left out too
    """
    done &= set(possible_deeds(circuit))
    context = z3.Context()
    plain = encode(circuit, prop, context)
    system, notes = _noting(plain, layout_of(plain, circuit))
    run = Unrolling(_ending(system))
    for _ in range(steps):
        run.extend()
    last = run.steps
    terms = {deed: run.at(v.now, last) for deed, v in notes.items()}
    run.solver.add(
        run.breached(last), *(z3.Not(t) for deed, t in terms.items() if deed not in done)
    )
    while done:
        run.solver.add(z3.Or([z3.Not(terms[deed]) for deed in done]))
        if run.check(budget).word != "sat":
            break
        model = run.model()
        done = frozenset(deed for deed in done if z3.is_true(model.eval(terms[deed], True)))
        run.solver.add(*(z3.Not(t) for deed, t in terms.items() if deed not in done))
    return done


def _ending(system: System) -> System:
    """The same, standing still once it is breached."""
    breached = next(v for v in system.variables if v.key == system.breached)
    rest = z3.And([v.now == v.then for v in system.variables])

    def until(parts: Collection[Conjunct]) -> Iterator[Conjunct]:
        step = conjunction(system.context, tuple(parts))
        yield Conjunct(z3.If(breached.now, rest, step))

    return replace(system, switch=tuple(until(system.switch)), elapse=tuple(until(system.elapse)))
