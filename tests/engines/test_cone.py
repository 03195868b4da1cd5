"""The part of a circuit that a property depends on, and proofs made on it alone."""

from __future__ import annotations

from dataclasses import replace

import pytest

from airproof.certify.check import certified
from airproof.certify.obligations import discharge, obligations
from airproof.circuit.cone import ELSEWHERE, cone
from airproof.circuit.kinds import Circuit
from airproof.engines.budget import Budget
from airproof.engines.strategy import prove
from airproof.language import load_text

HEAD = """circuit sheds "Some sheds on one main"

supply main: 0 bar .. 8 bar, starts 0 bar .. 8 bar

part shed "One shed: a lever, a guard and a cylinder"
    ports feed
    control lever: down, up; starts down; worked by shedman
    control guard: shut, open; starts shut; worked by outside
    cylinder ram: 2 litre, starts 0 bar
    relay safe: picked while guard is shut, dropped otherwise
    timer wait: runs while guard is open; expires after 1 s
    interlock "The lever is locked while the guard is open"
        lever is locked in down while guard is open
    flow fill: feed -> ram while lever is up and safe is picked, choke 2 mm, one way
    flow drain: ram -> atmosphere while lever is down, choke 2 mm
end part

"""
ASKED = """
property guarded "The ram of the first shed is not filled while its guard is open"
    never a0.fill is flowing while a0.guard is open
property lifts "The ram of the first shed can be filled"
    possible a0.ram >= 3 bar
property fresh_lift "The ram is filled only after the lever has gone to up since the guard was open"
    a0.fill is flowing only after a0.lever has gone to up since a0.guard is open
"""


def sheds(count: int, more: str = "") -> Circuit:
    fits = "\n".join(f"fit shed as a{i}, feed from main" for i in range(count))
    return load_text(f"{HEAD}{fits}\n{more}{ASKED}").circuit


BENCH = """circuit bench "A lever beside a relay that can never pick"
control lever: up, down; starts up
relay stuck: picked while lever is up and lever is down, dropped otherwise
property begun "The lever is down only in the stretch that begins with its move"
    whenever lever is down, lever has gone to down
"""


def names(circuit: Circuit) -> set[str]:
    return {*circuit.positions, *circuit.value_starts, *circuit.timers, *circuit.flows}


def test_units_on_one_supply_do_not_draw_each_other_in() -> None:
    circuit = sheds(4)
    part = cone(circuit, circuit.properties["guarded"])
    own = {"main", "a0.lever", "a0.guard", "a0.ram", "a0.safe", "a0.fill", "a0.drain"}
    assert names(part) == own | {ELSEWHERE}
    assert list(part.interlocks.values()) == [
        lock for lock in circuit.interlocks.values() if lock.control == "a0.lever"
    ]


def test_what_is_nearly_the_whole_is_left_whole() -> None:
    circuit = sheds(1)
    assert cone(circuit, circuit.properties["guarded"]) is circuit


@pytest.mark.parametrize(
    ("more", "drawn"),
    [
        pytest.param(
            "flow cross: a0.ram -> a1.ram while a1.safe is picked\n",
            {"a1.ram", "a1.safe", "a1.guard", "a1.fill", "a1.lever", "cross"},
            id="a flow between two volumes",
        ),
        pytest.param(
            'interlock "Locked by the neighbour"\n'
            "    a0.guard moves to open only while a2.wait has expired\n",
            {"a2.wait", "a2.guard"},
            id="an interlock reads a timer",
        ),
        pytest.param(
            'assumption good "People keep this"\n'
            "    a0.guard moves to open only while a3.ram <= 1 bar\n",
            {"a3.ram", "a3.fill", "a3.drain", "a3.lever", "a3.safe"},
            id="an assumption reads a pressure",
        ),
    ],
)
def test_whatever_decides_a_part_belongs_to_it(more: str, drawn: set[str]) -> None:
    circuit = sheds(8, more)
    part = cone(circuit, circuit.properties["guarded"])
    assert names(part) >= drawn
    assert "a5.ram" not in names(part)


@pytest.mark.parametrize("name", ["guarded", "fresh_lift"])
def test_a_proof_on_the_part_is_one_on_the_whole(name: str) -> None:
    circuit = sheds(4)
    alone = prove(sheds(1), name, Budget())
    claim = prove(circuit, name, Budget())
    assert claim.word == alone.word
    if claim.word == "holds":
        assert claim.certificate is not None
        assert ELSEWHERE not in claim.certificate.text
        assert certified(circuit, claim, 60.0) == claim
        duties = obligations(circuit, circuit.properties[name], claim.certificate)
        assert {answer.answer for answer in discharge(duties, 60.0)} == {"unsat"}


def test_a_sequence_is_one_of_the_whole_circuit() -> None:
    circuit = sheds(4)
    found, alone = prove(circuit, "lifts", Budget()), prove(sheds(1), "lifts", Budget())
    assert found.word == alone.word == "holds"
    assert found.sequence is not None
    assert alone.sequence is not None
    assert found.sequence.length == alone.sequence.length
    assert set(found.sequence.start.positions) == set(circuit.positions)


def test_where_the_part_does_too_much_the_whole_is_proved() -> None:
    """In the part something outside may end a stretch; in this circuit nothing can."""
    circuit = load_text(BENCH).circuit
    assert cone(circuit, circuit.properties["begun"]) is not circuit
    claim = prove(circuit, "begun", Budget())
    assert claim.certificate is not None
    assert claim.certificate.whole
    assert certified(circuit, claim, 60).word == "holds"
    of_the_part = replace(claim, certificate=replace(claim.certificate, whole=False))
    assert certified(circuit, of_the_part, 60).reason == "defect"
