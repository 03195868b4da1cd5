"""Two circuits side by side in one system, each with a run of its own."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace

import z3

from airproof.circuit.kinds import Circuit
from airproof.transition.encode import encode, layout_of
from airproof.transition.landmarks import Landmark
from airproof.transition.layout import Layout, lay_out
from airproof.transition.parting import beside, marking, parting
from airproof.transition.system import Conjunct, Input, System, conjunction, variable
from airproof.transition.terms import all_of, any_of


@dataclass(frozen=True, slots=True)
class Abreast:
    """Both circuits in one system.

    They take switch steps in the same step or one of them does; time passes for both.
    mine, theirs: the layouts of the two circuits; `system` is breached by a step of the
                  first that is none of the other's
    """

    system: System
    mine: Layout
    theirs: Layout


def in_step(two: Abreast, known: Collection[str]) -> z3.BoolRef:
    """After a step both stand the same, as far as the things of these names go."""
    same = [
        two.mine.variables[key].then == each.then
        for key, each in two.theirs.variables.items()
        if key in two.mine.variables and _thing(key) in known
    ]
    return all_of([z3.BoolVal(True, two.system.context), *same])


def _thing(key: str) -> str:
    """The name in a variable's key: `word name` or `word name place`."""
    return [*key.split(" "), ""][1]


def abreast(
    circuit: Circuit, other: Circuit, context: z3.Context, further: Iterable[Landmark] = ()
) -> Abreast:
    """The two side by side; what the other's variables are called has a prime before it.

    further: landmarks besides those of both
    """
    further = tuple(further)
    mine = parting(beside(circuit, other, context, further))
    theirs = _primed(encode(other, marking(other, circuit, further), context))
    system = replace(
        mine,
        variables=(*mine.variables, *theirs.variables),
        inputs=(*mine.inputs, *theirs.inputs),
        start=(*mine.start, *theirs.start),
        switch=(Conjunct(_or_waits(mine)), Conjunct(_or_waits(theirs))),
        elapse=(*mine.elapse, *theirs.elapse),
    )
    named = {variable.key.removeprefix(_PRIME): variable for variable in theirs.variables}
    return Abreast(
        system,
        layout_of(mine, circuit),
        replace(lay_out(other, context), variables=named),
    )


_PRIME = "' "


def _primed(system: System) -> System:
    context = system.context
    new = [variable(context, _PRIME + old.key, old.sort) for old in system.variables]
    inputs = [Input(_PRIME + old.key, z3.Real(_PRIME + old.key, context)) for old in system.inputs]
    pairs = [
        *((old.now, there.now) for old, there in zip(system.variables, new, strict=True)),
        *((old.then, there.then) for old, there in zip(system.variables, new, strict=True)),
        *((old.term, there.term) for old, there in zip(system.inputs, inputs, strict=True)),
    ]

    def read(parts: Iterable[Conjunct]) -> tuple[Conjunct, ...]:
        return tuple(Conjunct(z3.substitute(part.term, *pairs)) for part in parts)

    return replace(
        system,
        variables=tuple(new),
        inputs=tuple(inputs),
        start=read(system.start),
        switch=read(system.switch),
        elapse=read(system.elapse),
        control_moves=(),
        due={},
        breached=None,
    )


def _or_waits(system: System) -> z3.BoolRef:
    """A switch step, or nothing at all."""
    waits = all_of([each.then == each.now for each in system.variables])
    return any_of(conjunction(system.context, system.switch), waits)
