"""What a watcher could see of a change, on a terminal and as data."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from rich.console import RenderableType
from rich.text import Text

from airproof.circuit.kinds import Circuit
from airproof.circuit.renamed import renamed
from airproof.circuit.sight import ON_THE_WAY, Scene, Sight, sight_of
from airproof.circuit.tables import tables_of
from airproof.evidence.difference import Apart, Doubt, Means, Showing
from airproof.report.figures import Figures, exact, figures
from airproof.report.named import renamed_data
from airproof.report.results import run_data
from airproof.report.stands import stands_data
from airproof.report.terminal import hanging, indented, run_told, shown

TITLE = "What a watcher could see"

_NOTHING: Mapping[Means, str] = {
    "alike": "statement by statement they say the same, as far as anything at any speed goes",
    "counted": "every state of both was counted",
    "followed": "every step that it takes is one of the other's too; proved for every run, and"
    " checked by a fresh solver",
    "searched": "",
}
_DOUBTS: Mapping[Doubt, str] = {
    "no list within": "no difference was found and none excluded: the other showed each of {}"
    " lists of views that were tried, in runs of up to {} steps",
    "laid out otherwise": "no difference was found in {} lists of views, in runs of up to {} steps,"
    " and none can be excluded, for something watched has other positions in the other circuit"
    " or takes time to move in one of them only",
    "time limit": "the time limit ran out after {} lists of views, in runs of up to {} steps",
    "solver limit": "the solver's limit ran out after {} lists of views, in runs of up to {} steps",
    "solver failed": "the solver failed",
    "interrupted": "interrupted before it was settled",
    "defect": "this is a defect of airproof; please report it",
}
_WAYS = (("new", "the changed circuit"), ("gone", "the circuit before"))


def seen_told(apart: Apart, before: Circuit, after: Circuit) -> Iterator[RenderableType]:
    """Both directions, each with its story."""
    yield Text(f"\n{TITLE}, at any speed", "bold")
    yield from (indented(Text(shown(line))) for line in watched_lines(apart, before, after))
    if apart.new.means == "alike":
        yield indented(hanging("- ", Text(f"no difference: {_NOTHING['alike']}")))
        return
    if apart.new.word == apart.gone.word == "nothing":
        yield indented(hanging("- ", Text("no difference: each shows just what the other shows")))
    for word, one in _WAYS:
        circuit = side(apart, before, after, word)
        yield from _direction(apart, circuit, word, one)


def seen_briefly(apart: Apart) -> Iterator[str]:
    """A line for each direction."""
    for word, one in _WAYS:
        showing: Showing = getattr(apart, word)
        yield f"{word}: {headline(showing, one)}"


def watched_lines(apart: Apart, before: Circuit, after: Circuit) -> Iterator[str]:
    """What is watched, what is not, and whether the change itself took something out of sight."""
    sight = apart.sight
    names = [*sight.places, *sight.gauges]
    yield f"Watched: {', '.join(names)}." if names else "Nothing is watched."
    if before.observed != after.observed and not (before.observed and after.observed):
        plain = sight_of(*(replace(one, observed=()) for one in (before, after)))
        more = [name for name in (*plain.places, *plain.gauges) if name not in names]
        one = "changed circuit" if after.observed else "circuit before"
        if more:
            yield f"Only the {one} marks what is watched; else {_and(more)} would be watched too."
    if apart.trailing:
        yield f"Left out, for nothing watched depends on it: {', '.join(apart.trailing)}."
    where = {"before": "only the circuit before has it", "after": "only the changed one has it"}
    yield from (f"Not watched: {name}; {where[there]}." for name, there in sight.left_out)


def _and(names: list[str]) -> str:
    return " and ".join(filter(None, [", ".join(names[:-1]), names[-1]]))


def headline(showing: Showing, one: str) -> str:
    """What was found out about what only `one` of the two shows."""
    other = _other(one)
    match showing.word:
        case "nothing":
            assert showing.means is not None
            return f"{one} shows nothing that {other} does not show: {_NOTHING[showing.means]}"
        case "something":
            count = len(showing.scenes)
            views = "one view" if count == 1 else f"{count} views"
            return f"{one} can show what {other} never does, in {views}{_shortest(showing)}"
    assert showing.reason is not None
    why = _DOUBTS[showing.reason].format(showing.tried, showing.depth)
    return f"undecided whether {one} shows what {other} does not: {why}"


def _other(one: str) -> str:
    return next(other for _, other in _WAYS if other != one)


def _shortest(showing: Showing) -> str:
    """What is known of shorter lists."""
    if showing.shortest:
        return "; none is shorter"
    if not showing.excluded:
        return "; a shorter list was not ruled out"
    views = "one view" if showing.excluded == 1 else f"{showing.excluded} views"
    return f"; no list of {views} does so, and one of more was not ruled out"


def _direction(apart: Apart, circuit: Circuit, word: str, one: str) -> Iterator[RenderableType]:
    showing: Showing = getattr(apart, word)
    yield indented(hanging("- ", Text(shown(f"{word}: {headline(showing, one)}"))))
    if showing.sequence is None:
        return
    yield from (indented(part) for part in run_told(circuit, showing.sequence))
    yield from (indented(indented(Text(shown(line)))) for line in views_told(apart, circuit, word))


def views_told(apart: Apart, circuit: Circuit, word: str) -> Iterator[str]:
    """What is seen from one view to the next, and what the other circuit cannot show of it."""
    showing: Showing = getattr(apart, word)
    one = dict(_WAYS)[word]
    seen = _changes(apart.sight, showing.scenes, figures(circuit))
    if len(showing.scenes) > 1:
        told = "; then ".join(", ".join(change) for change in seen[1:])
        yield f"Seen from one view to the next: {told}."
    never = f"{_other(one)} cannot show the last of these views after the others"
    if len(showing.scenes) == 1:
        never = f"{_other(one)} cannot begin with this view"
    if showing.standing:
        never += ", and never settles with the watched controls and devices in these positions"
    yield f"{never[0].upper()}{never[1:]}."


def side(apart: Apart, before: Circuit, after: Circuit, word: str) -> Circuit:
    """The circuit that a run is told of; the old one with the new names."""
    if word == "new":
        return after
    return renamed(before, apart.renamed) if apart.renamed else before


def _changes(sight: Sight, scenes: tuple[Scene, ...], text: Figures) -> list[list[str]]:
    """Each view in words: the first in full, of the others what is not as before."""
    found: list[list[str]] = []
    before: list[str] | None = None
    for scene in scenes:
        words = [*_words(sight, scene, text)]
        found.append([w for at, w in enumerate(words) if before is None or before[at] != w])
        before = words
    return found


def _words(sight: Sight, scene: Scene, text: Figures) -> Iterator[str]:
    for name, place in zip(sight.places, scene.places, strict=True):
        yield f"{name} is on the way" if place == ON_THE_WAY else f"{name} is {place}"
    for (name, marks), cell in zip(sight.gauges.items(), scene.cells, strict=True):
        low = [f"above {text.full(name, marks[cell // 2 - 1])}"] if cell > 1 else []
        high = [f"below {text.full(name, marks[cell // 2])}"] if cell // 2 < len(marks) else []
        at = f"at {text.full(name, marks[cell // 2])}" if cell % 2 else " and ".join(low + high)
        yield f"{name} is {at}"


# ---- as data


def seen_data(apart: Apart, before: Circuit, after: Circuit) -> dict[str, Any]:
    """The whole of it, as the schema of comparisons describes it."""
    return {
        "places": {name: list(places) for name, places in apart.sight.places.items()},
        "gauges": {
            name: [exact(mark) for mark in marks] for name, marks in apart.sight.gauges.items()
        },
        "not_watched": [{"name": n, "only": where} for n, where in apart.sight.left_out],
        "renamed": renamed_data(apart.renamed),
        "left_out": list(apart.trailing),
        "stands": None if apart.stands is None else stands_data(apart.stands),
        **{word: _showing(apart, side(apart, before, after, word), word) for word, _ in _WAYS},
    }


def _showing(apart: Apart, circuit: Circuit, word: str) -> dict[str, Any]:
    showing: Showing = getattr(apart, word)
    reason = showing.reason and _DOUBTS[showing.reason].format(showing.tried, showing.depth)
    return {
        "shows": showing.word,
        "by": showing.means,
        "views": [_view(apart.sight, scene) for scene in showing.scenes],
        "shortest": showing.shortest,
        "excluded": showing.excluded,
        "standing": showing.standing,
        "reason": reason,
        "certificate": showing.certificate.text if showing.certificate else None,
        **run_data(tables_of(circuit), showing.sequence),
    }


def _view(sight: Sight, scene: Scene) -> dict[str, Any]:
    places = zip(sight.places, scene.places, strict=True)
    return {
        "positions": {name: place or None for name, place in places},
        "gauges": {
            name: {
                "above": exact(marks[cell // 2 - 1]) if cell > 1 and not cell % 2 else None,
                "at": exact(marks[cell // 2]) if cell % 2 else None,
                "below": exact(marks[cell // 2])
                if not cell % 2 and cell // 2 < len(marks)
                else None,
            }
            for (name, marks), cell in zip(sight.gauges.items(), scene.cells, strict=True)
        },
    }
