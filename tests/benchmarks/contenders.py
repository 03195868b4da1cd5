"""The engines that are compared, each from a loaded circuit to an answer."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

import z3

from airproof.certify.check import certified
from airproof.circuit.cone import cone
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.engines.budget import FARTHEST, Budget
from airproof.engines.strategy import prove
from airproof.engines.unrolling import Unrolling
from airproof.transition.encode import encode
from airproof.transition.system import System
from benchmarks.horn import Clauses, Variant
from cross.explicit import Machine
from cross.watching import lengths

Answer = Literal["reached", "never", "unknown"]
AIRPROOF = "airproof"
WORDS: Mapping[str, Answer] = {"sat": "reached", "unsat": "never"}
DEEPEST = 1000  # steps; time decides before
PATIENCE = 20.0  # wall time by processor time that an engine may take on a busy machine
TOO_SHORT = ("no breach within", "not found possible within")
CHECKING = 5.0  # [s] at least for a certificate, as the program itself gives it


@dataclass(frozen=True, slots=True)
class Asked:
    """One property of one circuit, and the processor time for it [s].

    Engines stop of themselves after `patience` of wall time only: on a busy
    machine the processor time is used up before, and that ends the process.
    """

    circuit: Circuit
    prop: Property
    seconds: float

    @property
    def patience(self) -> float:
        return PATIENCE * self.seconds

    @property
    def budget(self) -> Budget:
        return Budget(steps=DEEPEST, resource=10**15, seconds=self.patience)

    @property
    def system(self) -> System:
        """The whole circuit's."""
        return encode(self.circuit, self.prop, z3.Context())

    @property
    def cut(self) -> System:
        """That of the part of the circuit that the property can depend on."""
        return encode(cone(self.circuit, self.prop), self.prop, z3.Context())


@dataclass(frozen=True, slots=True)
class Contender:
    """name: as printed; run: from what is asked to the answer; proves: it can say `never`."""

    name: str
    run: Callable[[Asked], Answer]
    fits: Callable[[Circuit], bool] = lambda circuit: True
    proves: bool = True


# The second and third came out best in a small sweep: fifteen ways of asking, up to eleven cases
# of the families and the worked circuits, 20 s each; the page of results says more.
VARIANTS = (
    Variant("fixedpoint", "z3's fixedpoint engine as it comes, on the whole circuit", {}),
    Variant(
        "fixedpoint-together",
        "the same on the part of the circuit that the property can depend on (the part that"
        " airproof cuts out; a breach it finds is the part's, and not carried over to the whole),"
        " both kinds of step in one clause, with `spacer.weak_abs`, `spacer.mbqi` and"
        " `spacer.q3` off",
        {"spacer.weak_abs": False, "spacer.mbqi": False, "spacer.q3": False},
        cut=True,
        together=True,
    ),
    Variant(
        "fixedpoint-part",
        "the same on that part, both kinds of step in one clause, all settings as they come",
        {},
        cut=True,
        together=True,
    ),
)


def contenders() -> Mapping[str, Contender]:
    """All of them by name, airproof first."""
    fixed = [Contender(v.name, _fixedpoint(v)) for v in VARIANTS]
    everyone = (
        Contender(AIRPROOF, _airproof),
        *fixed,
        Contender("induction", induction),
        Contender("unrolling", unrolling, proves=False),
        Contender("explicit", explicit, finite),
    )
    return {contender.name: contender for contender in everyone}


def _airproof(asked: Asked) -> Answer:
    """The program's own way, certificate discharged, sequence replayed.

    As deep as it looks of itself; where that was too short, again as deep as time allows.
    """
    began = time.monotonic()
    as_it_comes = replace(asked.budget, steps=Budget().steps, farthest=FARTHEST)
    claim = prove(asked.circuit, asked.prop.name, as_it_comes)
    if claim.reason in TOO_SHORT:
        claim = prove(asked.circuit, asked.prop.name, asked.budget)
    left = asked.patience - (time.monotonic() - began)
    verdict = certified(asked.circuit, claim, max(CHECKING, left))
    if verdict.reason == "defect":
        raise AssertionError(verdict.detail)
    if verdict.word == "undecided":
        return "unknown"
    return "reached" if verdict.sequence is not None else "never"


def _fixedpoint(variant: Variant) -> Callable[[Asked], Answer]:
    def run(asked: Asked) -> Answer:
        clauses = Clauses(asked.cut if variant.cut else asked.system, variant)
        return WORDS.get(clauses.ask(asked.patience), "unknown")

    return run


def induction(asked: Asked) -> Answer:
    """No breach in k steps from the start, and none in the step after k unbreached ones."""
    system, budget = asked.system, asked.budget
    base, step = Unrolling(system), Unrolling(system, anywhere=True)
    for k in range(DEEPEST):
        first = base.check(budget, base.breached(k)).word
        if first != "unsat":
            return "reached" if first == "sat" else "unknown"
        base.solver.add(z3.Not(base.breached(k)))
        step.solver.add(z3.Not(step.breached(k)))
        step.extend()
        base.extend()
        onward = step.check(budget, step.breached(k + 1)).word
        if onward != "sat":
            return "never" if onward == "unsat" else "unknown"
    return "unknown"


def unrolling(asked: Asked) -> Answer:
    """One step more at a time until there is a breach."""
    run, budget = Unrolling(asked.system), asked.budget
    for k in range(DEEPEST):
        word = run.check(budget, run.breached(k)).word
        if word != "unsat":
            return "reached" if word == "sat" else "unknown"
        run.solver.add(z3.Not(run.breached(k)))
        run.extend()
    return "unknown"


def explicit(asked: Asked) -> Answer:
    """Every state of a finite circuit, one by one."""
    length, _ = lengths(Machine(asked.circuit), asked.prop)
    return "never" if length is None else "reached"


def finite(circuit: Circuit) -> bool:
    """Nothing in the circuit has a value, and no air moves."""
    return not circuit.value_starts and not circuit.flows
