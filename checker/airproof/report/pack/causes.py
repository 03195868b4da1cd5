"""What brings a breach about, short enough for a record sheet: who does what, what follows."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from airproof.circuit.kinds import Circuit
from airproof.circuit.switching import moves_made
from airproof.circuit.tables import tables_of
from airproof.circuit.without import Thing
from airproof.evidence.dependence import Dependence
from airproof.evidence.sequence import Sequence

NAMED = 6  # devices and timers that are named; the rest are counted
_OUTSIDE = (None, "outside")


def causes(circuit: Circuit, run: Sequence | None, depends: Dependence | None) -> tuple[str, ...]:
    """One line for each person, for the outside, for what changes, for what follows by itself.

    What is done and changes is the sequence's own, what is known to be needed
    first; what is known not to be is left out, unless nothing else was done
    (two things can stand in for each other).  What follows is told where it
    is known to be needed.
    """
    done = list(_moved(circuit, run)) if run is not None else []
    needed = [one.thing for one in depends.needed] if depends is not None else []
    idle = _idle(depends) if depends is not None else frozenset()
    done = [one for one in done if one not in idle] or done
    done.sort(key=lambda one: one not in needed)
    return (*_people(circuit, done), *_changing(done), *_following(needed))


def _idle(depends: Dependence) -> frozenset[Thing]:
    """What was shown not to matter; in a part of the circuit alone, nothing is shown spared."""
    return frozenset((*depends.apart, *(depends.spared if depends.exact else ())))


def _moved(circuit: Circuit, run: Sequence) -> Iterator[Thing]:
    """What people and the outside do, in its order."""
    tables = tables_of(circuit)
    for before, step in run.pairs():
        for move in moves_made(tables, before, step.after) if step.kind == "switch" else ():
            if move.kind == "control":
                yield Thing("control", move.name, str(move.now))
        for name in (*circuit.supplies, *circuit.range_controls):
            if step.after.values[name] != before.values[name]:
                yield Thing("value", name)


def _people(circuit: Circuit, things: Iterable[Thing]) -> Iterator[str]:
    by: dict[str | None, list[Thing]] = {}
    for one in things:
        if one.way == "control":
            person = circuit.controls[one.name].worked_by
            by.setdefault(None if person in _OUTSIDE else person, []).append(one)
    for person, done in by.items():
        yield f"{person or 'from outside'}: {'; '.join(_places(done))}"


def _changing(things: Iterable[Thing]) -> Iterator[str]:
    names = dict.fromkeys(one.name for one in things if one.way == "value")
    if names:
        yield f"what changes: {', '.join(names)}"


def _following(things: Iterable[Thing]) -> Iterator[str]:
    followed = [one for one in things if one.way in ("device", "timer")]
    told = list(_places(followed[:NAMED]))
    if told:
        more = len(followed) - NAMED
        rest = f"; and {more} more, under What it depends on" if more > 0 else ""
        yield f"what follows by itself: {'; '.join(told)}{rest}"


def _places(things: Iterable[Thing]) -> Iterator[str]:
    """`lever to lift, brake`: each thing once, with all the places it goes to."""
    places: dict[str, list[str]] = {}
    for one in things:
        places.setdefault(one.name, [])
        if one.place and one.place not in places[one.name]:
            places[one.name].append(one.place)
    for name, there in places.items():
        yield f"{name} to {', '.join(there)}" if there else f"{name} expires"
