"""Rungs and literals as data: what proofs and certificates are made of."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal as Choice


@dataclass(frozen=True, slots=True, order=True)
class Bit:
    """A boolean variable of the encoding, by its key."""

    key: str


@dataclass(frozen=True, slots=True, order=True)
class Edge:
    """`form >= constant` or `form <= constant`, the form as sorted (name, weight) pairs."""

    terms: tuple[tuple[str, Fraction], ...]
    order: Choice[">=", "<="]
    constant: Fraction


Rung = Bit | Edge


@dataclass(frozen=True, slots=True)
class Literal:
    """A rung, or its opposite."""

    rung: Rung
    so: bool = True
