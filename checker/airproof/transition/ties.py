"""How the pieces of a transition system are let go.

With ties, each piece is in force only while the tie of its origin is; a piece
that is let go allows everything that it allowed, and more.  Without ties the
terms are as they always are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import z3
from z3 import z3core

from airproof.transition.origins import Origin
from airproof.transition.terms import any_of


@dataclass(slots=True)
class Ties:
    """One boolean for each origin that was met while encoding: true, the origin is in force."""

    context: z3.Context
    known: dict[Origin, z3.BoolRef] = field(default_factory=dict)
    loose: int = 0

    def tie(self, origin: Origin) -> z3.BoolRef:
        if origin not in self.known:
            self.known[origin] = z3.Bool(f"tie {len(self.known)}", self.context)
        return self.known[origin]

    def demand(self, term: z3.BoolRef, origins: Iterable[Origin]) -> z3.BoolRef:
        """A term that is asked for as long as one of the origins is in force."""
        ties = [self.tie(origin) for origin in origins]
        if not ties:
            return term
        held = ties[0] if len(ties) == 1 else any_of(ties)
        return self._bool(z3core.Z3_mk_implies, held, term)

    def truth(self, term: z3.BoolRef, origin: Origin) -> z3.BoolRef:
        """The term's truth, or any truth at all once the origin is let go.

        Each call has a truth of its own, so that nothing is said by sharing one.
        """
        self.loose += 1
        loose = z3.Bool(f"loose {self.loose}", self.context)
        return self._bool(z3core.Z3_mk_ite, self.tie(origin), term, loose)

    def _bool(self, make: Callable[..., z3.Ast], *parts: z3.BoolRef) -> z3.BoolRef:
        """A term made without z3's own care for sorts, which takes longer than making it."""
        raw = make(self.context.ref(), *(part.ast for part in parts))
        return z3.BoolRef(raw, self.context)
