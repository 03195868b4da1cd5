"""Lists of views: that a shorter one does not tell, and that the search tries what matters."""

from __future__ import annotations

from dataclasses import replace

import pytest

from airproof.analyses.apart import Laid, laid
from airproof.analyses.onesided import FIRST, only
from airproof.analyses.settling import settled
from airproof.analyses.shorter import shorter
from airproof.certify.following import follows
from airproof.circuit.affected import concerned
from airproof.circuit.sight import narrowed
from airproof.engines.budget import Budget
from airproof.engines.hunting import Hunt
from airproof.engines.parting import Parting
from airproof.evidence.certificate import Invariant
from airproof.language import load_text

YARD = """circuit yard "Yard"
supply main: 0 bar .. 8 bar, starts 0 bar .. 8 bar
control lever: hold, lift; starts hold
control gate: shut, open; starts shut
control horn: off, on; starts off
valve lockout: shut, open; starts shut
    moves to open when main >= 5 bar
    moves to shut when main < 4 bar
interlock pin "No lifting through an open gate"
    lever moves to lift only while gate is shut
property closes "It shuts"
    never lockout is open while main < 3 bar
"""


def plan(*edits: tuple[str, str], text: str = YARD) -> Laid:
    """The yard beside the yard with each text replaced by another."""
    changed = text
    for old, new in edits:
        assert changed.count(old) == 1, old
        changed = changed.replace(old, new)
    return laid(load_text(text, "yard").circuit, load_text(changed, "yard").circuit)


@pytest.fixture(scope="module")
def unpinned() -> Laid:
    """Without the rule: the lever is put to lift behind a gate that stood open before."""
    return plan(("    lever moves to lift only while gate is shut\n", ""), (PIN, ""))


PIN = 'interlock pin "No lifting through an open gate"\n'


def test_one_view_is_not_enough_and_that_is_proved(unpinned: Laid) -> None:
    """At first the gate may open in the same instant behind the lever; later on it may not."""
    told = only(unpinned.now, unpinned.was, unpinned.sight, Budget(seconds=60.0))
    assert (told.word, len(told.scenes)) == ("something", 2)
    assert (told.excluded, told.shortest) == (1, True)
    at = list(unpinned.sight.places).index("gate")
    assert [scene.places[at] for scene in told.scenes] == ["open", "open"]


@pytest.mark.parametrize(
    "edits",
    [
        (("starts 0 bar .. 8 bar", "starts 4.5 bar .. 8 bar"),),
        (("main < 4 bar", "main < 4.5 bar"),),
    ],
)
def test_a_list_that_one_view_of_would_do_is_made_shorter(edits: tuple[tuple[str, str]]) -> None:
    """Asked about lists below three views, the single view is found instead."""
    text = YARD.replace("shut, open; starts shut\n    moves", "shut, open; starts open\n    moves")
    two = plan(*edits, text=text)
    less = shorter(two.was, two.now, two.sight, 3, Budget(seconds=60.0))
    assert (less.excluded, len(less.scenes)) == (0, 1)
    assert less.claim is not None
    assert less.claim.word == "holds"
    assert less.claim.certificate is not None


def test_lists_that_differ_in_nothing_that_matters_are_tried_once(unpinned: Laid) -> None:
    """The horn and the supply have no part in the difference, the gate is read by it."""
    names = concerned(unpinned.now, unpinned.was)
    assert {"lever", "gate"} <= names
    assert not names & {"main", "horn", "lockout"}
    apart = narrowed(unpinned.sight, names)
    limits = Budget(resource=30_000_000)
    hunt = Hunt(unpinned.now, unpinned.was, unpinned.sight, limits, aimed=False, apart=apart)
    seen = set()
    for _ in range(FIRST.lists):
        scenes = hunt.next(2, 8)
        if not isinstance(scenes, tuple):
            break
        seen.add(tuple(scene.places[:2] for scene in scenes))
        hunt.block(scenes)
    assert (("hold", "open"), ("lift", "open")) in seen


BELL = """timer late: runs while horn is on; expires after 1 s .. 2 s
relay bell: on while late has expired, off otherwise
property closes"""


def test_a_proof_about_first_views_is_no_proof_about_all() -> None:
    """A timer expires only once time has passed: refused for all views, and where it is spoilt."""
    text = YARD.replace("property closes", BELL)
    two = plan(("late has expired,", "late has expired and gate is shut,"), text=text)
    parts = (two.now, two.was, two.sight)
    proofs = Parting(*parts, Budget(seconds=60.0), 1)
    proof = proofs.facts() or proofs.frames(4_000_000)
    assert proof is not None
    assert follows(*parts, proof, 20.0, 1)
    assert not follows(*parts, proof, 20.0)
    assert not follows(*parts, proof, 20.0, 2)
    kept = (c for c in proof.clauses if not any("breached" in str(x.rung) for x in c))
    assert not follows(*parts, Invariant(tuple(kept)), 20.0, 1)
    turned = tuple(tuple(replace(x, so=not x.so) for x in clause) for clause in proof.clauses)
    assert not follows(*parts, Invariant(turned), 20.0, 1)


def test_combinations_are_counted_out() -> None:
    """A relay that drops out with the gate no longer stands beside an open one."""
    relay = "relay eye: seen while gate is shut, lost otherwise\nproperty closes"
    one = YARD.replace("property closes", relay)
    two = plan(("seen while gate is shut", "seen while gate is open"), text=one)
    told = settled(two.was, two.now, two.sight, Budget(seconds=60.0))
    assert told.complete
    assert told.whole
    gate, eye = (told.names.index(name) for name in ("gate", "eye"))
    new = {(x.places[gate], x.places[eye]) for x in told.found if x.word == "new"}
    gone = {(x.places[gate], x.places[eye]) for x in told.found if x.word == "gone"}
    assert new == {("open", "seen"), ("shut", "lost")}
    assert gone == {("open", "lost"), ("shut", "seen")}
    assert all(x.proved for x in told.found)


def test_too_many_combinations_are_not_passed_over_in_silence() -> None:
    """What the difference bears on is combined first; what was left out is told by `whole`."""
    rows = "".join(f"control c{n}: off, on; starts off\n" for n in range(8))
    text = YARD.replace("control horn", f"{rows}control horn")
    two = plan(("    lever moves to lift only while gate is shut\n", ""), (PIN, ""), text=text)
    told = settled(two.was, two.now, two.sight, Budget(seconds=0.5))
    assert not told.whole
    assert "lever" in told.names
    assert len(told.names) == 7
