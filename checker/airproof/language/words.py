"""The words of the language, for telling a word from a name before anything is parsed."""

from __future__ import annotations

# What a statement may begin with.
HEADS: tuple[str, ...] = (
    "circuit",
    "include",
    "part",
    "fit",
    "supply",
    "reservoir",
    "pipe",
    "cylinder",
    "chamber",
    "control",
    "valve",
    "relay",
    "switch",
    "latch",
    "timer",
    "interlock",
    "assumption",
    "flow",
    "double check valve",
    "relief valve",
    "reducing valve",
    "self-lapping valve",
    "quick-exhaust valve",
    "governor",
    "pressure switch",
    "isolating cock",
    "spring-applied cylinder",
    "quantity",
    "signal",
    "state",
    "observe",
    "property",
)


def words(text: str) -> frozenset[str]:
    """The words of a line."""
    return frozenset(text.split())


# Words that begin a clause, so that a line which lost its indent can be told.
CLAUSE_STARTS: frozenset[str] = words(
    "starts rises falls in sealed worked moves joins to changes at moving any closed joined "
    "latched runs expires choke conductance ratio one opens shuts closes stops set exhaust "
    "follows on off drawing severity reason hazard even from never always whenever after once "
    "possible while when and or not only otherwise"
)

# Every word that the grammar spells out.
KEYWORDS: frozenset[str] = CLAUSE_STARTS | words(
    "as ports is the locked forced that order each position for least most by opening takes way an "
    "instant within since until lasts has lasted expired gone flowing below above times item"
)

# Words that can stand where a name can: nothing may be called so.
RESERVED: frozenset[str] = words(
    "and or not is has while when otherwise times below above moving flowing joins never always "
    "whenever possible after once severity even from at moves locked forced"
)
