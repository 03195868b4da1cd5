"""The circuit before a change in the words of the one after it.

What is only called otherwise gets its new name, and what is only written
otherwise is written as it is there.  Whatever is left is a change of meaning.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from airproof.analyses.renaming import question, renaming
from airproof.circuit.affected import KINDS
from airproof.circuit.conditions import Condition
from airproof.circuit.kinds import Circuit, Control, Device, Interlock
from airproof.circuit.normal import normal, normal_thing
from airproof.circuit.properties import Assumption, KeptRule, Property
from airproof.circuit.renamed import Renaming, renamed


@dataclass(frozen=True, slots=True)
class Likened:
    """The old circuit in the new one's words, and by what names it was brought to them."""

    circuit: Circuit
    renaming: Renaming


def likened(old: Circuit, new: Circuit) -> Likened:
    """The same runs, the same questions: names apart, every statement means what it meant."""
    names = renaming(old, new)
    told = renamed(old, names)
    things: dict[str, Any] = {
        kind: {n: _restated(x, getattr(new, kind).get(n)) for n, x in getattr(told, kind).items()}
        for kind in KINDS
    }
    circuit = replace(
        told,
        **things,
        interlocks=_interlocks(told, new),
        assumptions={n: _granted(x, new.assumptions.get(n)) for n, x in told.assumptions.items()},
        signals={n: _written(x, new.signals.get(n)) for n, x in told.signals.items()},
        properties={n: _asked(x, new.properties.get(n)) for n, x in told.properties.items()},
    )
    return Likened(circuit, names)


def _restated(thing: Any, after: Any) -> Any:
    if after is None or type(after) is not type(thing):
        return thing
    if normal_thing(thing) == normal_thing(after):
        return after
    if isinstance(thing, Control | Device) and _any_order(thing) and _any_order(after):
        same = {*thing.positions} == {*after.positions}
        return replace(thing, positions=after.positions) if same else thing
    return thing


def _any_order(thing: Control | Device) -> bool:
    return isinstance(thing, Device) or not thing.ordered or len(thing.positions) <= 2


def _interlocks(told: Circuit, new: Circuit) -> dict[str, Interlock]:
    """Each as the new circuit has it, by its name there unless another one goes by that."""
    known = {repr(_bare(lock)): lock for lock in new.interlocks.values()}
    found: dict[str, Interlock] = {}
    for name, lock in told.interlocks.items():
        after = known.get(repr(_bare(lock)), lock)
        if after.name != name and (after.name in told.interlocks or after.name in found):
            after = replace(lock, condition=after.condition)
        found[after.name] = after
    return found


def _bare(lock: Interlock) -> Interlock:
    """What the rule says."""
    return replace(normal_thing(lock), name="", title="")


def _granted(assumption: Assumption, after: Assumption | None) -> Assumption:
    if after is None or not isinstance(after.rule, KeptRule):
        return assumption
    rule = assumption.rule
    if isinstance(rule, KeptRule) and normal_thing(rule) == normal_thing(after.rule):
        return replace(assumption, rule=after.rule)
    return assumption


def _written(signal: Condition, after: Condition | None) -> Condition:
    same = after is not None and normal(signal) == normal(after)
    return after if same and after is not None else signal


def _asked(asked: Property, after: Property | None) -> Property:
    if after is None or question(asked) != question(after):
        return asked
    return replace(asked, sentence=after.sentence)
