"""With every tie held the system is the system; with any let go it allows no less."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from random import Random

import pytest
import z3

from airproof.certify.confront import wander
from airproof.circuit.behaviour import Behaviour
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import TIMED, Property
from airproof.circuit.state import Monitor, State
from airproof.language import load_text
from airproof.transition.decode import Valuation, monitor_values, valuation_of
from airproof.transition.encode import DURATION, encode
from airproof.transition.layout import number
from airproof.transition.system import Conjunct, System, conjunction
from airproof.transition.ties import Ties
from generators import ASKED, airy, finite
from table_reader import Row, rows

ROWS = rows()
DRAWN = 12  # random circuits of each sort
RUNS = 4  # random runs of each of them


def both(circuit: Circuit, asked: Property) -> tuple[System, System, Ties]:
    """The plain system and the tied one, over the same variables."""
    context = z3.Context()
    ties = Ties(context)
    return encode(circuit, asked, context), encode(circuit, asked, context, ties), ties


def follows(context: z3.Context, given: list[z3.BoolRef], wanted: z3.BoolRef) -> bool:
    solver = z3.Solver(ctx=context)
    solver.add(*given, z3.Not(wanted))
    return bool(solver.check() == z3.unsat)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_with_every_tie_held_nothing_is_different(row: Row) -> None:
    """Start and both kinds of step say the same, conjunct by conjunct and as a whole."""
    circuit = load_text(row.text, row.name).circuit
    plain, tied, ties = both(circuit, next(iter(circuit.properties.values())))
    held = list(ties.known.values())
    for kind in ("start", "switch", "elapse"):
        one, other = getattr(plain, kind), getattr(tied, kind)
        assert [part.defines for part in one] == [part.defines for part in other]
        terms = [conjunction(plain.context, parts) for parts in (one, other)]
        assert follows(plain.context, [*held, terms[0]], terms[1])
        assert follows(plain.context, [*held, terms[1]], terms[0])


@pytest.mark.parametrize("make", [finite, airy], ids=["finite", "airy"])
def test_what_is_let_go_takes_no_step_away(make: Callable[[Random], Circuit]) -> None:
    """Every step of random runs stays allowed, whichever ties are held."""
    rng, steps = Random(20261126), 0
    for _ in range(DRAWN):
        circuit = make(rng)
        asked = circuit.properties[ASKED]
        if not isinstance(asked.sentence, TIMED):
            steps += _followed(circuit, asked, rng)
    assert steps >= 3 * DRAWN


def _followed(circuit: Circuit, asked: Property, rng: Random) -> int:
    """How many steps of some runs were tried; each must be allowed."""
    _, tied, ties = both(circuit, asked)
    behaviour, tried = Behaviour(circuit), 0
    for run in wander(circuit, asked.start, RUNS, rng.randrange(10**6)):
        before, memory = run.start, Monitor()
        held = [t if rng.random() < 0.5 else z3.Not(t) for t in ties.known.values()]
        assert _allowed(tied, tied.start, [*held, *_at(circuit, tied, before, memory)])
        for step in run.steps:
            after = behaviour.next_monitor(asked, memory, before, step)
            inputs = {f"amount {n}": step.amounts.get(n, Fraction(0)) for n in circuit.flows}
            inputs[DURATION] = step.duration or Fraction(1)
            made = [x.term == number(tied.context, inputs[x.key]) for x in tied.inputs]
            ends = [
                *_at(circuit, tied, before, memory),
                *_at(circuit, tied, step.after, after, then=True),
            ]
            parts = tied.switch if step.kind == "switch" else tied.elapse
            assert _allowed(tied, parts, [*held, *made, *ends]), step
            before, memory, tried = step.after, after, tried + 1
    return tried


def _allowed(system: System, parts: tuple[Conjunct, ...], given: list[z3.BoolRef]) -> bool:
    solver = z3.Solver(ctx=system.context)
    solver.add(*given, *(part.term for part in parts))
    return bool(solver.check() == z3.sat)


def _at(
    circuit: Circuit, system: System, state: State, memory: Monitor, then: bool = False
) -> list[z3.BoolRef]:
    keys = (v.key for v in system.variables)
    values: Valuation = {**valuation_of(circuit, state), **monitor_values(memory, keys)}
    found = []
    for v in system.variables:
        value, term = values[v.key], v.then if then else v.now
        constant = (
            z3.BoolVal(value, system.context)
            if isinstance(value, bool)
            else number(system.context, value)
        )
        found.append(term == constant)
    return found
