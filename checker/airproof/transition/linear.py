"""Linear comparisons read back out of z3 terms."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

import z3

from airproof.circuit.conditions import compare, form_of
from airproof.transition.literals import Edge
from airproof.transition.rungs import both

Linear = tuple[dict[str, Fraction], Fraction]  # weights by name, and the constant


def edges_of(term: z3.ExprRef, names: Mapping[int, str]) -> Iterator[Edge]:
    """Both sides of every linear comparison in the term.

    `names` maps the ids of value variables to their names.  Comparisons over
    anything else are left out.
    """
    stack, seen = [term], set[int]()
    while stack:
        here = stack.pop()
        if here.get_id() in seen:
            continue
        seen.add(here.get_id())
        if _compares(here):
            yield from _edges(here, names)
        else:
            stack.extend(here.children())


def _compares(term: z3.ExprRef) -> bool:
    return bool(z3.is_app(term) and term.num_args() == 2 and z3.is_arith(term.arg(0)))


def _edges(term: z3.ExprRef, names: Mapping[int, str]) -> Iterator[Edge]:
    left, right = _linear(term.arg(0), names), _linear(term.arg(1), names)
    if left is None or right is None:
        return
    weights = dict(left[0])
    for name, weight in right[0].items():
        weights[name] = weights.get(name, Fraction(0)) - weight
    form = form_of(weights)
    if form.terms:
        edge = compare(form, ">=", right[1] - left[1])
        yield from both(edge.form, edge.constant)


def _linear(term: z3.ExprRef, names: Mapping[int, str]) -> Linear | None:
    """The term as a weighted sum, None if it is not one of the named values."""
    if z3.is_rational_value(term):
        return {}, term.as_fraction()
    if term.get_id() in names:
        return {names[term.get_id()]: Fraction(1)}, Fraction(0)
    parts = [_linear(part, names) for part in term.children()]
    if not parts or any(part is None for part in parts):
        return None
    known = [part for part in parts if part is not None]
    if z3.is_add(term):
        return _sum(known)
    if z3.is_sub(term):
        return _sum([known[0], *(_times(part, Fraction(-1)) for part in known[1:])])
    if term.decl().kind() == z3.Z3_OP_UMINUS:
        return _times(known[0], Fraction(-1))
    if z3.is_mul(term) and len(known) == 2 and not known[0][0]:
        return _times(known[1], known[0][1])
    return None


def _sum(parts: list[Linear]) -> Linear:
    weights: dict[str, Fraction] = {}
    for part, _ in parts:
        for name, weight in part.items():
            weights[name] = weights.get(name, Fraction(0)) + weight
    return weights, sum((constant for _, constant in parts), Fraction(0))


def _times(part: Linear, factor: Fraction) -> Linear:
    return {name: weight * factor for name, weight in part[0].items()}, part[1] * factor
