"""Invariants spoilt in one place: some are wrong then, some happen to prove it all the same."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

from airproof.evidence.certificate import Clause, Invariant
from airproof.transition.literals import Bit, Edge, Literal, Rung

SHIFTS = tuple(Fraction(n) for n in ("-1", "-1/10", "1/10", "1"))
BREACHED = Literal(Bit("monitor breached"), so=False)


@dataclass(frozen=True, slots=True)
class Spoilt:
    """`how` it was spoilt, in a few words."""

    how: str
    invariant: Invariant


def spoilt(genuine: Invariant, others: Iterable[Invariant], rng: Random, most: int) -> list[Spoilt]:
    """The ways that do not depend on clauses, and so many drawn from those that do."""
    whole = [
        Spoilt("empty", Invariant(())),
        Spoilt("false", Invariant(((),))),
        Spoilt("false among the rest", Invariant((*genuine.clauses, ()))),
        Spoilt("only what is to be shown", Invariant(((BREACHED,),))),
        *(Spoilt("another property's", other) for other in others),
    ]
    parts = list(dict.fromkeys(_in_one_clause(genuine)))
    return whole + rng.sample(parts, min(most, len(parts)))


def _in_one_clause(genuine: Invariant) -> Iterator[Spoilt]:
    for i, clause in enumerate(genuine.clauses):
        yield _with(genuine, "clause dropped", i, None)
        for j, literal in enumerate(clause):
            yield _with(genuine, "literal dropped", i, clause[:j] + clause[j + 1 :])
            for how, other in _other_literals(literal):
                yield _with(genuine, how, i, (*clause[:j], other, *clause[j + 1 :]))


def _other_literals(literal: Literal) -> Iterator[tuple[str, Literal]]:
    yield "literal flipped", replace(literal, so=not literal.so)
    rung = literal.rung
    if isinstance(rung, Edge):
        turned: Rung = replace(rung, order=">=" if rung.order == "<=" else "<=")
        yield "order turned", replace(literal, rung=turned)
        for shift in SHIFTS:
            moved = replace(rung, constant=rung.constant + shift)
            yield "constant moved", replace(literal, rung=moved)


def _with(genuine: Invariant, how: str, i: int, clause: Clause | None) -> Spoilt:
    kept = () if clause is None else (clause,)
    return Spoilt(how, Invariant((*genuine.clauses[:i], *kept, *genuine.clauses[i + 1 :])))


def meaningless(genuine: Invariant) -> Iterator[Spoilt]:
    """Clauses about what no circuit has."""
    one = Fraction(1)
    rungs: dict[str, Rung] = {
        "unknown truth": Bit("position nobody"),
        "unknown value": Edge((("nowhere", one),), ">=", one),
        "no value at all": Edge((), ">=", one),
        "a value for a truth": Bit("value main"),
        "a truth for a value": Edge((("rested", one),), ">=", one),
        "no such order": Edge((("main", one),), ">", one),  # type: ignore[arg-type]
    }
    for how, rung in rungs.items():
        yield Spoilt(how, Invariant((*genuine.clauses, (BREACHED, Literal(rung)))))
