"""Rungs: the literals over a state that proofs are built from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction

import z3

from airproof.circuit.conditions import Form, form_of
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import TIMED, Sentence
from airproof.transition.landmarks import landmarks
from airproof.transition.layout import CLOCK, Moment, number
from airproof.transition.literals import Bit, Edge, Literal, Rung
from airproof.transition.terms import negation


def term_of(moment: Moment, rung: Rung) -> z3.BoolRef:
    """The rung read in one state."""
    if isinstance(rung, Bit):
        return moment.terms[rung.key]
    value = moment.form(Form(rung.terms))
    constant = number(moment.layout.context, rung.constant)
    return value >= constant if rung.order == ">=" else value <= constant


def literal_of(moment: Moment, literal: Literal) -> z3.BoolRef:
    """The rung or its opposite, read in one state."""
    term = term_of(moment, literal.rung)
    return term if literal.so else negation(term)


def first_rungs(
    circuit: Circuit, sentence: Sentence | None, bits: Iterable[str]
) -> tuple[Rung, ...]:
    """Every boolean, every landmark from both sides, and the outermost pressures there are."""
    edges = dict.fromkeys(
        edge
        for form, constant in (
            *landmarks(circuit, sentence),
            *_ends(circuit),
            *_times(sentence),
        )
        for edge in both(form, constant)
    )
    return (*map(Bit, bits), *edges)


def _times(sentence: Sentence | None) -> Iterator[tuple[Form, Fraction]]:
    """The property's own clock against nothing and against its limit."""
    if isinstance(sentence, TIMED):
        yield from ((_alone(CLOCK), c) for c in (Fraction(0), sentence.limit))


def both(form: Form, constant: Fraction) -> tuple[Edge, Edge]:
    """At or above, at or below."""
    return Edge(form.terms, ">=", constant), Edge(form.terms, "<=", constant)


def _ends(circuit: Circuit) -> Iterator[tuple[Form, Fraction]]:
    """Where values start, and the highest and lowest pressure that any of the air starts from."""
    for supply in circuit.supplies.values():
        yield from ((_alone(supply.name), c) for c in (supply.range.low, supply.range.high))
    for handle in circuit.range_controls.values():
        yield from ((_alone(handle.name), c) for c in (handle.range.low, handle.range.high))
    for name in (*circuit.volumes, *circuit.quantities):
        band = circuit.value_starts[name]
        yield from ((_alone(name), c) for c in (band.low, band.high))
    bands = [s.range for s in circuit.supplies.values()]
    bands += [v.starts for v in circuit.volumes.values()]
    if bands:
        lowest = min(Fraction(0), *(b.low for b in bands))
        highest = max(Fraction(0), *(b.high for b in bands))
        for name in circuit.volumes:
            yield _alone(name), lowest
            yield _alone(name), highest


def _alone(name: str) -> Form:
    return form_of({name: Fraction(1)})
