"""A find in the part of a circuit becomes a find in the whole, no longer than it must be.

With the environment variable AIRPROOF_JOINED, more circuits are put side by side.
"""

from __future__ import annotations

import os
from collections import Counter
from random import Random

import pytest

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.cone import cone
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Possible, Property
from airproof.engines import search, strategy, wholes
from airproof.engines.budget import Budget
from airproof.engines.weaving import Woven, woven
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Verdict
from airproof.language import load_text
from cross.explicit import Machine
from cross.joined import beside
from cross.watching import lengths
from generators import finite

JOINED = int(os.environ.get("AIRPROOF_JOINED", "60"))
DEEPEST = 9

LOCK = """
circuit lock "Sluices of one lock basin, worked from one main"
supply main: 0 bar .. 8 bar, starts 0 bar
control lever: up, down; starts up
valve gate: shut, open; starts shut
    moves to open when main >= 6 bar +- 0.1 bar
    moves to shut when main <= 5 bar +- 0.1 bar
property gate_shut "The gate stays shut"
    never gate is open
property just_pulled "Whenever the lever is down, it was pulled just now"
    whenever lever is down, lever has gone to down
property no_air "There is no air in the main"
    never main >= 4 bar
property pulled "With the lever down there is no air in the main"
    never main >= 4 bar and lever is down
"""

SLUICE = """
valve sluice{n}: shut, open; starts shut
    moves to open when {open}
    moves to shut when main <= 2 bar +- 0.1 bar
control knob{n}: left, right; starts left
reservoir well{n}: 10 litre, starts 0 bar .. 1 bar
flow fill{n}: main -> well{n} while sluice{n} is open and knob{n} is right, one way
"""


def lock(*opening: str, text: str = LOCK) -> Circuit:
    """The lock with one sluice for each condition under which it opens."""
    sluices = (SLUICE.format(n=n, open=when) for n, when in enumerate(opening))
    return load_text("".join([text, *sluices]), "lock").circuit


def at(*levels: str) -> tuple[str, ...]:
    return tuple(f"main >= {level} bar +- 0.1 bar" for level in levels)


def told(circuit: Circuit, name: str) -> Verdict:
    """The verdict, found in a part of the circuit and not searched for anew in the whole."""
    assert cone(circuit, circuit.properties[name]) is not circuit
    verdict = strategy.prove(circuit, name, Budget(steps=12))
    assert verdict.sequence is not None
    replay = Behaviour(circuit).replay(
        circuit.properties[name], verdict.sequence.start, verdict.sequence.steps
    )
    assert replay.accepted
    assert replay.decided == len(verdict.sequence.steps) - 1
    return verdict


def length(circuit: Circuit, name: str) -> int:
    """The length of the sequence told, with no doubt left about a shorter one."""
    verdict = told(circuit, name)
    assert verdict.sequence is not None
    assert verdict.notes == ()
    return verdict.sequence.length


def weave(circuit: Circuit, name: str) -> Woven:
    """What comes of the find in the smallest part, without any search of the whole."""
    prop = circuit.properties[name]
    part = cone(circuit, prop)
    found = search.run(part, prop, Budget(steps=12)).sequence
    assert part is not circuit
    assert found is not None
    return woven(circuit, part, prop, found)


def moved_outside(circuit: Circuit, name: str, sequence: Sequence) -> Counter[str]:
    """How often each thing outside the part moved."""
    inside = cone(circuit, circuit.properties[name]).positions
    behaviour = Behaviour(circuit)
    return Counter(
        move.name
        for before, step in sequence.pairs()
        if step.kind == "switch"
        for move in behaviour.moves_made(before, step.after)
        if move.name not in inside
    )


@pytest.fixture(name="unsearched")
def _unsearched(monkeypatch: pytest.MonkeyPatch) -> None:
    """A search of the whole circuit is an error."""

    def refuse(*_: object) -> None:
        raise AssertionError("the whole was searched")

    monkeypatch.setattr(wholes.Whole, "_searched_anew", refuse)


# ---- lengths worked out by hand


@pytest.mark.usefixtures("unsearched")
def test_units_that_need_not_move_do_not() -> None:
    """The gate opens at 6 bar: stretch, switch, stretch; sluices wait for the lever."""
    circuit = lock(*["lever is down"] * 4)
    verdict = told(circuit, "gate_shut")
    assert verdict.sequence is not None
    assert verdict.sequence.length == 3
    assert verdict.notes == ()
    assert not moved_outside(circuit, "gate_shut", verdict.sequence)


@pytest.mark.usefixtures("unsearched")
@pytest.mark.parametrize(
    ("levels", "expected"),
    [
        (("3",), 5),  # one stop on the way up to 6 bar
        (("3", "3.1"), 5),  # between 3 and 3.1 bar both may open at once
        (("3", "3", "3", "3"), 5),
        (("3", "4", "4"), 7),  # two stops: tolerances do not meet
        (("3", "3.5", "4", "4.5"), 11),
        (("6", "6"), 3),  # with the gate
        (("7", "7"), 3),  # beyond what the gate needs
    ],
)
def test_the_supply_stops_where_something_outside_is_due(
    levels: tuple[str, ...], expected: int
) -> None:
    """Each stop is a switch step and one more stretch; who can move together does."""
    assert length(lock(*at(*levels)), "gate_shut") == expected


@pytest.mark.parametrize("name", ["no_air", "pulled"])
def test_what_is_due_at_the_start_moves_first(name: str) -> None:
    """At 5 bar two sluices are due: they move before time passes, or at once with the lever."""
    text = LOCK.replace("starts 0 bar", "starts 5 bar .. 5.5 bar", 1)
    assert length(lock(*at("3", "4"), text=text), name) == 2


@pytest.mark.usefixtures("unsearched")
def test_something_outside_moves_where_a_stretch_has_to_be_split() -> None:
    """The lever goes down, time passes, a knob moves, time passes: pulled, but not just now."""
    circuit = lock(*at("3", "3"))
    verdict = told(circuit, "just_pulled")
    assert verdict.sequence is not None
    assert verdict.sequence.length == 4
    assert moved_outside(circuit, "just_pulled", verdict.sequence).total() == 1


def test_a_stretch_cannot_be_split_where_nothing_else_moves() -> None:
    """Without knobs, with sluices that never open, only the lever is left: the whole shows it."""
    text = LOCK.replace("0 bar .. 8 bar", "0 bar .. 1 bar").replace("main >= 6", "main >= 7")
    knobs = lock(*["main >= 7 bar"] * 3, text=text)
    circuit = load_text(_without_knobs(text, 3), "lock").circuit
    assert length(knobs, "just_pulled") == 4
    assert weave(circuit, "just_pulled") == Woven(None, ())
    verdict = strategy.prove(circuit, "just_pulled", Budget(steps=6))
    assert (verdict.word, verdict.sequence) == ("holds", None)
    assert verdict.certificate is not None
    assert verdict.certificate.whole


def _without_knobs(text: str, units: int) -> str:
    sluices = [SLUICE.format(n=n, open="main >= 7 bar") for n in range(units)]
    lines = "".join([text, *sluices]).replace(" and knob", " # and knob").splitlines()
    kept = (line.split(" # ")[0] for line in lines if not line.startswith("control knob"))
    return "\n".join([*kept, ""])


@pytest.mark.usefixtures("unsearched")
def test_a_start_is_chosen_in_which_less_is_due() -> None:
    """The sluices may stand open at the start, where 5 bar keep them open."""
    text = LOCK.replace("starts 0 bar", "starts 5.5 bar", 1)
    shut_or_open = SLUICE.replace("starts shut", "starts shut or open")
    sluices = (shut_or_open.format(n=n, open="main >= 3 bar") for n in range(4))
    circuit = load_text("".join([text, *sluices]), "lock").circuit
    assert length(circuit, "no_air") == 1


def test_a_note_says_what_was_not_ruled_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without leave to search wider parts or the whole, a longer sequence is told with doubt."""
    monkeypatch.setattr(wholes, "WIDER_UNITS", 1)
    verdict = told(lock(*at("3", "3", "4")), "gate_shut")
    assert verdict.sequence is not None
    assert verdict.sequence.length == 7
    assert verdict.notes == ("a shorter sequence not ruled out",)


def test_every_piece_of_a_split_step_carries_its_share() -> None:
    """Amounts and durations of the pieces add up to the part's; values go straight on."""
    circuit = lock(*at("3", "4"), text=FILLING)
    prop = circuit.properties["soon"]
    part = cone(circuit, prop)
    found = search.run(part, prop, Budget(steps=12)).sequence
    assert found is not None
    whole = woven(circuit, part, prop, found).sequence
    assert whole is not None
    assert len(whole.steps) > len(found.steps)
    for measure in (_lasting, _carried):
        assert measure(whole) == measure(found)


FILLING = """
circuit lock "A basin filled from the main that works the sluices"
supply main: 0 bar .. 8 bar, starts 0 bar
reservoir basin: 10 litre, starts 0 bar
flow fill: main -> basin, one way
property soon "The basin has air soon after the main has"
    whenever main >= 5 bar, basin >= 4 bar within 3 s
"""


def _lasting(sequence: Sequence) -> object:
    return sum(step.duration or 0 for step in sequence.steps)


def _carried(sequence: Sequence) -> object:
    return sum(step.amounts.get("fill", 0) for step in sequence.steps)


# ---- many circuits put side by side, against counting


def compare(seed: int, tally: Counter[str]) -> None:
    """Verdict and length of each half's property are those of the whole, counted."""
    rng = Random(seed)
    size = rng.choice((16, 24))
    circuit = beside(finite(rng, most=size), finite(rng, most=size), rng if seed % 2 else None)
    machine = Machine(circuit)
    for asked in circuit.properties.values():
        least, deepest = lengths(machine, asked)
        if not any(machine.starts(asked.start)):
            tally["no start"] += 1
            continue
        verdict = strategy.prove(circuit, asked.name, Budget(steps=min(DEEPEST, deepest + 1)))
        expect(verdict, asked, least if least is not None and least <= DEEPEST else None, least)
        tally[verdict.word] += 1
        tally["in a part"] += cone(circuit, asked) is not circuit
        tally["in a part, found"] += verdict.sequence is not None


def expect(verdict: Verdict, asked: Property, near: int | None, least: int | None) -> None:
    """The verdict is the right one, if one is given."""
    right = "holds" if (least is not None) == isinstance(asked.sentence, Possible) else "breached"
    assert verdict.word in (right, "undecided"), verdict
    assert verdict.reason != "defect", verdict
    length = verdict.sequence.length if verdict.sequence else None
    assert length == near or (verdict.notes and length and near and length > near), verdict


def test_side_by_side_is_told_what_counting_tells() -> None:
    """Neither the part cut out nor the weaving changes a verdict or a length."""
    tally: Counter[str] = Counter()
    for seed in range(JOINED):
        try:
            compare(seed, tally)
        except AssertionError as parting:
            raise AssertionError(f"seed {seed}") from parting
    print(tally)
    assert tally["in a part"] >= JOINED
    assert tally["in a part, found"] >= JOINED / 3
    assert min(tally["holds"], tally["breached"]) >= JOINED / 10, tally


def test_a_joined_circuit_is_both() -> None:
    """Side by side there are as many starts as pairs of them."""
    for seed in range(5):
        rng = Random(seed)
        one, other = finite(rng, most=12), finite(rng, most=12)
        both = beside(one, other)
        assert len(both.positions) == len(one.positions) + len(other.positions)
        assert len(list(Machine(both).starts(None))) == len(list(Machine(one).starts(None))) * len(
            list(Machine(other).starts(None))
        )
