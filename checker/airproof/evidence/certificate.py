"""Certificates: what lets someone else re-check that a property holds.

An inductive invariant is a set of clauses; a clause says that at least one of
its literals is so.  It holds at every start, every step keeps it, and no step
from it breaches the property.
"""

from __future__ import annotations

from dataclasses import dataclass

from airproof.circuit.cone import cone
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.transition.literals import Bit, Literal

Clause = tuple[Literal, ...]


@dataclass(frozen=True, slots=True)
class Invariant:
    """Every clause holds in every state that a run reaches.

    whole: it is one of the whole circuit, not of the part that the property can depend on
    """

    clauses: tuple[Clause, ...]
    whole: bool = False

    def ground(self, circuit: Circuit, prop: Property) -> Circuit:
        """The circuit, or the part of it, of which it is an invariant."""
        return circuit if self.whole else cone(circuit, prop)

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
