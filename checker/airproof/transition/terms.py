"""Connectives of booleans, made without z3's checks of every part's sort.

The checks cost more than all the rest of an encoding.  Every part is a boolean
of one context, and there is at least one; but for `equal`, whose parts are of any sort.
"""

from __future__ import annotations

import ctypes
from collections.abc import Iterable, Sequence

import z3
from z3 import z3core

z3.z3.Z3_DEBUG = False  # its checks of arguments cost a tenth of a proof; the library has its own


def all_of(*terms: z3.BoolRef | Iterable[z3.BoolRef]) -> z3.BoolRef:
    """Every term; one iterable is the same as its parts."""
    parts = _parts(terms)
    context = parts[0].ctx
    return z3.BoolRef(z3core.Z3_mk_and(context.ref(), len(parts), handles(parts)), context)


def any_of(*terms: z3.BoolRef | Iterable[z3.BoolRef]) -> z3.BoolRef:
    """At least one term; one iterable is the same as its parts."""
    parts = _parts(terms)
    context = parts[0].ctx
    return z3.BoolRef(z3core.Z3_mk_or(context.ref(), len(parts), handles(parts)), context)


def negation(term: z3.BoolRef) -> z3.BoolRef:
    """Not the term."""
    return z3.BoolRef(z3core.Z3_mk_not(term.ctx.ref(), term.as_ast()), term.ctx)


def implies(if_so: z3.BoolRef, then: z3.BoolRef) -> z3.BoolRef:
    """The second term wherever the first."""
    context = if_so.ctx
    return z3.BoolRef(z3core.Z3_mk_implies(context.ref(), if_so.as_ast(), then.as_ast()), context)


def equal(one: z3.ExprRef, other: z3.ExprRef) -> z3.BoolRef:
    """Both are of one sort."""
    context = one.ctx
    return z3.BoolRef(z3core.Z3_mk_eq(context.ref(), one.ast, other.ast), context)


def _parts(terms: tuple[z3.BoolRef | Iterable[z3.BoolRef], ...]) -> list[z3.BoolRef]:
    if len(terms) == 1 and not isinstance(terms[0], z3.ExprRef):
        return list(terms[0])
    return list(terms)


def handles(terms: Sequence[z3.ExprRef]) -> ctypes.Array[z3.Ast]:
    """The terms as the solver's own array."""
    array: ctypes.Array[z3.Ast] = (z3.Ast * len(terms))(*[term.ast for term in terms])
    return array


def handle(term: z3.ExprRef) -> int:
    """Tells the term from all others of its context, as long as it is kept."""
    return int(term.ast.value)
