"""What is only called or written otherwise is no change of meaning; what means another thing is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from random import Random

import pytest

from airproof.analyses.apart import apart, laid
from airproof.analyses.carrying import carried
from airproof.analyses.likeness import alike_at_any_speed
from airproof.analyses.likening import likened
from airproof.analyses.shifts import shifts
from airproof.certify.check import certified
from airproof.circuit.affected import KINDS
from airproof.circuit.conditions import (
    OPPOSITE,
    AllOf,
    AnyOf,
    At,
    Compare,
    Condition,
    Not,
    Truth,
    form_of,
)
from airproof.circuit.kinds import Circuit
from airproof.circuit.normal import normal
from airproof.circuit.readings import Inner, Instant
from airproof.circuit.renamed import Renaming, renamed
from airproof.circuit.state import State
from airproof.circuit.tables import tables_of
from airproof.engines.budget import Budget
from airproof.engines.strategy import prove
from airproof.evidence.renamed import Retold
from airproof.language import load, load_text
from generators import airy, finite

HOIST = """circuit hoist "Hoist"
supply main: 0 bar .. 8 bar, starts 0 bar .. 8 bar
cylinder brake: starts 0 bar
control lever: hold, lift; starts hold
control gate: shut, open; starts shut
valve lockout: shut, open; starts shut
    moves to open when main >= 5.5 bar +- 0.1 bar
    moves to shut when main <= 4.8 bar +- 0.1 bar
interlock "No lifting through an open gate"
    lever moves to lift only while gate is shut
signal poor: main < 4.6 bar
flow lift: main -> brake while lever is lift and lockout is open, choke 3 mm, one way
flow drop: brake -> atmosphere while lever is hold or lockout is shut, choke 6 mm
state ready: brake = 5 bar, lever is lift
property starved "Never fed from a poor supply"
    never lift is flowing while poor
property can_drop "From the top"
    from ready
    possible drop is flowing
"""


def circuit(*edits: tuple[str, str], text: str = HOIST) -> Circuit:
    for old, new in edits:
        assert text.count(old) >= 1, old
        text = text.replace(old, new)
    return load_text(text, "hoist").circuit


def shifted(old: Circuit, new: Circuit) -> set[str]:
    """What does not ask what it asked, with the old circuit in the new one's words."""
    told = likened(old, new).circuit
    return {name for name in told.properties if name in new.properties and shifts(told, new, name)}


def alike(old: Circuit, new: Circuit) -> bool:
    """Statement by statement, once the one is in the words of the other."""
    plan = laid(old, new)
    return alike_at_any_speed(plan.was, plan.now)


# ---- names


RENAMED = (
    ("lever", "handle"),
    ("lockout", "guard"),
    ("brake", "ram"),
    ("lift", "raise"),
    ("hold", "stay"),
    ("open", "wide"),
    ("poor", "weak"),
    ("starved", "never_starved"),
    ("ready", "set"),
    ("can_drop", "drops"),
)


def test_other_names_all_at_once_are_no_change_of_meaning() -> None:
    """Things, positions, signals, a standing state and the properties themselves."""
    old, new = circuit(), circuit(*RENAMED)
    told = likened(old, new)
    assert told.renaming.things == {
        "lever": "handle",
        "lockout": "guard",
        "brake": "ram",
        "lift": "raise",
    }
    assert told.renaming.places == {
        "gate": {"open": "wide"},
        "lockout": {"open": "wide"},
        "lever": {"hold": "stay", "lift": "raise"},
    }
    assert told.renaming.signals == {"poor": "weak"}
    assert told.renaming.standings == {"ready": "set"}
    assert told.renaming.properties == {"starved": "never_starved", "can_drop": "drops"}
    assert {*told.circuit.properties} == {*new.properties}
    assert shifted(old, new) == set()
    assert alike(old, new)


def test_a_new_name_does_not_hide_another_meaning() -> None:
    """The sentence reads another setting; the renamed things are the same all the same."""
    new = circuit(*RENAMED, ("main < 4.6 bar", "main < 4.5 bar"))
    assert likened(circuit(), new).renaming.properties == {"can_drop": "drops"}
    kept = circuit(*RENAMED[:7], ("main < 4.6 bar", "main < 4.5 bar"))
    assert shifted(circuit(), kept) == {"starved"}


@pytest.mark.parametrize(
    ("one", "other"),
    [("lever", "gate"), ("flow lift", "flow drop"), ("is open", "is shut")],
)
def test_names_that_were_swapped_stay_with_what_has_them(one: str, other: str) -> None:
    """Both circuits have both names, so nothing is taken for the other."""
    new = circuit((one, "(spot)"), (other, one), ("(spot)", other))
    told = likened(circuit(), new)
    assert not told.renaming
    assert not alike(circuit(), new)


def otherwise(one: Circuit) -> Circuit:
    """Everything in it called otherwise."""
    names = [name for kind in KINDS for name in getattr(one, kind)]
    words = (one.signals, one.standings, one.properties)
    told = Renaming(
        {name: f"thing{at}" for at, name in enumerate(names)},
        {name: {each: f"{each}_new" for each in places} for name, places in one.positions.items()},
        *({name: f"{name}_new" for name in each} for each in words),
    )
    return renamed(one, told)


@pytest.mark.parametrize("make", [finite, airy])
def test_random_circuits_with_every_name_another(make: Callable[[Random], Circuit]) -> None:
    """Every thing and position is found again, however alike some are."""
    for seed in range(25):
        one = make(Random(seed))
        assert alike(one, otherwise(one)), seed
        assert shifted(one, otherwise(one)) == set()


@pytest.mark.parametrize("name", ["press", "tram_door"])
def test_a_worked_circuit_with_every_name_another(name: str) -> None:
    """Twins among its parts, a standing chain of readers: each goes with its own."""
    one = load(Path(__file__).parents[2] / "models" / "worked" / f"{name}.circuit").circuit
    new = otherwise(one)
    told = likened(one, new)
    assert {*told.circuit.properties} == {*new.properties}
    assert told.circuit.positions == new.positions
    assert shifted(one, new) == set()
    assert alike(one, new)


def test_no_rule_is_lost_where_another_takes_its_name() -> None:
    """The second rule stays, under the name of the first, which is gone."""
    first = "interlock one\n    lever moves to lift only while gate is shut\n"
    second = "interlock two\n    gate moves to open only while lever is hold\n"
    plain = (
        ('interlock "No lifting through an open gate"\n', ""),
        ("    lever moves to lift only while gate is shut\n", ""),
    )
    old = circuit(*plain, ("signal poor", f"{second}{first}signal poor"))
    new = circuit(*plain, ("signal poor", f"{second.replace('two', 'one')}signal poor"))
    told = likened(old, new).circuit
    assert sorted(lock.control for lock in told.interlocks.values()) == ["gate", "lever"]
    assert not alike(old, new)
    only = circuit(*plain, ("signal poor", f"{second}signal poor"))
    assert alike(only, new)


def test_swapped_positions_are_another_meaning() -> None:
    """What is called open is the shut one now, and everybody reads it so: a watcher is misled."""
    new = circuit(
        ("to open when main >= 5.5", "to (spot) when main >= 5.5"),
        ("to shut when main <= 4.8", "to open when main <= 4.8"),
        ("to (spot)", "to shut"),
        ("lockout: shut, open; starts shut", "lockout: shut, open; starts open"),
        ("lockout is open", "lockout is (spot)"),
        ("lockout is shut", "lockout is open"),
        ("(spot)", "shut"),
    )
    told = likened(circuit(), new)
    assert not told.renaming
    assert told.circuit.devices["lockout"] != new.devices["lockout"]
    found = apart(circuit(), new, Budget(seconds=60.0))
    assert "nothing" not in (found.new.word, found.gone.word)


def test_of_two_that_say_the_same_the_readers_tell_which_is_which() -> None:
    """The order of the text is against it, and what reads them decides."""
    two = "control left: up, down; starts up\ncontrol right: up, down; starts up\n"
    read = "relay both: in while left is down and main >= 1 bar, out otherwise\n"
    more = ("signal poor", f"{two}{read}signal poor")
    names = ("left: up", "a: up"), ("right: up", "b: up"), ("left is", "b is")
    told = likened(circuit(more), circuit(more, *names))
    assert told.renaming.things == {"left": "b", "right": "a"}


def test_a_claim_is_carried_under_its_new_names() -> None:
    """Certificate and sequence stand on the renamed circuit, though a valve's positions turn."""
    old = circuit()
    new = circuit(*RENAMED, ("guard: shut, wide", "guard: wide, shut"))
    told = likened(old, new)
    retold = Retold(old, told.circuit, told.renaming)
    for name in old.properties:
        claim = certified(old, prove(old, name, Budget(seconds=60.0)), 20.0)
        assert claim.word == "holds"
        found = carried(new, told.circuit, retold.verdict(claim), Budget(seconds=60.0))
        assert found is not None
        assert found.way in ("old proof", "old sequence")
        assert found.verdict.property in new.properties


# ---- ways of writing


@pytest.mark.parametrize(
    "edit",
    [
        ("control gate: shut, open", "control gate: open, shut"),
        ("valve lockout: shut, open", "valve lockout: open, shut"),
        ("lever is hold or lockout is shut", "lockout is shut or lever is hold"),
        ("lever is lift and lockout is open", "lockout is open and lever is lift"),
        ("lever is hold or", "lever is hold or lever is hold or"),
        (
            "lever is hold or lockout is shut",
            "not (not lever is hold and not lockout is shut)",
        ),
        ("main >= 5.5 bar", "5.5 bar <= main"),
        ("main < 4.6 bar", "not main >= 4.6 bar"),
    ],
)
def test_the_same_written_otherwise(edit: tuple[str, str]) -> None:
    """No order of positions or members means anything."""
    new = circuit(edit)
    assert shifted(circuit(), new) == set()
    assert alike(circuit(), new)


def test_an_order_that_means_something_is_kept() -> None:
    """Moved one place at a time: turned round as a whole it is the same, shuffled it is not."""
    text = "control knob: low, mid, high; starts low; in that order\n"
    more = ("signal poor", f"{text}signal poor")
    turned = ("low, mid, high", "high, mid, low")
    shuffled = ("low, mid, high", "mid, low, high")
    assert alike(circuit(more), circuit(more, turned))
    assert not alike(circuit(more), circuit(more, shuffled))
    loose = ("; in that order", "")
    assert not alike(circuit(more), circuit(more, loose))
    assert alike(circuit(more, loose), circuit(more, loose, shuffled))


def _condition(rng: Random, depth: int) -> Condition:
    if depth and rng.randrange(4):
        parts = tuple(_condition(rng, depth - 1) for _ in range(rng.randint(1, 3)))
        return rng.choice((AllOf(parts), AnyOf(parts), Not(parts[0])))
    order = rng.choice(tuple(OPPOSITE))
    at, band = Fraction(rng.randrange(3)), Fraction(rng.randrange(2))
    form = form_of({rng.choice(("main", "brake")): Fraction(1)})
    return rng.choice(
        (
            Compare(form, order, at, band),
            At(rng.choice(("lever", "gate")), rng.choice(("hold", "open"))),
            Truth(rng.random() < 0.5),
        )
    )


def test_every_reading_takes_the_normal_form_for_the_same() -> None:
    """May and must, in an instant and over time, as devices, flows and properties read it."""
    whole, rng, changed = circuit(), Random(5), 0
    tables = tables_of(whole)
    start = State({"lever": "hold", "gate": "shut", "lockout": "shut"}, {})
    for _ in range(3000):
        asked = _condition(rng, 3)
        told = normal(asked)
        assert normal(told) == told
        changed += told != asked
        low, high = (
            replace(
                start,
                values={name: Fraction(rng.randrange(9), 2) for name in ("main", "brake")},
                positions={**start.positions, "gate": rng.choice(("shut", "open"))},
            )
            for _ in range(2)
        )
        after = replace(high, positions=low.positions) if rng.randrange(3) else low
        for view in (Instant(tables, low), Inner(tables, low, after)):
            for read in (view.plain, view.passing, view.judged):
                assert read(asked) == read(told), asked
    assert changed > 1000
