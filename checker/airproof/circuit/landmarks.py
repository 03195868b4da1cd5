"""Landmarks: the compared forms and their constants that no elapse step crosses."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from airproof.circuit.conditions import Compare, Condition, Form, compare, form_of, leaves
from airproof.circuit.kinds import ATMOSPHERE, Circuit, Flow
from airproof.circuit.properties import (
    AfterNever,
    KeptRule,
    Lasts,
    Never,
    OnceLasted,
    OnlyAfter,
    Possible,
    Sentence,
    Shows,
    Within,
)

Mark = tuple[Form, Fraction]


def landmarks(circuit: Circuit, sentence: Sentence | None) -> frozenset[Mark]:
    """Every landmark of a run in which `sentence` is judged: (form, constant) [bar or unit]."""
    conditions = [*_read_by(circuit), *(conditions_of(sentence) if sentence else ())]
    edges = (
        (leaf.form, edge)
        for condition in conditions
        for leaf in leaves(condition)
        if isinstance(leaf, Compare)
        for edge in (leaf.constant - leaf.tolerance, leaf.constant + leaf.tolerance)
    )
    return frozenset([*edges, *(mark for f in circuit.flows.values() for mark in _of_flow(f))])


def conditions_of(sentence: Sentence) -> tuple[Condition, ...]:
    """The conditions that a sentence names."""
    match sentence:
        case Never(bad):
            found: tuple[Condition | None, ...] = (bad,)
        case OnlyAfter(act, leave, reset):
            found = (act, leave, reset)
        case AfterNever(cause, bad, release):
            found = (cause, bad, release)
        case Within(cause, answer, _) | OnceLasted(cause, answer, _):
            found = (cause, answer)
        case Lasts(state, _, _):
            found = (state,)
        case Possible(goal):
            found = (goal,)
        case Shows(views):
            found = views
    return tuple(condition for condition in found if condition is not None)


def _read_by(circuit: Circuit) -> Iterator[Condition]:
    for device in circuit.devices.values():
        yield from (move.when for move in device.moves)
    yield from (timer.runs for timer in circuit.timers.values())
    yield from (flow.condition for flow in circuit.flows.values())
    for quantity in circuit.quantities.values():
        yield from (change.condition for change in quantity.changes)
    yield from (interlock.condition for interlock in circuit.interlocks.values())
    for assumption in circuit.assumptions.values():
        if isinstance(assumption.rule, KeptRule):
            yield assumption.rule.condition


def _of_flow(flow: Flow) -> Iterator[Mark]:
    weights = {flow.source: Fraction(1)}
    weights[flow.target] = weights.get(flow.target, Fraction(0)) - 1
    weights.pop(ATMOSPHERE, None)
    form = form_of(weights)
    if form.terms:
        even = compare(form, ">=", flow.opening if flow.one_way else Fraction(0))
        yield even.form, even.constant
