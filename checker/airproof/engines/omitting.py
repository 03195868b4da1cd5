"""What no breach of at most so many steps can do without, found by one unrolling.

The circuit is laid out with a choice, made at the start, of the one thing that
is ruled out.  As long as a breach is found, whatever was ruled out in it is not
needed, nor is anything else that the same run can do without.  When none is
found any more, every thing left to choose from is needed, each by itself.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import z3

from airproof.circuit.conditions import At, Not
from airproof.circuit.doing_without import DoingWithout
from airproof.circuit.kinds import Circuit, Device
from airproof.circuit.properties import Property
from airproof.circuit.state import Step
from airproof.circuit.without import Thing, guarded
from airproof.engines.budget import Budget
from airproof.engines.unrolling import Answer, Unrolling, valuation
from airproof.evidence.sequence import Sequence as Run
from airproof.transition.decode import state_of
from airproof.transition.encode import encode, layout_of
from airproof.transition.system import Conjunct, System, conjunction

CHOICE = "(without)"  # the device that stands for the choice; no name of the language has brackets
NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class Omitted:
    """Each thing in one of three heaps; `why` says what left some open."""

    needed: tuple[Thing, ...]
    spared: tuple[Thing, ...]
    open: tuple[Thing, ...] = ()
    why: str = ""


class Omitting:
    """The breaches of at most `steps` steps, with one of the things ruled out."""

    def __init__(
        self, circuit: Circuit, prop: Property, things: Iterable[Thing], steps: int
    ) -> None:
        self.circuit = circuit
        self.things = dict(enumerate(things))
        places = {number: f"{number}" for number in self.things}
        system, chosen = _choosing(circuit, prop, self.things, places)
        self.run = Unrolling(system)
        for _ in range(steps):
            self.run.extend()
        self.chosen = {number: self.run.at(term, 0) for number, term in chosen.items()}
        self._asked = itertools.count()
        self._without = DoingWithout(circuit, prop)

    def spared_alike(self, kinds: Sequence[str], budget: Budget) -> frozenset[Thing]:
        """Those without which a run with steps of just these kinds decides the property.

        Far easier to find than a run of any kind: most that can be spared is found here.
        after: of the others nothing is known
        """
        run = self.run
        alike = (
            switch if kind == "switch" else z3.Not(switch)
            for switch, kind in zip(run.switches, kinds, strict=True)
        )
        return frozenset(self._sifted(budget, self.things, *alike)[1])

    def sorted(self, things: Iterable[Thing], budget: Budget) -> Omitted:
        """Each of the things tried, all at once and in the end one by one, within the budget."""
        left, spared, answer = self._sifted(budget, self._numbered(things))
        if answer.word == "unknown":
            return self._one_by_one(budget, left, spared)
        return Omitted(tuple(left.values()), tuple(spared))

    def spared_later(self, things: Iterable[Thing], steps: int, budget: Budget) -> frozenset[Thing]:
        """Those without which a run of at most so many steps more decides the property.

        budget: its units are for this question alone
        after:  of the others nothing is known, unless the budget sufficed
        """
        left = self._numbered(things)
        if not left:
            return frozenset()
        for _ in range(steps):
            self.run.extend()
        short = replace(budget, resource=self.run.effort.units + budget.resource)
        return frozenset(self._sifted(short, left)[1])

    def _numbered(self, things: Iterable[Thing]) -> dict[int, Thing]:
        wanted = set(things)
        return {number: one for number, one in self.things.items() if one in wanted}

    def _sifted(
        self, budget: Budget, things: Mapping[int, Thing], *alike: z3.BoolRef
    ) -> tuple[dict[int, Thing], list[Thing], Answer]:
        """What no run was found to do without, what one does, and the last answer."""
        left, spared = dict(things), list[Thing]()
        answer = Answer("unsat")
        while left:
            answer = self._breached(budget, left, *alike)
            if answer.word != "sat":
                break
            found = self._run()
            gone = [n for n, one in left.items() if self._can_do(found, one)]
            if not gone:
                raise AssertionError("two accounts of the meaning part on a run without something")
            spared += [left.pop(number) for number in gone]
        return left, spared, answer

    def _can_do(self, run: Run, thing: Thing) -> bool:
        return self._without.decides(run.start, run.steps, thing)

    def _one_by_one(
        self, budget: Budget, left: Mapping[int, Thing], gone: Iterable[Thing]
    ) -> Omitted:
        heaps: dict[str, list[Thing]] = {"unsat": [], "sat": list(gone), "unknown": []}
        why = ""
        for number, thing in left.items():
            answer = self._breached(budget, [number])
            heaps[answer.word].append(thing)
            why = answer.why or why
        needed, spared, unknown = (tuple(heaps[word]) for word in ("unsat", "sat", "unknown"))
        return Omitted(needed, spared, unknown, why)

    def _breached(self, budget: Budget, numbers: Iterable[int], *alike: z3.BoolRef) -> Answer:
        """A breach with one of these ruled out, in steps that are alike."""
        asked = z3.Bool(f"asked {next(self._asked)}", self.run.system.context)
        self.run.solver.add(z3.Implies(asked, z3.Or([self.chosen[n] for n in numbers])))
        return self.run.check(budget, asked, self.run.breached(self.run.steps), *alike)

    def _run(self) -> Run:
        """The run of the model, up to its breach, in the circuit's own words."""
        model, run = self.run.model(), self.run
        last = next(
            i for i in range(self.run.steps + 1) if z3.is_true(model.eval(run.breached(i), True))
        )
        first, *later = (
            state_of(self.circuit, valuation(model, model, run.states[i])) for i in range(last + 1)
        )
        steps = []
        for i, after in enumerate(later):
            if z3.is_true(model.eval(run.switches[i], True)):
                steps.append(Step("switch", after, {}, Fraction(0)))
            else:
                inputs = valuation(model, model, run.inputs[i])
                steps.append(Step("elapse", after, _amounts(inputs), Fraction(inputs["duration"])))
        return Run(first, tuple(steps))


def _amounts(inputs: Mapping[str, bool | Fraction]) -> dict[str, Fraction]:
    return {
        key.removeprefix("amount "): Fraction(value)
        for key, value in inputs.items()
        if key.startswith("amount ") and value != 0
    }


def _choosing(
    circuit: Circuit, prop: Property, things: Mapping[int, Thing], places: Mapping[int, str]
) -> tuple[System, dict[int, z3.BoolRef]]:
    """The system with the choice, and for each thing that it is the one ruled out.

    It starts as the circuit does, and stays once it is breached, so that a
    short breach is one of every length.
    """
    context = z3.Context()
    choice = Device(CHOICE, "choice", (NOTHING, *places.values()), (), tuple(places.values()))
    guards = {thing: Not(At(CHOICE, places[number])) for number, thing in things.items()}
    with_choice = {**guarded(circuit, guards).devices, CHOICE: choice}
    changed = replace(guarded(circuit, guards), devices=with_choice)
    plain = replace(circuit, devices={**circuit.devices, CHOICE: choice})
    system = encode(changed, prop, context)
    layout = layout_of(system, changed)
    now, then = layout.moment(after=False), layout.moment(after=True)
    chosen = {number: now.bound(CHOICE, place) for number, place in places.items()}
    still = [
        Conjunct(z3.Implies(chosen[number], now.value(thing.name) == then.value(thing.name)))
        for number, thing in things.items()
        if thing.way == "value"
    ]
    return replace(
        system,
        start=encode(plain, prop, context).start,
        switch=_until_breached(system, (*system.switch, *still)),
        elapse=_until_breached(system, (*system.elapse, *still)),
    ), chosen


def _until_breached(system: System, parts: Sequence[Conjunct]) -> tuple[Conjunct, ...]:
    breached = next(v for v in system.variables if v.key == system.breached)
    step = conjunction(system.context, tuple(parts))
    return (Conjunct(z3.If(breached.now, breached.then, step)),)
