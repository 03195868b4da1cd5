"""What is called otherwise after a change, in words and as data, and results by those names."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from airproof.circuit.renamed import Renaming, renamed
from airproof.evidence.renamed import Retold
from airproof.report.results import Results


def renamed_lines(renaming: Renaming) -> Iterator[str]:
    """What was taken for the same under another name, in a line."""
    told = [f"{old} as {new}" for old, new in renaming.things.items()]
    for name, places in renaming.places.items():
        thing = renaming.thing(name)
        told += [f"{thing} is {old} as {thing} is {new}" for old, new in places.items()]
    for word in ("signal", "property", "standing"):
        pairs = getattr(renaming, "properties" if word == "property" else f"{word}s")
        kind = "standing state" if word == "standing" else word
        told += [f"the {kind} {old} as {new}" for old, new in pairs.items()]
    if told:
        yield f"Taken for the same under another name: {', '.join(told)}."


def renamed_data(renaming: Renaming) -> dict[str, Any]:
    """New names by old ones."""
    return {
        "things": dict(renaming.things),
        "positions": {name: dict(places) for name, places in renaming.places.items()},
        "signals": dict(renaming.signals),
        "standing_states": dict(renaming.standings),
        "properties": dict(renaming.properties),
    }


def retold(results: Results, renaming: Renaming) -> Results:
    """The results by other names."""
    if not renaming:
        return results
    circuit = renamed(results.circuit, renaming)
    told = Retold(results.circuit, circuit, renaming)
    return Results(
        circuit,
        results.fingerprint,
        tuple(map(told.verdict, results.verdicts)),
        tuple(map(told.finding, results.findings)),
    )
