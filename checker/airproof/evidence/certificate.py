"""Certificates: what lets someone else re-check that a property holds.

An inductive invariant is a set of clauses; a clause says that at least one of
its literals is so.  It holds at every start, every step keeps it, and no step
from it breaches the property.
"""

from __future__ import annotations

from dataclasses import dataclass

from airproof.transition.literals import Bit, Literal

Clause = tuple[Literal, ...]


@dataclass(frozen=True, slots=True)
class Invariant:
    """Every clause holds in every state that a run reaches."""

    clauses: tuple[Clause, ...]

    @property
    def text(self) -> str:
        """One clause a line."""
        return "\n".join(" or ".join(_words(x) for x in clause) for clause in self.clauses)


def _words(literal: Literal) -> str:
    rung = literal.rung
    if isinstance(rung, Bit):
        return rung.key if literal.so else f"not {rung.key}"
    left = " + ".join(n if w == 1 else f"{w} times {n}" for n, w in rung.terms)
    opposite = "<" if rung.order == ">=" else ">"
    return f"{left} {rung.order if literal.so else opposite} {rung.constant}"
