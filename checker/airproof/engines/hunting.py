"""A search for what one circuit may show and another may not: lists of views, the shortest first.

What it finds are candidates: whether the other circuit shows the list in some
other way is for others to say.
"""

from __future__ import annotations

import z3

from airproof.circuit.kinds import Circuit
from airproof.circuit.sight import Scene, Sight, marks_of, seen_in, shown
from airproof.circuit.state import Step
from airproof.engines.budget import Budget
from airproof.engines.unrolling import Answer, Unrolling, valuation
from airproof.transition.abreast import abreast
from airproof.transition.decode import state_of
from airproof.transition.encode import layout_of
from airproof.transition.layout import Layout
from airproof.transition.parting import beside, parting
from airproof.transition.readings import Judged

Scenes = tuple[Scene, ...]


class Hunt:
    """Runs that part and then let time pass: the fewest steps first, of these the fewest views.

    aimed: only runs beside which the other circuit has one that shows the same until then,
           and something else last; the best candidates, but not all
    cleared: no such run of so many steps has views that are not blocked
    """

    def __init__(
        self, circuit: Circuit, other: Circuit, sight: Sight, budget: Budget, *, aimed: bool
    ) -> None:
        self.circuit, self.sight, self.budget = circuit, sight, budget
        context = z3.Context()
        self.alike: list[z3.BoolRef] = []
        self.same: z3.BoolRef | None = None
        if aimed:
            two = abreast(circuit, other, context)
            system, mine = two.system, two.mine
            theirs = _judged(two.theirs)
        else:
            system = parting(beside(circuit, other, context))
            mine = layout_of(system, circuit)
        self.run, self.judged = Unrolling(system), _judged(mine)
        self.literals = [self.judged.can(each) for each in marks_of(sight, circuit)]
        if aimed:
            others = (theirs.can(each) for each in marks_of(sight, other))
            pairs = zip(self.literals, others, strict=True)
            self.same = z3.And([z3.BoolVal(True, context), *(x == y for x, y in pairs)])
        self.last: list[list[z3.BoolRef]] = [[]]
        self.news: list[z3.BoolRef] = []
        self.blocked: list[_Told] = []
        self.cleared = 0

    def next(self, steps: int, views: int | None = None) -> Scenes | Answer:
        """The views of the next run of at most so many steps, of at most so many views.

        Else why there is none: `unsat` if none is left.
        """
        while self.cleared < steps:
            if self.run.steps == self.cleared:
                self._extend()
            found = self._at(self.run.steps, views)
            if not isinstance(found, Answer) or found.word != "unsat":
                return found
            self.cleared = self.run.steps
        return Answer("unsat")

    def block(self, scenes: Scenes) -> None:
        """No run is told any more whose views are the first of these."""
        self.blocked.append(_Told(self, scenes))

    def _extend(self) -> None:
        """One step more, and whether it shows something else than was last shown."""
        run, step = self.run, self.run.steps
        run.extend()
        passes = z3.Not(run.switches[step])
        if self.same is not None:
            self.alike.append(z3.Or(run.switches[step], run.between(self.same, step)))
        here = [run.between(term, step) for term in self.literals]
        context = run.system.context
        before = self.last[-1]
        began = before[0] if before else z3.BoolVal(False, context)
        differs = [z3.Not(began), *(x != y for x, y in zip(here, before[1:], strict=False))]
        news = z3.Bool(f"news@{step}", context)
        run.solver.add(news == z3.And(passes, z3.Or(differs)))
        self.news.append(news)
        old = before or [began, *here]
        after = [z3.Bool(f"last {place}@{step}", context) for place in range(len(here) + 1)]
        for name, was, now in zip(after, old, [passes, *here], strict=True):
            run.solver.add(
                name == (z3.Or(was, now) if name is after[0] else z3.If(passes, now, was))
            )
        self.last.append(after)

    def _at(self, steps: int, views: int | None) -> Scenes | Answer:
        run, best = self.run, None
        while True:
            others = [z3.Not(told.told(steps)) for told in self.blocked]
            asked = [z3.Not(run.switches[steps - 1]), run.breached(steps), *others]
            if self.alike:
                asked += [*self.alike[: steps - 1], z3.Not(self.alike[steps - 1])]
            if views is not None:
                asked.append(self._at_most(views, steps))
            answer = run.check(self.budget, *asked)
            if answer.word != "sat":
                return answer if best is None else best
            best = self._scenes(run.model(), steps)
            views = len(best) - 1
            if not views:
                return best

    def _at_most(self, views: int, steps: int) -> z3.BoolRef:
        """The first steps show at most so many views."""
        limit = z3.FreshBool("few", self.run.system.context)
        few = z3.PbLe([(news, 1) for news in self.news[:steps]], views)
        self.run.solver.add(z3.Implies(limit, few))
        return limit

    def _scenes(self, model: z3.ModelRef, steps: int) -> Scenes:
        states = [
            state_of(self.circuit, valuation(model, model, terms))
            for terms in self.run.states[: steps + 1]
        ]
        kinds = (z3.is_true(model.eval(x, model_completion=True)) for x in self.run.switches)
        told = (
            Step("switch" if moves else "elapse", after)
            for moves, after in zip(kinds, states[1:], strict=False)
        )
        return shown(self.sight, states[0], told)


def _judged(layout: Layout) -> Judged:
    return Judged(layout.moment(after=False), layout.moment(after=True))


class _Told:
    """The views of a run so far are the first of these, and no others: by the number of steps."""

    def __init__(self, hunt: Hunt, scenes: Scenes) -> None:
        self.hunt, context = hunt, hunt.run.system.context
        seen = (seen_in(hunt.sight, hunt.circuit, scene) for scene in scenes)
        self.terms = [hunt.judged.can(each) for each in seen]
        truths = [True, *([False] * len(scenes))]
        self.stages = [[z3.BoolVal(truth, context) for truth in truths]]

    def told(self, steps: int) -> z3.BoolRef:
        while len(self.stages) <= steps:
            self._extend()
        return z3.Or(self.stages[steps])

    def _extend(self) -> None:
        run, step, before = self.hunt.run, len(self.stages) - 1, self.stages[-1]
        here = [run.between(term, step) for term in self.terms]
        after: list[z3.BoolRef] = []
        for stage, was in enumerate(before):
            ways = [z3.And(run.switches[step], was)]
            if stage:
                passes, came = z3.Not(run.switches[step]), z3.Or(was, before[stage - 1])
                ways.append(z3.And(passes, came, here[stage - 1]))
            name = z3.FreshBool("told", run.system.context)
            run.solver.add(name == z3.Or(ways))
            after.append(name)
        self.stages.append(after)
