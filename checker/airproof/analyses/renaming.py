"""Which things of two circuits are the same but for their names."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from fractions import Fraction
from typing import Any, TypeVar

from airproof.circuit.affected import KINDS
from airproof.circuit.conditions import (
    AllOf,
    AnyOf,
    At,
    Compare,
    Condition,
    Expired,
    Flowing,
    GoneTo,
    Not,
    OnTheWay,
    compare,
    form_of,
)
from airproof.circuit.kinds import Circuit, Standing
from airproof.circuit.properties import Assumption, KeptRule, SupplyRule

Thing = TypeVar("Thing")
Names = Mapping[str, str]

_UNKNOWN = "(new name)"  # no name of the language has brackets


def renaming(old: Circuit, new: Circuit) -> dict[str, str]:
    """New names by old ones, of what the new circuit has under another name only.

    Two statements are paired if they say the same as far as the names in them
    are known, and no other two of the old or the new circuit do; where several
    do, the first of the one text goes with the first of the other.  Pairs make
    more names known, and so on.  Nothing rests on the guess: what is compared
    afterwards is the renamed circuit itself.
    """
    found: dict[str, str] = {}
    while True:
        groups = [group for kind in KINDS for group in _alike(old, new, kind, found)]
        pairs = {olds[0]: news[0] for olds, news in groups if len(olds) == 1}
        pairs = pairs or {olds[0]: news[0] for olds, news in groups[:1]}
        if not pairs:
            return found
        found |= pairs


def _alike(
    old: Circuit, new: Circuit, kind: str, known: Names
) -> Iterator[tuple[list[str], list[str]]]:
    """The unpaired of one kind, as many of either circuit, that say the same."""
    before, after = getattr(old, kind), getattr(new, kind)
    gone = [name for name in before if name not in _names(new) and name not in known]
    come = [name for name in after if name not in _names(old) and name not in known.values()]
    blur = dict.fromkeys([*_names(old) - _names(new) - {*known}], _UNKNOWN)
    veil = dict.fromkeys([*_names(new) - _names(old) - {*known.values()}], _UNKNOWN)
    alike: dict[str, tuple[list[str], list[str]]] = defaultdict(lambda: ([], []))
    for name in gone:
        alike[repr(_thing(before[name], {**known, **blur}))][0].append(name)
    for name in come:
        alike[repr(_thing(after[name], veil))][1].append(name)
    yield from (group for group in alike.values() if len(group[0]) == len(group[1]))


def _names(circuit: Circuit) -> set[str]:
    return {name for kind in KINDS for name in getattr(circuit, kind)}


def renamed(circuit: Circuit, names: Names) -> Circuit:
    """The circuit with those things called otherwise; its properties and signals are left out.

    Every new name is one that the circuit does not have.
    """
    things: dict[str, Any] = {
        kind: {names.get(n, n): _thing(x, names) for n, x in getattr(circuit, kind).items()}
        for kind in KINDS
    }
    return replace(
        circuit,
        **things,
        interlocks={n: _thing(x, names) for n, x in circuit.interlocks.items()},
        assumptions={n: _assumption(x, names) for n, x in circuit.assumptions.items()},
        standings={n: _standing(x, names) for n, x in circuit.standings.items()},
        observed=tuple(names.get(name, name) for name in circuit.observed),
        properties={},
        signals={},
        drawings={},
    )


_NAMING = frozenset({"name", "source", "target", "control"})  # fields of statements that name


def _thing(thing: Thing, names: Names) -> Thing:
    """A statement, with the names in it and in its conditions."""
    assert is_dataclass(thing)
    assert not isinstance(thing, type)
    interlock = hasattr(thing, "rule")
    changes: dict[str, object] = {}
    for field in fields(thing):
        value = getattr(thing, field.name)
        if field.name in _NAMING and not (interlock and field.name == "name"):
            changes[field.name] = names.get(value, value)
        elif isinstance(value, Condition):
            changes[field.name] = _condition(value, names)
        elif field.name in ("moves", "changes"):
            changes[field.name] = tuple(_thing(part, names) for part in value)
    return replace(thing, **changes)


def _assumption(assumption: Assumption, names: Names) -> Assumption:
    if isinstance(assumption.rule, KeptRule):
        return replace(assumption, rule=_thing(assumption.rule, names))
    read = (_condition(part, names) for part in assumption.rule.comparisons)
    parts = tuple(part for part in read if isinstance(part, Compare))
    return replace(assumption, rule=SupplyRule(parts))


def _standing(state: Standing, names: Names) -> Standing:
    return replace(
        state,
        positions={names.get(n, n): place for n, place in state.positions.items()},
        values={names.get(n, n): value for n, value in state.values.items()},
    )


def _condition(condition: Condition, names: Names) -> Condition:
    def new(name: str) -> str:
        return names.get(name, name)

    match condition:
        case Compare(form, order, constant, tolerance):
            weights: dict[str, Fraction] = {}
            for name, weight in form.terms:
                weights[new(name)] = weights.get(new(name), Fraction(0)) + weight
            known = form_of(weights)
            return compare(known, order, constant, tolerance) if known.terms else condition
        case At(name, place):
            return At(new(name), place)
        case OnTheWay(name):
            return OnTheWay(new(name))
        case Expired(name):
            return Expired(new(name))
        case Flowing(name):
            return Flowing(new(name))
        case GoneTo(name, place):
            return GoneTo(new(name), place)
        case Not(part):
            return Not(_condition(part, names))
        case AllOf(parts):
            return AllOf(tuple(_condition(part, names) for part in parts))
        case AnyOf(parts):
            return AnyOf(tuple(_condition(part, names) for part in parts))
    return condition
