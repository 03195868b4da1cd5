"""Comparisons read back out of terms, worked out by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest
import z3

from airproof.transition.linear import edges_of
from airproof.transition.literals import Edge

PIPE, TEE, LOUD = z3.Reals("pipe tee loud")
NAMES = {PIPE.get_id(): "pipe", TEE.get_id(): "tee"}


def edges(constant: int | str, **weights: int | str) -> set[Edge]:
    """Both sides of `weights >= constant`."""
    terms = tuple((name, Fraction(weight)) for name, weight in weights.items())
    return {Edge(terms, ">=", Fraction(constant)), Edge(terms, "<=", Fraction(constant))}


@pytest.mark.parametrize(
    ("term", "expected"),
    [
        (PIPE >= 5, edges(5, pipe=1)),
        (PIPE + 3 <= 5, edges(2, pipe=1)),
        (PIPE < TEE, edges(0, pipe=1, tee=-1)),
        (2 * PIPE - TEE > 3, edges("3/2", pipe=1, tee="-1/2")),
        (1 - TEE >= PIPE - TEE - TEE, edges(1, pipe=1, tee=-1)),
        (-(2 * TEE + 4) <= 0, edges(-2, tee=1)),
        (z3.And(PIPE >= 1, z3.Not(TEE <= 2)), edges(1, pipe=1) | edges(2, tee=1)),
        (PIPE >= LOUD, set()),
        (PIPE * TEE >= 1, set()),
        (PIPE - PIPE >= 1, set()),
    ],
    ids=lambda value: str(value) if z3.is_expr(value) else "edges",
)
def test_edges_of(term: z3.BoolRef, expected: set[Edge]) -> None:
    """The first weight of a form is brought to 1; what names anything else is left out."""
    assert set(edges_of(term, NAMES)) == expected
