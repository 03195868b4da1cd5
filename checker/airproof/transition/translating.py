"""The same system in another solver context, for a small part of what encoding it again costs."""

from __future__ import annotations

from dataclasses import replace

import z3

from airproof.transition.system import Conjunct, System


def translated(system: System, context: z3.Context) -> System:
    """A copy whose terms all live in the given context."""

    def parts(conjuncts: tuple[Conjunct, ...]) -> tuple[Conjunct, ...]:
        return tuple(replace(part, term=part.term.translate(context)) for part in conjuncts)

    return replace(
        system,
        context=context,
        variables=tuple(
            replace(v, now=v.now.translate(context), then=v.then.translate(context))
            for v in system.variables
        ),
        inputs=tuple(replace(x, term=x.term.translate(context)) for x in system.inputs),
        start=parts(system.start),
        switch=parts(system.switch),
        elapse=parts(system.elapse),
        control_moves=tuple(term.translate(context) for term in system.control_moves),
        due={name: term.translate(context) for name, term in system.due.items()},
    )
