"""Standing combinations that a change makes possible or takes away, in words and as data."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from airproof.evidence.difference import Stands

MOST_STANDS = 12  # lines for standing combinations


def stands_lines(stands: Stands | None) -> Iterator[str]:
    """In which positions together time passes in one circuit only."""
    if stands is None or not stands.names:
        return
    for one in stands.found[:MOST_STANDS]:
        pairs = zip(stands.names, one.places, strict=True)
        where = ", ".join(f"{name} is {place}" for name, place in pairs)
        now, other = ("newly", "before") if one.word == "new" else ("no longer", "after the change")
        never = "no run" if one.proved else "no run that was found"
        does = "did" if one.word == "new" else "does"
        yield f"{where}: {now} so together while time passes; {other} {never} {does}"
    if len(stands.found) > MOST_STANDS:
        yield f"and in {len(stands.found) - MOST_STANDS} more combinations of positions of these"
    about = ", ".join(stands.names)
    if not stands.found:
        yield f"the combinations of positions of {about} in which time passes: none is" + (
            " new, none is gone; proved" if stands.complete else " known to be new or gone"
        )
    if not stands.complete:
        yield f"whether {about} stand in other combinations yet was not settled"
    if not stands.whole:
        yield f"only {about} were combined, for there are too many combinations of all"


def stands_data(stands: Stands) -> dict[str, Any]:
    """As the schema of comparisons describes it."""
    return {
        "names": list(stands.names),
        "whole": stands.whole,
        "complete": stands.complete,
        "found": [
            {
                "change": one.word,
                "positions": dict(zip(stands.names, one.places, strict=True)),
                "proved": one.proved,
            }
            for one in stands.found
        ],
    }
