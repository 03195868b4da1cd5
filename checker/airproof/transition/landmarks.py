"""The landmarks of a circuit and one property: what no elapse step may cross."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from airproof.circuit.conditions import Compare, Condition, Form, compare, leaves
from airproof.circuit.kinds import Circuit
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
)
from airproof.transition.readings import drop, far_edge, near_edge

Landmark = tuple[Form, Fraction]


def landmarks(circuit: Circuit, sentence: Sentence | None) -> tuple[Landmark, ...]:
    """Every landmark once, in the order of the circuit's text."""
    found: dict[Landmark, None] = {}
    for condition in (*_read_by_circuit(circuit), *conditions_of(sentence)):
        for leaf in leaves(condition):
            if isinstance(leaf, Compare):
                found[leaf.form, near_edge(leaf)] = None
                found[leaf.form, far_edge(leaf)] = None
    for flow in circuit.flows.values():
        edge = compare(drop(flow), ">=", flow.opening)
        found[edge.form, edge.constant] = None
    return tuple(found)


def _read_by_circuit(circuit: Circuit) -> Iterator[Condition]:
    for device in circuit.devices.values():
        yield from (move.when for move in device.moves)
    yield from (timer.runs for timer in circuit.timers.values())
    yield from (flow.condition for flow in circuit.flows.values())
    for quantity in circuit.quantities.values():
        yield from (change.condition for change in quantity.changes)
    yield from (lock.condition for lock in circuit.interlocks.values())
    rules = (assumption.rule for assumption in circuit.assumptions.values())
    yield from (rule.condition for rule in rules if isinstance(rule, KeptRule))


def conditions_of(sentence: Sentence | None) -> tuple[Condition, ...]:
    """The conditions a sentence reads."""
    if sentence is None:
        return ()
    if isinstance(sentence, Never):
        return (sentence.bad,)
    if isinstance(sentence, Possible):
        return (sentence.goal,)
    if isinstance(sentence, Lasts):
        return (sentence.state,)
    if isinstance(sentence, Shows):
        return sentence.views
    if isinstance(sentence, OnlyAfter):
        return _some(sentence.act, sentence.leave, sentence.reset)
    if isinstance(sentence, AfterNever):
        return _some(sentence.cause, sentence.bad, sentence.release)
    if isinstance(sentence, OnceLasted):
        return (sentence.cause, sentence.answer)
    return (sentence.cause, sentence.answer)


def _some(*conditions: Condition | None) -> tuple[Condition, ...]:
    return tuple(c for c in conditions if c is not None)
