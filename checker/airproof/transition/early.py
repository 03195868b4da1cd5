"""Parting steps that matter to the first views of a run: those before these are all shown."""

from __future__ import annotations

from dataclasses import replace

import z3

from airproof.circuit.kinds import Circuit
from airproof.circuit.sight import Sight, marks_of
from airproof.transition.encode import layout_of
from airproof.transition.parting import Beside, Until, parting
from airproof.transition.readings import Judged
from airproof.transition.system import Conjunct, System, Variable, variable
from airproof.transition.terms import all_of, any_of, negation

MOST_VIEWS = 2
PASSED, FURTHER, SAW = "monitor passed", "monitor further", "monitor saw"


def early(two: Beside, circuit: Circuit, sight: Sight, views: int) -> System:
    """As `parting`, but a step counts only until so many views, one or two, have been shown.

    Up to the step in which the last of them is first shown, a run that does not
    part is one of the other circuit's, but for what that last step leaves behind
    unseen.  So that circuit shows the same list.
    """
    if not 1 <= views <= MOST_VIEWS:
        raise ValueError("one view or two")
    context = two.system.context
    passed = variable(context, PASSED, "bool")
    memory = [passed]
    starts = [Conjunct(negation(passed.now), (PASSED,))]
    elapses = [Conjunct(passed.then, (PASSED,))]
    until = Until(passed, z3.BoolVal(True, context))
    if views > 1:
        over = variable(context, FURTHER, "bool")
        memory.append(over)
        starts.append(Conjunct(negation(over.now), (FURTHER,)))
        here = _shown(two.system, circuit, sight)
        saws = [variable(context, f"{SAW} {at}", "bool") for at in range(len(here))]
        memory += saws
        no = z3.BoolVal(False, context)
        unlike = any_of([no, *(z3.Xor(s.now, x) for s, x in zip(saws, here, strict=True))])
        until = Until(over, all_of(passed.now, unlike))
        elapses += _remembered(passed, saws, here)
        elapses.append(Conjunct(over.then == any_of(over.now, until.last), (FURTHER,)))
    system = parting(two, until)
    kept = tuple(Conjunct(each.then == each.now, (each.key,)) for each in memory)
    return replace(
        system,
        variables=(*system.variables, *memory),
        start=(*system.start, *starts),
        switch=(*system.switch, *kept),
        elapse=(*system.elapse, *elapses),
    )


def _shown(system: System, circuit: Circuit, sight: Sight) -> list[z3.BoolRef]:
    """What tells views apart, over an elapse step."""
    layout = layout_of(system, circuit)
    judged = Judged(layout.moment(after=False), layout.moment(after=True))
    return [judged.can(mark) for mark in marks_of(sight, circuit)]


def _remembered(passed: Variable, saws: list[Variable], here: list[z3.BoolRef]) -> list[Conjunct]:
    """The first view, once it has been shown."""
    return [
        Conjunct(saw.then == z3.If(passed.now, saw.now, term), (saw.key,))
        for saw, term in zip(saws, here, strict=True)
    ]
