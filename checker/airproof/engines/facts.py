"""Single-literal facts: which rungs are so at every start and kept by every step."""

from __future__ import annotations

from collections.abc import Sequence

from airproof.engines.stepping import Kind, Start


def facts(start: Start, kinds: Sequence[Kind]) -> list[int]:
    """The greatest set of literals that holds at the start and that both kinds of step keep.

    before: rungs are named in every solver.  after: the conjunction of the
    literals is an inductive invariant.  Right because a literal is dropped
    only when a step from states with all the remaining ones falsifies it,
    and the loop ends when neither kind of step falsifies any.
    """
    kept = [-x for x in sorted(start.never, key=abs)]
    quiet = 0
    while kept and quiet < len(kinds):
        for kind in kinds:
            dropped = _falsified(kind, kept)
            kept = [x for x in kept if x not in dropped]
            quiet = 0 if dropped else quiet + 1
            if quiet >= len(kinds):
                break
    return kept


def _falsified(kind: Kind, kept: list[int]) -> set[int]:
    """Literals that some steps of this kind, from all the kept ones, make false."""
    dropped: set[int] = set()
    while len(dropped) < len(kept):
        left = [x for x in kept if x not in dropped]
        some = kind.solver.name("some")
        kind.solver.add_clause([kind.solver.negate(some), *(kind.then[-x] for x in left)])
        if not kind.solver.ask([some, *(kind.now[x] for x in left)]):
            break
        truths = kind.solver.truths([kind.then[x] for x in left])
        dropped |= {x for x, so in zip(left, truths, strict=True) if not so}
    return dropped
