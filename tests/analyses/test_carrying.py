"""What is known of a circuit, brought to a changed one; answers worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from airproof.analyses.carrying import carried
from airproof.analyses.likeness import same_part
from airproof.analyses.shifts import shifts
from airproof.certify.check import certified
from airproof.circuit.kinds import Circuit
from airproof.engines.budget import Budget
from airproof.engines.strategy import prove
from airproof.evidence.certificate import Invariant
from airproof.evidence.verdict import Verdict
from airproof.language import load_text
from airproof.transition.literals import Bit, Literal

SHED = """circuit shed "S"
supply main: 0 bar .. 8 bar, starts 0 bar .. 8 bar
cylinder brake: 2 litre, starts 0 bar
control lever: hold, lift; starts hold
control gate: shut, open; starts shut
control lamp: off, on; starts off
valve guard: shut, open; starts shut
    moves to open when main >= 5 bar +- 0.1 bar
    moves to shut when main <= 4 bar +- 0.1 bar
interlock "No lifting through an open gate"
    lever moves to lift only while gate is shut
interlock "No opening while it lifts"
    gate moves to open only while lever is hold
flow lift: main -> brake while lever is lift and guard is open, choke 2 mm, one way
flow drop: brake -> atmosphere while lever is hold, choke 4 mm
signal poor: main < 3.5 bar
property not_on_poor_air "A"
    never lift is flowing while poor
property not_through_gate "B"
    never lever is lift and gate is open
property can_lift "C"
    possible brake >= 5 bar
property lamp_works "D"
    possible lamp is on
"""
NAMES = ("not_on_poor_air", "not_through_gate", "can_lift", "lamp_works")


@cache
def known(name: str) -> Verdict:
    circuit = load_text(SHED).circuit
    return certified(circuit, prove(circuit, name, Budget()), 10.0)


def after(was: str, now: str) -> Circuit:
    assert SHED.count(was) == 1
    return load_text(SHED.replace(was, now)).circuit


def way(circuit: Circuit, name: str) -> str | None:
    found = carried(circuit, load_text(SHED).circuit, known(name), Budget())
    return None if found is None else f"{found.verdict.word} by {found.way}"


@pytest.mark.parametrize(
    ("was", "now", "ways"),
    [
        # The choke is read by nothing that is judged at any speed.
        (
            "choke 2 mm",
            "choke 3 mm",
            (
                "holds by old proof",
                "holds by old proof",
                "holds by old sequence",
                "holds by old sequence",
            ),
        ),
        # Without the first interlock the lever goes to lift through an open gate.
        (
            'interlock "No lifting through an open gate"\n'
            "    lever moves to lift only while gate is shut\n",
            "",
            ("holds by old proof", None, "holds by old sequence", "holds by old sequence"),
        ),
        # The guard shuts so late that poor air passes; the other three never ask.
        (
            "shut when main <= 4 bar",
            "shut when main <= 3 bar",
            (None, "holds by old proof", "holds by old sequence", "holds by old sequence"),
        ),
        # The supply is never above 4.5 bar: the guard never opens, nothing shows a lift.
        (
            "main: 0 bar .. 8 bar, starts 0 bar .. 8 bar",
            "main: 0 bar .. 4.5 bar, starts 0 bar .. 4.5 bar",
            ("holds by old proof", "holds by old proof", None, "*"),
        ),
    ],
)
def test_what_stands_and_what_does_not(was: str, now: str, ways: tuple[str | None, ...]) -> None:
    """A proof or a run counts on the changed circuit if, and only if, it is one there."""
    circuit = after(was, now)
    for name, expected in zip(NAMES, ways, strict=True):
        if expected != "*":
            assert way(circuit, name) == expected, name


def test_a_run_is_followed_with_other_pressures() -> None:
    """The guard opens later: the moves are the same, the air above the new setting."""
    circuit = after("open when main >= 5 bar", "open when main >= 7 bar")
    assert way(circuit, "can_lift") in ("holds by old moves", "holds by old sequence")
    assert way(circuit, "not_on_poor_air") == "holds by old proof"


def test_a_proof_of_another_thing_shows_nothing() -> None:
    """A certificate that is no invariant of the changed circuit, or speaks of what it lacks."""
    old = load_text(SHED).circuit
    circuit = after(
        'interlock "No opening while it lifts"\n    gate moves to open only while lever is hold\n',
        "",
    )
    for bit in ("position gate", "position nothing"):
        claim = replace(
            known("not_through_gate"), certificate=Invariant(((Literal(Bit(bit), so=False),),))
        )
        assert carried(circuit, old, claim, Budget()) is None


def test_the_same_part_is_the_same_only_if_all_of_it_is() -> None:
    """Chokes count, and so does everything that is read on the way; what stands apart does not."""
    old = load_text(SHED).circuit

    def same(circuit: Circuit) -> list[str]:
        return [n for n in NAMES if same_part(circuit, old, circuit.properties[n])]

    assert same(old) == list(NAMES)
    assert same(after("choke 2 mm", "choke 3 mm")) == ["not_through_gate", "lamp_works"]
    assert same(after("lamp: off, on; starts off", "lamp: off, on; starts on")) == list(NAMES[:3])
    assert same(after("main < 3.5 bar", "main < 3.6 bar")) == list(NAMES[1:])


@pytest.mark.parametrize(
    ("was", "now", "found"),
    [
        ("main < 3.5 bar", "main < 3.2 bar", {"not_on_poor_air": [("signal", "poor")]}),
        (
            "while lever is lift and guard is open, choke 2 mm",
            "while lever is lift, choke 2 mm",
            {"not_on_poor_air": [("thing", "lift")]},
        ),
        ("choke 2 mm", "choke 3 mm", {}),
        (
            "possible lamp is on",
            "possible lamp is off",
            {"lamp_works": [("sentence", "lamp_works")]},
        ),
        (
            "never lever is lift and gate is open",
            "never lever is lift and gate is open\n    even for an instant",
            {"not_through_gate": [("instants", "not_through_gate")]},
        ),
        (
            "    never lever is lift and gate is open",
            "    severity marginal\n    never lever is lift and gate is open",
            {"not_through_gate": [("severity", "none to marginal")]},
        ),
        (
            "lamp: off, on; starts off",
            "lamp: off, on, dim; starts off",
            {"lamp_works": [("thing", "lamp")]},
        ),
        ("moves to open when main >= 5 bar", "moves to open when main >= 6 bar", {}),
    ],
)
def test_a_property_that_asks_something_else_is_named(
    was: str, now: str, found: dict[str, list[tuple[str, str]]]
) -> None:
    """By what it is that it asks something else; a device behind what it names is none of it."""
    old, new = load_text(SHED).circuit, after(was, now)
    told = {name: shifts(old, new, name) for name in NAMES}
    assert {n: [(s.kind, s.name) for s in why] for n, why in told.items() if why} == found
