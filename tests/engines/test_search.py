"""What is found is the shortest by length, not by steps, and nothing moves in it for no reason."""

from __future__ import annotations

import pytest

from airproof.circuit.behaviour import Behaviour
from airproof.engines import search
from airproof.engines.budget import Budget
from airproof.evidence.sequence import Sequence
from airproof.language import load_text

SUPPLY = """
supply main: 0 bar .. 8 bar, starts 0 bar
control cock: shut, open; starts shut
interlock "The cock is opened from 2 bar on"
    cock moves to open only while main >= 2 bar
interlock "The cock is shut from 4 bar on"
    cock moves to shut only while main >= 4 bar
"""

# One stretch, which the settings cut into four elapse steps; or the lever, and one step of time.
RISES = f"""circuit rises "A supply that rises by itself"
{SUPPLY}
control lever: down, up; starts down
property p "Neither"
    never main > 6 bar or lever is up
"""

# Lever and three relays in an instant, then time; or the dial, with time between its moves.
CHAIN = f"""circuit chain "A chain of relays and a dial"
{SUPPLY}
control lever: down, up; starts down
control dial: one, two, three, four; in that order; starts one
relay first: picked while lever is up, dropped otherwise; starts dropped
relay second: picked while first is picked, dropped otherwise; starts dropped
relay third: picked while second is picked, dropped otherwise; starts dropped
property p "Neither"
    never third is picked or dial is four
"""

# Both levers, then three elapse steps of one stretch; or one lever and two relays, then one step.
PAIR = f"""circuit pair "Two levers, or one lever and two relays"
{SUPPLY}
control left: down, up; starts down
control right: down, up; starts down
relay first: picked while left is up and right is down, dropped otherwise; starts dropped
relay second: picked while first is picked, dropped otherwise; starts dropped
property p "Neither"
    never second is picked or (left is up and right is up and main > 4 bar)
"""

CALM = """circuit calm "Levers of which one matters"
control lever: down, up; starts down
control loose: here, there; starts there
control idle: here, there; starts there
control spare: here, there; starts there
property p "It stays down"
    never lever is up
"""


def found(text: str) -> tuple[Sequence, list[str]]:
    """The sequence, and every control's move in it."""
    circuit = load_text(text).circuit
    outcome = search.run(circuit, circuit.properties["p"], Budget(steps=8))
    assert outcome.sequence is not None
    assert outcome.shortest
    moves = [
        move.name
        for before, step in outcome.sequence.pairs()
        if step.kind == "switch"
        for move in Behaviour(circuit).moves_made(before, step.after)
        if move.kind == "control"
    ]
    return outcome.sequence, moves


@pytest.mark.parametrize(
    ("text", "length", "steps", "moves"),
    [
        pytest.param(RISES, 1, 4, [], id="more steps in one stretch"),
        pytest.param(CHAIN, 5, 5, ["lever"], id="stretches count"),
        pytest.param(PAIR, 2, 4, ["left", "right"], id="shorter before calmer"),
        pytest.param(CALM, 2, 2, ["lever"], id="nothing moves for no reason"),
    ],
)
def test_what_is_found(text: str, length: int, steps: int, moves: list[str]) -> None:
    """Length, steps and moves as worked out by hand in the comments above."""
    sequence, moved = found(text)
    assert (sequence.length, len(sequence.steps), moved) == (length, steps, moves)
