"""Facts: clauses of one or two rungs that are so at every start and kept by every step."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from airproof.engines.stepping import Cube, Kind, Start


def facts(start: Start, kinds: Sequence[Kind], among: Collection[int] | None = None) -> list[int]:
    """The greatest set of literals that holds at the start and that both kinds of step keep.

    among: only these are tried, None for all
    before: the rungs of these are named in every solver.
    after: the conjunction of the literals is an inductive invariant.
    """
    so = [-x for x in sorted(start.never, key=abs) if among is None or -x in among]
    return [x for (x,) in kept(kinds, [(x,) for x in so])]


def kept(kinds: Sequence[Kind], clauses: Iterable[Cube]) -> list[Cube]:
    """The greatest subset of the clauses that both kinds of step keep.

    before: every clause holds at every start.
    after: the conjunction is an inductive invariant.  Right because a clause is
    dropped only when a step from states with all of them falsifies it, and the
    loop ends when neither kind of step falsifies any that is left.
    """
    left, quiet = list(clauses), 0
    while left and quiet < len(kinds):
        for kind in kinds:
            dropped = _falsified(kind, left)
            left = [clause for clause in left if clause not in dropped]
            quiet = 0 if dropped else quiet + 1
            if quiet >= len(kinds):
                break
    return left


def _falsified(kind: Kind, clauses: list[Cube]) -> set[Cube]:
    """Clauses that some steps of this kind, from states with all the others, make false."""
    left = {clause: kind.fails_after(clause) for clause in clauses}
    while left:
        some = kind.solver.name("some")
        kind.solver.add_clause([kind.solver.negate(some), *left.values()])
        if not kind.solver.ask([some, *(kind.holds_before(clause) for clause in left)]):
            break
        so = kind.truths_after()
        kind.solver.add_clause([kind.solver.negate(some)])
        for clause in [clause for clause in left if so.isdisjoint(clause)]:
            del left[clause]
    return set(clauses).difference(left)
