"""A sequence told in plain words: only what changed, and why."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

from airproof.circuit.conditions import At, Compare, Condition, Flowing, OnTheWay, leaves
from airproof.circuit.kinds import ATMOSPHERE, Circuit, Control, Device
from airproof.circuit.landmarks import conditions_of
from airproof.circuit.properties import (
    AfterNever,
    Lasts,
    Never,
    OnceLasted,
    OnlyAfter,
    Possible,
    Property,
    Shows,
    Within,
)
from airproof.circuit.readings import Inner, Instant
from airproof.circuit.state import State
from airproof.circuit.switching import moves_made
from airproof.circuit.tables import tables_of
from airproof.evidence.sequence import Sequence
from airproof.report.figures import figures
from airproof.report.stretch import stretch_told
from airproof.report.why import Teller
from airproof.report.words import amount, condition

FEW = 8  # things a small circuit may name in full where a run starts


@dataclass(frozen=True, slots=True)
class Item:
    """One numbered item: a sentence, or a heading and what happened under it."""

    text: str
    parts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Story:
    """Where the run starts, what happens, and how it ends."""

    start: str
    items: tuple[Item, ...]
    ending: tuple[str, ...]


def story(
    circuit: Circuit, sequence: Sequence, asked: Property | None = None, *, certain: bool = True
) -> Story:
    """The story of a sequence; `asked` is the property that it breaches or shows possible.

    certain: False for a run that has not been shown to be one of the stated sizes
    """
    teller = Teller(tables_of(circuit), figures(circuit, sequence))
    concerned = _concerned(circuit, sequence, asked)
    return Story(
        _start(teller, sequence.start, concerned),
        tuple(_items(teller, sequence)),
        (*_decided(teller, sequence, asked, certain), *_ending(teller, sequence, concerned)),
    )


# ---- what the story is about


def _concerned(circuit: Circuit, sequence: Sequence, asked: Property | None) -> frozenset[str]:
    """What moves or changes, what the property names, and what had a choice at the start."""
    things: list[Control | Device] = [*circuit.controls.values(), *circuit.devices.values()]
    everything = {*(thing.name for thing in things), *sequence.start.values}
    if len(everything) <= FEW:
        return frozenset(everything)
    named = {
        name
        for tree in (conditions_of(asked.sentence) if asked else ())
        for name in _names(circuit, tree)
    }
    chosen = {thing.name for thing in things if len(thing.starts) > 1}
    return frozenset(named | chosen | set(_changed(sequence)))


def _names(circuit: Circuit, tree: Condition) -> Iterator[str]:
    for leaf in leaves(tree):
        match leaf:
            case Compare(form):
                yield from form.names
            case At(name, _) | OnTheWay(name):
                yield name
            case Flowing(name):
                flow = circuit.flows[name]
                yield from {flow.source, flow.target} - {ATMOSPHERE}
                yield from _names(circuit, flow.condition)


def _changed(sequence: Sequence) -> Iterator[str]:
    for before, step in sequence.pairs():
        after = step.after
        for name in before.positions:
            if (before.positions[name], before.leaving.get(name)) != (
                after.positions[name],
                after.leaving.get(name),
            ):
                yield name
        yield from (name for name in before.values if before.values[name] != after.values[name])


# ---- the start


def _start(teller: Teller, state: State, concerned: frozenset[str]) -> str:
    places = [f"{n} is {place}" for n, place in state.positions.items() if n in concerned]
    values = [
        f"{name} is {teller.figures.full(name, value)}"
        for name, value in state.values.items()
        if name in concerned
    ]
    told = "; ".join(", ".join(part) for part in (places, values) if part)
    rest = len(places) + len(values) < len(state.positions) + len(state.values)
    return f"The run starts where {told or 'the circuit starts'}" + (
        "; the rest is as the circuit starts." if rest and told else "."
    )


# ---- the steps


def _items(teller: Teller, sequence: Sequence) -> Iterator[Item]:
    pairs = list(sequence.pairs())
    for kind, group in itertools.groupby(pairs, key=lambda pair: pair[1].kind):
        if kind == "elapse":
            stretch = list(group)
            yield Item(stretch_told(teller, stretch[0][0], [step for _, step in stretch]))
        else:
            yield from (_switch(teller, before, step.after) for before, step in group)


def _switch(teller: Teller, before: State, after: State) -> Item:
    told = [teller.move(move, before) for move in moves_made(teller.tables, before, after)]
    if len(told) == 1:
        return Item(f"{told[0]}.")
    return Item("In the same instant:", tuple(f"{line}." for line in told))


# ---- the end


def _decided(
    teller: Teller, sequence: Sequence, asked: Property | None, certain: bool
) -> Iterator[str]:
    if asked is not None:
        in_no_time = bool(sequence.steps) and sequence.steps[-1].kind == "switch"
        when = "in an instant" if in_no_time else "while time passes"
        word = "Shown possible" if isinstance(asked.sentence, Possible) else "Breached"
        head = word if certain else f"With such sizes {word.lower()}"
        yield f"{head} here, {when}: {_broken(teller, sequence, asked)}."


def _ending(teller: Teller, sequence: Sequence, concerned: frozenset[str]) -> Iterator[str]:
    state = sequence.steps[-1].after if sequence.steps else sequence.start
    values = [
        f"{name} {teller.figures.full(name, value)}"
        for name, value in state.values.items()
        if name in concerned
    ]
    if values:
        yield f"By then: {', '.join(values)}."
    if state.leaving:
        ways = [f"{n} from {left} to {state.positions[n]}" for n, left in state.leaving.items()]
        yield f"Still on the way: {', '.join(ways)}."


def _broken(teller: Teller, sequence: Sequence, asked: Property) -> str:
    """What is so in the step that decides the property."""

    def say(tree: Condition) -> str:
        return condition(tree, teller.figures.units)

    match asked.sentence:
        case Never(tree) | Possible(tree):
            return say(tree)
        case Shows(views):
            return say(views[-1])
        case OnlyAfter(act, leave, reset):
            since = say(reset) if reset else "the start"
            return f"{say(act)}, but not once since {since}: {say(leave)}"
        case AfterNever(cause, bad, _) if not _so_at_the_end(teller, sequence, bad):
            return f"{say(cause)}, and earlier in the same stretch of time {say(bad)}"
        case AfterNever(cause, bad, release):
            until = f", and not since then: {say(release)}" if release else ""
            return f"{say(bad)}, after {say(cause)}{until}"
        case Within(cause, answer, time):
            lasted = amount(time, "s")
            return f"{lasted} have passed since {say(cause)}, and not once: {say(answer)}"
        case OnceLasted(cause, answer, time):
            return f"{say(cause)} has lasted {amount(time, 's')}, and yet not: {say(answer)}"
        case Lasts(state, bound, time):
            word = "goes on after" if bound == "most" else "ends before"
            return f"{say(state)} {word} {amount(time, 's')}"


def _so_at_the_end(teller: Teller, sequence: Sequence, tree: Condition) -> bool:
    """Whether the condition counts as true in the last step itself."""
    before, step = list(sequence.pairs())[-1]
    if step.kind == "switch":
        return Instant(teller.tables, step.after).judged(tree)[0]
    return Inner(teller.tables, before, step.after).judged(tree)[0]
