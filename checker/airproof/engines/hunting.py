"""A search for what one circuit may show and another may not: lists of views, the shortest first.

What it finds are candidates: whether the other circuit shows the list in some
other way is for others to say.
"""

from __future__ import annotations

import z3

from airproof.circuit.affected import affected
from airproof.circuit.kinds import Circuit
from airproof.circuit.sight import Scene, Sight, gauged, marks_of, seen_in, shown, within_sight
from airproof.circuit.state import Step
from airproof.engines.budget import Budget
from airproof.engines.unrolling import Answer, Unrolling, valuation
from airproof.transition.abreast import abreast, in_step
from airproof.transition.decode import state_of
from airproof.transition.encode import layout_of
from airproof.transition.layout import Layout
from airproof.transition.parting import beside, parting
from airproof.transition.readings import Judged

MOVES = (0, 1, 2, 3, 4, 6, None)  # control moves of a run, at most, one after the other

Scenes = tuple[Scene, ...]


class Hunt:
    """Runs that part, by how many views they show: the fewest control moves first.

    aimed: of all runs that part, those beside which the other circuit has one that shows the
           same until then, and something else last; else those that part after the last view
           but one.  Either way these are the best candidates, and not all that there are.
    apart: lists that look the same to whoever watches only this are not told twice
    """

    def __init__(
        self,
        circuit: Circuit,
        other: Circuit,
        sight: Sight,
        budget: Budget,
        *,
        aimed: bool,
        apart: Sight | None = None,
    ) -> None:
        self.circuit, self.sight, self.budget = circuit, sight, budget
        self.apart = apart or sight
        context = z3.Context()
        self.together: z3.BoolRef | None = None
        if aimed:
            two = abreast(circuit, other, context, gauged(sight))
            system, mine = two.system, two.mine
        else:
            system = parting(beside(circuit, other, context, gauged(sight)))
            mine = layout_of(system, circuit)
        self.run, self.judged = Unrolling(system), _judged(mine)
        self.literals = [self.judged.can(each) for each in marks_of(sight, circuit)]
        if aimed:
            theirs = _judged(two.theirs)
            others = (theirs.can(each) for each in marks_of(sight, other))
            pairs = zip(self.literals, others, strict=True)
            self.same = z3.And([z3.BoolVal(True, context), *(x == y for x, y in pairs)])
            free = affected(circuit, other) - {*circuit.controls}
            names = {*circuit.positions, *circuit.timers, *circuit.value_starts}
            self.together = in_step(two, names - free)
        self.last: list[list[z3.BoolRef]] = [[]]
        self.news: list[z3.BoolRef] = []
        self.moves: list[z3.BoolRef] = []
        self.good: list[z3.BoolRef] = []  # the step may come before the last one
        self.ends: list[z3.BoolRef] = []  # it may be the last one
        self.blocked: list[_Told] = []
        self.searched: dict[tuple[int, int | None], int] = {}

    def next(self, views: int, steps: int) -> Scenes | Answer:
        """The views of the next run of so many views and at most so many steps.

        Else why there is none: `unsat` if none is left.
        """
        for moves in MOVES:
            while (depth := self.searched.get((views, moves), views)) <= steps:
                while self.run.steps < depth:
                    self._extend()
                found = self._at(depth, views, moves)
                if not isinstance(found, Answer) or found.word != "unsat":
                    return found
                self.searched[views, moves] = depth + 1
        return Answer("unsat")

    def block(self, scenes: Scenes) -> None:
        """No run is told any more whose views are the first of these."""
        self.blocked.append(_Told(self, scenes))

    def _extend(self) -> None:
        """One step more, and whether it shows something else than was last shown."""
        run, step = self.run, self.run.steps
        run.extend()
        passes = z3.Not(run.switches[step])
        self.moves += [run.between(moved, step) for moved in run.system.control_moves]
        if self.together is None:
            self.good.append(z3.Or(run.switches[step], z3.Not(run.breached(step + 1))))
            self.ends.append(run.breached(step + 1))
        else:
            alike = run.between(self.same, step)
            run.solver.add(run.between(self.together, step))
            self.good.append(z3.Or(run.switches[step], alike))
            self.ends.append(z3.And(run.breached(step + 1), z3.Not(alike)))
        self._remember(passes, [run.between(term, step) for term in self.literals])

    def _remember(self, passes: z3.BoolRef, here: list[z3.BoolRef]) -> None:
        """What was last shown, if anything was: the first of the literals says that."""
        run, step, before = self.run, len(self.news), self.last[-1]
        context = run.system.context
        if not before:
            before = [z3.BoolVal(False, context), *here]
        differs = z3.Or([z3.Not(before[0]), *map(_unlike, here, before[1:])])
        news = z3.Bool(f"news@{step}", context)
        run.solver.add(news == z3.And(passes, differs))
        self.news.append(news)
        after = [z3.Bool(f"last {place}@{step}", context) for place in range(len(before))]
        run.solver.add(after[0] == z3.Or(before[0], passes))
        for name, was, now in zip(after[1:], before[1:], here, strict=True):
            run.solver.add(name == z3.If(passes, now, was))
        self.last.append(after)

    def _at(self, steps: int, views: int, moves: int | None) -> Scenes | Answer:
        """One of just so many steps and views, and at most so many control moves."""
        run = self.run
        asked = [z3.Not(told.told(steps)) for told in self.blocked]
        asked += [*self.good[: steps - 1], self.ends[steps - 1], self.news[steps - 1]]
        asked.append(self._guarded(z3.PbEq([(news, 1) for news in self.news[:steps]], views)))
        hands = self.moves[: steps * len(run.system.control_moves)]
        if moves is not None and hands:
            asked.append(self._guarded(z3.PbLe([(hand, 1) for hand in hands], moves)))
        answer = run.check(self.budget, *asked)
        return self._scenes(run.model(), steps) if answer.word == "sat" else answer

    def _guarded(self, term: z3.BoolRef) -> z3.BoolRef:
        """Implies the term, so that it can be asked for by a name."""
        name = z3.FreshBool("asked", self.run.system.context)
        self.run.solver.add(z3.Implies(name, term))
        return name

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


def _unlike(one: z3.BoolRef, other: z3.BoolRef) -> z3.BoolRef:
    return z3.Xor(one, other)


def _judged(layout: Layout) -> Judged:
    return Judged(layout.moment(after=False), layout.moment(after=True))


class _Told:
    """The views of a run so far are the first of these, and no others: by the number of steps."""

    def __init__(self, hunt: Hunt, scenes: Scenes) -> None:
        self.hunt, context = hunt, hunt.run.system.context
        parts = (within_sight(hunt.sight, hunt.apart, scene) for scene in scenes)
        seen = (seen_in(hunt.apart, hunt.circuit, part) for part in parts)
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
