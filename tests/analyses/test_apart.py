"""What a watcher could see of a change, on circuits that a person can follow."""

from __future__ import annotations

from dataclasses import replace

import pytest

from airproof.analyses.apart import Laid, apart, laid
from airproof.analyses.onesided import only
from airproof.analyses.renaming import renaming
from airproof.analyses.showing import asked
from airproof.certify.following import follows
from airproof.circuit.kinds import Circuit
from airproof.circuit.renamed import Renaming, renamed
from airproof.circuit.sight import ON_THE_WAY, sight_of
from airproof.engines.budget import Budget
from airproof.evidence.certificate import Invariant
from airproof.evidence.difference import Apart, Showing
from airproof.language import load_text

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
flow lift: main -> brake while lever is lift and lockout is open, choke 3 mm, one way
flow drop: brake -> atmosphere while lever is hold, choke 6 mm
property can_lift "It can lift"
    possible brake >= 5 bar
"""


def circuit(*edits: tuple[str, str], text: str = HOIST) -> Circuit:
    """The hoist with each text replaced by another; what is added stands before the property."""
    for old, new in edits:
        assert text.count(old) >= 1, old
        text = text.replace(old, new)
    return load_text(text, "hoist").circuit


def more(lines: str) -> tuple[str, str]:
    return ("property can_lift", f"{lines}\nproperty can_lift")


def found(old: Circuit, new: Circuit) -> Apart:
    return apart(old, new, Budget(seconds=120.0), combined=False)


def unsearched(old: Circuit, new: Circuit) -> Apart:
    """What is known before anything is searched for."""
    return apart(old, new, Budget(seconds=0.0), combined=False)


def words(one: Apart) -> tuple[str | None, str | None]:
    return one.new.means or one.new.reason, one.gone.means or one.gone.reason


# ---- no difference


def test_a_landmark_that_nothing_watched_depends_on_still_parts_views() -> None:
    """A way into an unwatched cylinder is left out; where it opens is still a side to be on."""
    lines = (
        'circuit low "Low"',
        "supply main: 4.13 bar .. 7 bar",
        "cylinder brake: starts 0 bar",
        "control lever: hold, lift; starts hold",
        "flow lift: main -> brake while lever is lift and main >= 4.15 bar, one way",
        'property low "Low"',
        "    never lift is flowing while main < 4.15 bar",
    )
    text = "\n".join(lines) + "\n"
    old, new = circuit(text=text), circuit(("4.13 bar .. 7 bar", "4.15 bar .. 7 bar"), text=text)
    plan = laid(old, new)
    assert plan.trailing == ("brake", "lift")
    seen = apart(old, new, Budget(seconds=60.0), combined=False)
    assert (seen.new.word, seen.gone.word) == ("nothing", "something")
    wider = circuit(("4.13 bar .. 7 bar", "4.13 bar .. 8 bar"), text=text)
    seen = apart(old, wider, Budget(seconds=2.0), combined=False)
    assert (seen.new.word, seen.gone.word) == ("undecided", "nothing")
    assert seen.new.reason in ("no list within", "time limit")


def test_the_same_text_is_the_same() -> None:
    """Nothing is asked of any solver."""
    assert words(found(circuit(), circuit())) == ("alike", "alike")


@pytest.mark.parametrize(
    "edit",
    [
        ("choke 3 mm", "choke 1 mm"),
        ("supply main: 0 bar .. 8 bar,", "supply main: 0 bar .. 8 bar, rises at most 1 bar/s,"),
        ('"No lifting through an open gate"', '"Gate pin"'),
        ("property can_lift", "signal low: main < 4 bar\nproperty can_lift"),
    ],
)
def test_what_no_run_at_any_speed_depends_on(edit: tuple[str, str]) -> None:
    """Chokes, speeds and titles; how fast is another question."""
    assert words(found(circuit(), circuit(edit))) == ("alike", "alike")


def test_renaming_only_is_no_difference() -> None:
    """Every kind of thing under another name, its readers with it."""
    new = circuit(
        ("lockout", "guard_valve"),
        ("lever", "handle"),
        ("brake", "ram"),
        ("main", "receiver"),
        ("flow lift", "flow raise"),
        ("gate", "fence"),
    )
    told = found(circuit(), new)
    assert words(told) == ("alike", "alike")
    assert told.renamed.things == {
        "lockout": "guard_valve",
        "lever": "handle",
        "brake": "ram",
        "main": "receiver",
        "lift": "raise",
        "gate": "fence",
    }


def test_two_of_a_kind_are_told_apart_by_what_reads_them() -> None:
    """Pairs by their own statements, then in the order of the text; the rest shows it."""
    old = circuit(more("relay one: in while lever is lift, out otherwise"))
    new = circuit(more("relay two: in while lever is lift, out otherwise"))
    assert renaming(old, new) == Renaming({"one": "two"})
    assert renamed(old, Renaming({"one": "two"})).devices["two"] == new.devices["two"]
    assert words(found(old, new)) == ("alike", "alike")


def test_a_renamed_thing_that_is_changed_too_is_another_thing() -> None:
    """Then it is watched in neither, and the report says so."""
    new = circuit(("lockout", "guard_valve"), ("5.5 bar", "6.5 bar"))
    told = unsearched(circuit(), new)
    assert not told.renamed
    assert told.sight.left_out == (("guard_valve", "after"), ("lockout", "before"))


def test_a_rule_that_forbids_nothing_may_go() -> None:
    """What no run can do anyway is no difference; the proof stands up to a fresh solver."""
    rule = 'interlock "Sealed"\n    spare moves to down only while gate is shut'
    spare = "control spare: up, down; starts up; sealed up"
    old, new = circuit(more(f"{spare}\n{rule}")), circuit(more(spare))
    told = found(old, new)
    assert words(told) == ("followed", "followed")
    plan = laid(old, new)
    assert told.new.certificate is not None
    assert follows(plan.now, plan.was, plan.sight, told.new.certificate, 20.0)


def test_a_lamp_that_nothing_reads_is_left_out() -> None:
    """It is in one circuit only, so nobody watches it, and it never holds anything up."""
    lamp = more("relay lamp: lit while lever is lift, dark otherwise")
    told = found(circuit(), circuit(lamp))
    assert words(told) == ("alike", "alike")
    assert told.trailing == ("lamp",)
    assert told.sight.left_out == (("lamp", "after"),)


def test_a_buzzer_is_not_left_out() -> None:
    """It reads where it is itself and never rests while the lever is at lift: no time passes."""
    buzzer = more("relay bell: on while bell is off and lever is lift, off otherwise")
    told = found(circuit(), circuit(buzzer))
    assert told.trailing == ()
    assert told.gone.word != "nothing"


def test_nothing_is_left_out_where_a_stretch_may_end_by_it() -> None:
    """`has gone to` holds as long as nothing moves, and the lamp moves."""
    reset = "relay reset: on while gate has gone to open, off otherwise"
    lamp = "relay lamp: lit while main >= 3 bar, dark otherwise"
    told = unsearched(circuit(more(reset)), circuit(more(f"{reset}\n{lamp}")))
    assert told.trailing == ()


def test_a_cock_that_is_sealed_open_is_no_difference() -> None:
    """What only the new circuit has stays as it starts, and that is enough."""
    cock = more("control cock: open, shut; starts open; sealed open")
    new = circuit(cock, ("lockout is open, choke", "lockout is open and cock is open, choke"))
    told = found(circuit(), new)
    assert words(told) == ("followed", "followed")
    assert told.sight.left_out == (("cock", "after"),)


# ---- differences


def test_a_stiffer_spring_shows_both_ways() -> None:
    """The old valve opens where the new one does not yet; the new one stays shut for longer."""
    told = found(circuit(), circuit(("5.5 bar", "6.5 bar")))
    assert (told.new.word, told.gone.word) == ("something", "something")
    for showing, place in ((told.new, "shut"), (told.gone, "open")):
        last = dict(zip(told.sight.places, showing.scenes[-1].places, strict=True))
        assert last["lockout"] == place
        assert len(showing.scenes) == 1
        assert showing.shortest
    marks = [str(mark) for mark in told.sight.gauges["main"]]
    assert marks == ["47/10", "49/10", "27/5", "28/5", "32/5", "33/5"]
    at = list(told.sight.gauges).index("main")
    assert told.new.scenes[-1].cells[at] >= 2 * 4
    assert told.gone.scenes[-1].cells[at] <= 2 * 5


def test_a_change_and_its_reverse_swap_new_and_gone() -> None:
    """With air, too."""
    new = circuit(
        ("5.5 bar", "6.5 bar"),
        (
            "lever moves to lift only while gate is shut",
            "gate moves to open only while lever is hold",
        ),
    )
    there, back = found(circuit(), new), found(new, circuit())
    assert [there.new.word, there.gone.word] == [back.gone.word, back.new.word]
    assert len(there.new.scenes) == len(back.gone.scenes)
    assert len(there.gone.scenes) == len(back.new.scenes)


def test_without_the_interlock_a_new_combination_is_reached() -> None:
    """The lever at lift behind an open gate: both in one instant before, now at leisure."""
    new = circuit(
        ('interlock "No lifting through an open gate"\n', ""),
        ("    lever moves to lift only while gate is shut\n", ""),
        ("starts shut\nvalve", "starts open\nvalve"),
    )
    old = circuit(("starts shut\nvalve", "starts open; sealed open\nvalve"))
    told = found(old, new)
    assert told.new.word == "something"
    last = dict(zip(told.sight.places, told.new.scenes[-1].places, strict=True))
    assert (last["lever"], last["gate"]) != ("hold", "open")
    assert told.new.standing
    assert told.gone.word == "nothing"


def test_a_device_on_the_way_is_seen() -> None:
    """A moving time makes a view of its own, and that the quick one does not show."""
    slow = (
        "moves to shut when main <= 4.8 bar +- 0.1 bar\n",
        "moves to shut when main <= 4.8 bar +- 0.1 bar\n    moving takes 1 s .. 2 s\n",
    )
    told = found(circuit(), circuit(slow))
    assert told.new.word == "something"
    assert ON_THE_WAY in told.new.scenes[-1].places
    assert told.gone.word == "something"
    at = list(told.sight.places).index("lockout")
    assert [scene.places[at] for scene in told.gone.scenes] == ["open"]  # there from the start
    slower = found(circuit(slow), circuit(slow, ("5.5 bar", "6.5 bar")))
    places = [place for scene in slower.gone.scenes for place in scene.places]
    assert slower.gone.word == "something"
    assert "open" in places or ON_THE_WAY in places


# ---- what is watched


def test_marks_say_what_is_watched() -> None:
    """With marks only those devices and volumes, and every control and supply all the same."""
    lamp = "relay lamp: lit while lockout is open, dark otherwise"
    plain, marked = circuit(more(lamp)), circuit(more(f"{lamp}\nobserve lamp"))
    both = sight_of(plain, plain)
    assert list(both.places) == ["lever", "gate", "lamp"]
    assert list(both.gauges) == ["main", "brake"]
    seen = sight_of(plain, marked)
    assert list(seen.places) == ["lever", "gate", "lamp"]
    assert list(seen.gauges) == ["main"]
    assert list(sight_of(circuit(), circuit()).places) == ["lever", "gate", "lockout"]


def test_what_nobody_watches_may_differ() -> None:
    """Two ways to the brake, of which only one is watched."""
    leak = "flow leak: side -> atmosphere while lever is hold"
    side = f"cylinder side: starts 0 bar\nflow aside: {{0}}\n{leak}\nobserve lockout, brake"
    one = circuit(more(side.format("main -> side while gate is shut, one way")))
    two = circuit(more(side.format("main -> side while gate is open, one way")))
    assert words(found(one, two)) == ("alike", "alike")
    watched = (("observe lockout, brake", "observe side"),)
    seen = found(
        circuit(more(side.format("main -> side while gate is shut, one way")), *watched),
        circuit(more(side.format("main -> side while gate is open, one way")), *watched),
    )
    assert (seen.new.word, seen.gone.word) == ("something", "something")


# ---- proofs that are spoilt


@pytest.fixture(scope="module")
def proved() -> tuple[Laid, Showing]:
    """A direction that is proved by frames or facts with something to say."""
    rule = 'interlock "Low"\n    gate moves to open only while proved is low'
    relay = "relay proved: high while lever is lift, low otherwise"
    locked = 'interlock "Shut"\n    gate is locked in shut while lever is lift'
    old, new = circuit(more(f"{relay}\n{locked}")), circuit(more(f"{relay}\n{locked}\n{rule}"))
    plan = laid(old, new)
    showing = only(plan.now, plan.was, plan.sight, Budget(seconds=120.0))
    assert showing.means == "followed"
    return plan, showing


def test_a_spoilt_certificate_is_refused(proved: tuple[Laid, Showing]) -> None:
    """Without the clause against parting, and with a clause that is not so, it proves nothing."""
    plan, showing = proved
    assert showing.certificate is not None
    clauses = showing.certificate.clauses
    assert follows(plan.now, plan.was, plan.sight, Invariant(clauses), 20.0)
    kept = tuple(c for c in clauses if not any("breached" in str(x.rung) for x in c))
    assert not follows(plan.now, plan.was, plan.sight, Invariant(kept), 20.0)
    turned = tuple(tuple(replace(x, so=not x.so) for x in clause) for clause in clauses)
    assert not follows(plan.now, plan.was, plan.sight, Invariant(turned), 20.0)
    assert not follows(plan.now, plan.was, plan.sight, Invariant(((),)), 20.0)


def test_a_certificate_for_other_circuits_is_refused() -> None:
    """Where the spring differs, no step-by-step proof goes through."""
    plan = laid(circuit(), circuit(("5.5 bar", "6.5 bar")))
    same = laid(circuit(), circuit())
    proof = only(same.was, same.now, same.sight, Budget(seconds=120.0)).certificate
    assert proof is not None
    assert not follows(plan.now, plan.was, plan.sight, proof, 20.0)


def test_out_of_budget_is_undecided() -> None:
    """A search that was cut short says nothing of what there is."""
    plan = laid(circuit(), circuit(("5.5 bar", "6.5 bar")))
    told = only(plan.now, plan.was, plan.sight, Budget(seconds=0.0))
    assert (told.word, told.reason) == ("undecided", "time limit")
    starved = only(plan.now, plan.was, plan.sight, Budget(resource=0))
    assert starved.word == "undecided"


def test_a_list_is_asked_for_and_checked() -> None:
    """Of the difference found, one circuit shows the list and the other is proved not to."""
    plan = laid(circuit(), circuit(("5.5 bar", "6.5 bar")))
    told = only(plan.now, plan.was, plan.sight, Budget(seconds=60.0))
    assert asked(plan.now, plan.sight, told.scenes, Budget(seconds=120.0)).word == "breached"
    claim = asked(plan.was, plan.sight, told.scenes, Budget(seconds=120.0))
    assert (claim.word, claim.certificate is not None) == ("holds", True)
