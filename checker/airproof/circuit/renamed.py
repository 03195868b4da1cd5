"""A circuit told with other names."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
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
from airproof.circuit.kinds import (
    Change,
    Circuit,
    Control,
    Device,
    Flow,
    Interlock,
    Move,
    Quantity,
    Standing,
    Timer,
)
from airproof.circuit.properties import Assumption, KeptRule, Property, Sentence, Shows, SupplyRule

Thing = TypeVar("Thing")
Names = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Renaming:
    """New names by old ones; what is not here keeps its name.

    things: of everything that moves, changes or carries air
    places: by the old name of a thing, new names of its positions by old ones
    No name is one that something else of the circuit goes by.
    """

    things: Names = field(default_factory=dict)
    places: Mapping[str, Names] = field(default_factory=dict)
    signals: Names = field(default_factory=dict)
    standings: Names = field(default_factory=dict)
    properties: Names = field(default_factory=dict)

    def thing(self, name: str) -> str:
        return self.things.get(name, name)

    def place(self, name: str, place: str) -> str:
        """The new name of a position; the thing goes by its old one."""
        return self.places.get(name, {}).get(place, place)

    def __bool__(self) -> bool:
        return any(getattr(self, one.name) for one in fields(self))


def renamed(circuit: Circuit, names: Renaming) -> Circuit:
    """The circuit with those things called otherwise, its drawings left out."""
    things: dict[str, Any] = {
        kind: {names.thing(n): renamed_thing(x, names) for n, x in getattr(circuit, kind).items()}
        for kind in KINDS
    }
    properties = (_property(one, names) for one in circuit.properties.values())
    standings = (_standing(one, names) for one in circuit.standings.values())
    return replace(
        circuit,
        **things,
        interlocks={n: renamed_thing(x, names) for n, x in circuit.interlocks.items()},
        assumptions={n: _assumption(x, names) for n, x in circuit.assumptions.items()},
        standings={one.name: one for one in standings},
        observed=tuple(map(names.thing, circuit.observed)),
        properties={one.name: one for one in properties},
        signals={
            names.signals.get(n, n): renamed_condition(x, names) for n, x in circuit.signals.items()
        },
        drawings={},
    )


def renamed_thing(thing: Thing, names: Renaming) -> Thing:
    """A statement or a rule on a control, with the names in it and in its conditions."""
    made: object
    match thing:
        case Control(name=name):
            made = replace(
                thing,
                name=names.thing(name),
                positions=_places(name, thing.positions, names),
                starts=_places(name, thing.starts, names),
                sealed=None if thing.sealed is None else names.place(name, thing.sealed),
            )
        case Device(name=name):
            moves = (
                Move(names.place(name, move.to), renamed_condition(move.when, names))
                for move in thing.moves
            )
            made = replace(
                thing,
                name=names.thing(name),
                positions=_places(name, thing.positions, names),
                starts=_places(name, thing.starts, names),
                moves=tuple(moves),
            )
        case Timer():
            runs = renamed_condition(thing.runs, names)
            made = replace(thing, name=names.thing(thing.name), runs=runs)
        case Flow():
            made = replace(
                thing,
                name=names.thing(thing.name),
                source=names.thing(thing.source),
                target=names.thing(thing.target),
                condition=renamed_condition(thing.condition, names),
            )
        case Quantity():
            changes = (
                Change(one.speed, renamed_condition(one.condition, names)) for one in thing.changes
            )
            made = replace(thing, name=names.thing(thing.name), changes=tuple(changes))
        case Interlock() | KeptRule():
            made = replace(
                thing,
                control=names.thing(thing.control),
                position=names.place(thing.control, thing.position),
                condition=renamed_condition(thing.condition, names),
            )
        case _:  # a supply, a volume or a range control
            plain: Any = thing
            made = replace(plain, name=names.thing(plain.name))
    return made  # type: ignore[return-value]


def _places(name: str, places: tuple[str, ...], names: Renaming) -> tuple[str, ...]:
    return tuple(names.place(name, place) for place in places)


def _assumption(assumption: Assumption, names: Renaming) -> Assumption:
    if isinstance(assumption.rule, KeptRule):
        return replace(assumption, rule=renamed_thing(assumption.rule, names))
    read = (renamed_condition(part, names) for part in assumption.rule.comparisons)
    parts = tuple(part for part in read if isinstance(part, Compare))
    return replace(assumption, rule=SupplyRule(parts))


def _standing(state: Standing, names: Renaming) -> Standing:
    return Standing(
        names.standings.get(state.name, state.name),
        {names.thing(n): names.place(n, place) for n, place in state.positions.items()},
        {names.thing(n): value for n, value in state.values.items()},
    )


def _property(asked: Property, names: Renaming) -> Property:
    start = None if asked.start is None else names.standings.get(asked.start, asked.start)
    name = names.properties.get(asked.name, asked.name)
    return replace(asked, name=name, start=start, sentence=_sentence(asked.sentence, names))


def _sentence(sentence: Sentence, names: Renaming) -> Sentence:
    if isinstance(sentence, Shows):
        return Shows(tuple(renamed_condition(view, names) for view in sentence.views))
    parts = ((one.name, getattr(sentence, one.name)) for one in fields(sentence))
    read = {n: renamed_condition(x, names) for n, x in parts if isinstance(x, Condition)}
    made: Sentence = replace(sentence, **read)  # type: ignore[arg-type]
    return made


def renamed_condition(condition: Condition, names: Renaming) -> Condition:
    """The condition with the names in it."""
    new = names.thing
    match condition:
        case Compare(form, order, constant, tolerance):
            weights: dict[str, Fraction] = {}
            for name, weight in form.terms:
                weights[new(name)] = weights.get(new(name), Fraction(0)) + weight
            known = form_of(weights)
            return compare(known, order, constant, tolerance) if known.terms else condition
        case At(name, place):
            return At(new(name), names.place(name, place))
        case OnTheWay(name):
            return OnTheWay(new(name))
        case Expired(name):
            return Expired(new(name))
        case Flowing(name):
            return Flowing(new(name))
        case GoneTo(name, place):
            return GoneTo(new(name), names.place(name, place))
        case Not(part):
            return Not(renamed_condition(part, names))
        case AllOf(parts):
            return AllOf(tuple(renamed_condition(part, names) for part in parts))
        case AnyOf(parts):
            return AnyOf(tuple(renamed_condition(part, names) for part in parts))
    return condition
