"""What a sequence depends on: by hand, and counted state by state with the thing taken away."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from itertools import chain
from random import Random

import pytest

from airproof.analyses.asking import PIECES, questions
from airproof.analyses.depending import depends_on, settled
from airproof.circuit.behaviour import Behaviour
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.circuit.without import Thing, without
from airproof.engines import search
from airproof.engines.budget import Budget
from airproof.engines.omitting import Omitting
from airproof.evidence.dependence import Dependence, Settled
from airproof.evidence.sequence import Sequence
from airproof.language import load_text
from cross.lacking import Lacking, fewest
from generators import airy, finite

CIRCUITS = int(os.environ.get("AIRPROOF_CIRCUITS", "90"))

HOIST = """\
circuit hoist "Workshop hoist"

supply main: 0 bar .. 8 bar, starts 0 bar
cylinder brake: starts 0 bar
control lever: stop, lift; starts stop; worked by hoistman
control gate: shut, open; starts shut; worked by outside
control lamp: off, on; starts off

valve lockout: shut, open; starts shut
    moves to open when main >= 5.5 bar +- 0.1 bar
    moves to shut when main <= 4.8 bar +- 0.1 bar
"""

# The lockout stands shut at the start and opens only at 5.5 bar, for which the main must
# rise.  Then the lever, then the gate; the gate may go first as well.  Had the lockout's
# lower setting been met all along, it would be shut whenever time passes, and nothing
# would flow.  Without its upper setting it never opens.  The lamp has no part in it.
GATE = (
    HOIST
    + """
flow feed: main -> brake while lever is lift and lockout is open, one way
property gate_open "Never fed while the gate is open"
    never feed is flowing while gate is open
"""
)

# Two levers side by side: neither is needed, for the other does as well.
TWIN = (
    HOIST
    + """
control other: stop, lift; starts stop
flow feed: main -> brake while (lever is lift or other is lift) and lockout is open, one way
property gate_open "Never fed while the gate is open"
    never feed is flowing while gate is open
"""
)

# The gate opens by a relay of its own, a step after the button; the bell rings with it and
# is read by nothing.
RELAYS = """\
circuit relays
control button: up, down; starts up
relay first: picked while button is down, dropped otherwise
relay bell: picked while button is down, dropped otherwise
relay second: picked while first is picked, dropped otherwise
property quiet "The second never picks"
    never second is picked
"""


def found(text: str, name: str) -> tuple[Circuit, Property, Sequence]:
    circuit = load_text(text).circuit
    prop = circuit.properties[name]
    sequence = search.run(circuit, prop, Budget(steps=12)).sequence
    assert sequence is not None
    return circuit, prop, sequence


def dependence(text: str, name: str) -> Dependence:
    return depends_on(*found(text, name), Budget())


def told(thing: Thing) -> str:
    if thing.setting is not None:
        value = thing.setting
        return f"{thing.way} {thing.name} {value.order} {float(value.constant)}"
    return " ".join(filter(None, (thing.way, thing.name, thing.place)))


def needed(text: str, name: str) -> set[str]:
    return {told(one.thing) for one in dependence(text, name).needed}


GATES = {
    "value main",
    "control gate open",
    "device lockout open",
    "met lockout >= 5.5",
    "not met lockout <= 4.8",
}


@pytest.mark.parametrize(
    ("text", "name", "expected"),
    [
        (GATE, "gate_open", {*GATES, "control lever lift"}),
        (TWIN, "gate_open", GATES),
        (
            RELAYS,
            "quiet",
            {"control button down", "device first picked", "device second picked"},
        ),
    ],
    ids=["gate", "twin", "relays"],
)
def test_what_is_needed(text: str, name: str, expected: set[str]) -> None:
    """As worked out above each circuit."""
    assert needed(text, name) == expected


def test_most_of_it_is_proved_for_every_length() -> None:
    """All but what is no matter of conditions: that the main keeps its pressure."""
    claims = {told(one.thing): one.claim for one in dependence(GATE, "gate_open").needed}
    assert {name for name, claim in claims.items() if claim != "ever"} == {"value main"}


def test_what_moves_and_has_no_part_in_it_is_named() -> None:
    """The bell must pick before time passes, and nothing that the property reads reads it."""
    result = dependence(RELAYS, "quiet")
    assert {told(thing) for thing in result.apart} == {"device bell picked"}
    assert not result.exact


def test_one_of_two_is_spared() -> None:
    """Whichever lever the sequence takes."""
    (spared,) = dependence(TWIN, "gate_open").spared
    assert told(spared) in ("control lever lift", "control other lift")


# Either key alone does it at once; without the first the second takes a relay more.
LATER = """\
circuit later
control one: off, on; starts off
control two: off, on; starts off
relay slow: in while two is on, out otherwise
relay bell: in while one is on or slow is in, out otherwise
property quiet "The bell never rings"
    never bell is in
"""


def test_what_a_longer_run_can_do_without_is_claimed_within_only() -> None:
    """The first key is needed in as many steps as its own run has, and in no longer one."""
    claims = {told(one.thing): one.claim for one in dependence(LATER, "quiet").needed}
    assert claims == {"control one on": "within", "device bell in": "ever"}


# The permit is picked where a run starts, for the main is high.  Were its setting never met,
# it would be due to drop at once; in that very instant the lever still goes to work, and then
# one control after the other, which takes far more steps.
PICKED = """\
circuit picked
supply main: 0 bar .. 8 bar, starts 6 bar .. 8 bar
control lever: rest, work; starts rest
control one: off, on; starts off
control two: off, on; starts off
control three: off, on; starts off
control four: off, on; starts off
control five: off, on; starts off
relay permit: picked while main >= 5 bar, dropped otherwise
interlock "0"
    lever moves to work only while permit is picked
interlock "1"
    one moves to on only while lever is work
interlock "2"
    two moves to on only while one is on
interlock "3"
    three moves to on only while two is on
interlock "4"
    four moves to on only while three is on
interlock "5"
    five moves to on only while four is on
property quiet "Never the last, nor the lever with the permit"
    never five is on or (lever is work and permit is picked)
"""


def test_a_run_starts_where_the_circuit_does_whatever_is_ruled_out() -> None:
    """So the setting is needed in two steps, and a run of eight does without."""
    circuit, prop, sequence = found(PICKED, "quiet")
    result = depends_on(circuit, prop, sequence, Budget())
    claims = {told(one.thing): one.claim for one in result.needed}
    assert claims == {"control lever work": "ever", "met permit >= 5.0": "within"}
    setting = next(one.thing for one in result.needed if one.thing.way == "met")
    tried = Omitting(circuit, prop, [setting], result.steps)
    assert tried.spared_later([setting], 6, Budget()) == {setting}


def test_longer_runs_are_told_apart() -> None:
    """Only what one of them does without is found."""
    circuit, prop, sequence = found(LATER, "quiet")
    about = questions(circuit, prop, sequence)
    tried = Omitting(circuit, prop, about.asked, about.steps)
    assert not tried.spared_alike(about.kinds, Budget())
    assert not tried.sorted(about.asked, Budget()).spared
    assert not tried.spared_later(about.asked, 0, Budget())
    assert {told(one) for one in tried.spared_later(about.asked, 3, Budget())} == {"control one on"}


@pytest.mark.parametrize(
    ("text", "name"), [(GATE, "gate_open"), (TWIN, "gate_open"), (RELAYS, "quiet")]
)
def test_the_pieces_together_are_the_whole(text: str, name: str) -> None:
    """What one statement reads is in one piece, and the answers are those of all at once."""
    circuit, prop, sequence = found(text, name)
    about = questions(circuit, prop, sequence)
    pieces = about.pieces()
    assert sorted(map(str, chain(*pieces))) == sorted(map(str, about.asked))
    names = [{one.name for one in piece} for piece in pieces]
    assert len(pieces) == PIECES
    assert not set.intersection(*names)
    parts = [settled(circuit, prop, piece, about.kinds, Budget()) for piece in reversed(pieces)]
    assert about.answered(parts) == depends_on(circuit, prop, sequence, Budget())


def test_what_no_piece_answers_is_open() -> None:
    """With the reason that is known."""
    circuit, prop, sequence = found(GATE, "gate_open")
    about = questions(circuit, prop, sequence)
    first, second = about.pieces()
    parts = [settled(circuit, prop, first, about.kinds, Budget()), Settled(why="time limit")]
    result = about.answered(parts)
    assert set(result.open) == set(second)
    assert result.why == "time limit"
    assert {one.thing for one in result.needed} <= set(first)


@pytest.mark.parametrize("budget", [Budget(seconds=0.0), Budget(resource=1)])
def test_without_a_budget_nothing_is_claimed(budget: Budget) -> None:
    """Everything that the very sequence does not rule out is left open, with the reason."""
    result = depends_on(*found(GATE, "gate_open"), budget)
    assert not result.needed
    assert {told(thing) for thing in result.open} >= {"control gate open", "device lockout open"}
    assert result.why in ("time limit", "solver limit")


def test_a_thing_without_which_time_stops_is_not_claimed() -> None:
    """The relay would chatter, were its pressure always high: nothing could happen at all.

    `second` drops `first` when it picks, and picks while `first` is picked and the tank is
    full: always full, the two never come to rest.
    """
    text = """\
circuit chatter
supply main: 0 bar .. 8 bar, starts 0 bar
control door: shut, open; starts shut
relay first: picked while second is dropped, dropped otherwise; starts picked
relay second: picked while first is picked and main >= 5 bar, dropped otherwise; starts dropped
property shut "The door is never open before the second has picked"
    never door is open while second is dropped
"""
    result = dependence(text, "shut")
    assert "not met second >= 5.0" in {told(thing) for thing in result.still}
    assert {told(one.thing) for one in result.needed} == {"control door open"}


# ---- against counting


def breaches(seed: int) -> Iterator[tuple[Circuit, Property, Sequence]]:
    """The longest of a random circuit."""
    circuit = finite(Random(seed), most=120, asked=3)
    runs = [
        (p, search.run(circuit, p, Budget(steps=8)).sequence) for p in circuit.properties.values()
    ]
    prop, sequence = max(runs, key=lambda one: one[1].length if one[1] else 0)
    if sequence is not None:
        yield circuit, prop, sequence


def test_counting_agrees_about_what_is_needed() -> None:
    """Needed: without it counting finds no breach of so many steps, or none at all.

    Not needed: without it counting finds one of no more steps.
    """
    met = Counter[str]()
    for seed in range(CIRCUITS):
        for circuit, prop, sequence in breaches(seed):
            result = depends_on(circuit, prop, sequence, Budget())
            assert result.steps == len(sequence.steps)
            assert not result.open
            for one in result.needed:
                steps = fewest(Lacking(circuit, one.thing), prop)
                bound = steps is None or (one.claim == "within" and steps > result.steps)
                assert bound, (seed, prop.name, one, steps)
                met[f"{one.claim} {one.thing.way}"] += 1
            for thing in result.spared if result.exact else ():
                steps = fewest(Lacking(circuit, thing), prop)
                assert steps is not None, (seed, prop.name, thing)
                assert steps <= result.steps, (seed, prop.name, thing)
                met[f"spared {thing.way}"] += 1
    print(met)
    ways = [f"{word} {way}" for word in ("ever", "spared") for way in ("control", "device")]
    assert all(met[one] >= CIRCUITS / 50 for one in ways), met
    assert met["ever timer"] + met["within timer"] > 0, met
    assert met["within control"] + met["within device"] >= CIRCUITS / 50, met


def test_a_search_without_it_agrees_where_there_is_air() -> None:
    """With pressures: what is needed is missed by a search of the circuit without it.

    A run that starts where the circuit itself does not is none; what keeps a
    pressure is no matter of conditions and is left to the tests by hand.
    """
    met = Counter[str]()
    for seed in range(CIRCUITS // 2):
        circuit = airy(Random(seed))
        (prop,) = circuit.properties.values()
        sequence = search.run(circuit, prop, Budget(steps=5)).sequence
        if sequence is None:
            continue
        result = depends_on(circuit, prop, sequence, Budget())
        for one in result.needed:
            met[one.thing.way] += 1
            if one.thing.way != "value":
                changed = without(circuit, one.thing)
                run = search.run(changed, prop, Budget(steps=result.steps)).sequence
                elsewhere = run and Behaviour(circuit).start_refusals(run.start, prop.start)
                assert run is None or elsewhere, (seed, one)
    print(met)
    assert met["device"] + met["control"] >= CIRCUITS / 20, met
    assert met["met"] + met["not met"] >= CIRCUITS / 50, met
