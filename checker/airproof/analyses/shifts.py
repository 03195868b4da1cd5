"""What a property's sentence came to mean because something that it names was changed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, replace

from airproof.circuit.conditions import AllOf, AnyOf, Condition, Not
from airproof.circuit.cone import named
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property, Sentence
from airproof.evidence.difference import Shift


def shifts(old: Circuit, new: Circuit, name: str) -> tuple[Shift, ...]:
    """Why the property of that name, which both have, does not ask what it asked.

    Whatever decides how the named things move is another matter: that is what
    the property is there to judge.
    """
    before, after = old.properties[name], new.properties[name]
    return tuple(dict.fromkeys(_shifts(old, new, before, after)))


def _shifts(old: Circuit, new: Circuit, before: Property, after: Property) -> Iterator[Shift]:
    if before.sentence != after.sentence:
        signals = [*_signals(old, new, before, after)]
        yield from signals or (Shift("sentence", before.name),)
    if before.even_for_an_instant != after.even_for_an_instant:
        yield Shift("instants", before.name)
    if before.severity != after.severity:
        yield Shift("severity", f"{before.severity or 'none'} to {after.severity or 'none'}")
    if before.start != after.start:
        yield Shift("start", after.start or before.start or "")
    elif before.start and old.standings.get(before.start) != new.standings.get(before.start):
        yield Shift("state", before.start)
    for thing in dict.fromkeys((*named(before.sentence), *named(after.sentence))):
        if spoken_of(old, thing) != spoken_of(new, thing):
            yield Shift("thing", thing)


def _signals(old: Circuit, new: Circuit, before: Property, after: Property) -> Iterator[Shift]:
    """The signals that were changed and that the sentence seems to be written with."""
    for name in dict.fromkeys((*old.signals, *new.signals)):
        was, now = old.signals.get(name), new.signals.get(name)
        if was != now and (_within(was, before.sentence) or _within(now, after.sentence)):
            yield Shift("signal", name)


def _within(condition: Condition | None, sentence: Sentence) -> bool:
    parts = (getattr(sentence, field.name) for field in fields(sentence))
    return condition is not None and any(_holds(part, condition) for part in parts)


def _holds(tree: object, condition: Condition) -> bool:
    """Whether the condition is the tree or a branch of it."""
    if tree == condition:
        return True
    match tree:
        case Not(part):
            return _holds(part, condition)
        case AllOf(parts) | AnyOf(parts):
            inner = condition.parts if isinstance(condition, type(tree)) else None
            among = inner is not None and set(inner) <= set(parts)
            return among or any(_holds(part, condition) for part in parts)
    return False


def spoken_of(circuit: Circuit, name: str) -> object:
    """What a sentence that names it speaks of; how wide a flow's way is does not matter to it."""
    for things in (
        circuit.supplies,
        circuit.volumes,
        circuit.controls,
        circuit.range_controls,
        circuit.devices,
        circuit.timers,
        circuit.quantities,
    ):
        if name in things:
            return things[name]
    flow = circuit.flows.get(name)
    return None if flow is None else replace(flow, restriction=None)
