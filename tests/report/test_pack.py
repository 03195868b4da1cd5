"""The hazard-meeting pack as markup: what it says, and that it says it of what was found."""

from __future__ import annotations

import itertools
import json
import random
import re
import subprocess
import sys
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as Xml

import pytest

from airproof.circuit.kinds import Circuit, Standing
from airproof.circuit.state import State, Step
from airproof.circuit.switching import Moved
from airproof.circuit.without import Thing
from airproof.evidence.dependence import Dependence, Needed
from airproof.evidence.leaning import Lean, Leans
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Verdict
from airproof.language import load
from airproof.report import schematic
from airproof.report.again import mark
from airproof.report.pack import key_of, render
from airproof.report.pack.causes import causes
from airproof.report.pack.decisions import DISPOSITIONS, Decision
from airproof.report.pack.frames import moments_of
from airproof.report.pack.matrix import MATRICES
from airproof.report.pack.testcard import card_of
from airproof.report.results import as_data
from airproof.report.schematic import metrics
from airproof.report.schematic.canvas import Canvas
from airproof.report.schematic.drawing import pieces
from airproof.report.schematic.look import look_at
from circuit.small import is_
from report.packs import (
    BREACH,
    HOSTILE,
    OPEN,
    POSSIBLE,
    PROVED,
    S,
    X,
    by_class,
    hostile,
    long_run,
    pack,
    parsed,
    pressures,
    results,
    unused,
    words,
)
from report.pusher import DOOR_OPEN, GATE_OFF, PEDAL_DOWN, Run, pusher, weak_push

WORKED = Path(__file__).parents[2] / "models" / "worked"


def page(**more: Any) -> Xml.Element:
    """The page of that pack as a tree, which is only to be read."""
    return parsed(render(pack(**more))) if more else _plain_page()


@cache
def _plain_page() -> Xml.Element:
    return parsed(render(pack()))


def chapter(tree: Xml.Element, name: str) -> Xml.Element:
    heads = (e for e in by_class(tree, "chapter"))
    return next(e for e in heads if words(e.find(f"{X}h2")).startswith(f"{name}:"))  # type: ignore[arg-type]


# ---- the first page


def test_the_first_page_says_what_it_is_about() -> None:
    """Circuit, fingerprints of text, properties and tool, and the date."""
    facts = words(by_class(page(), "facts")[0])
    assert "pusher: Kiln-car pusher" in facts
    assert "ab" * 32 in facts
    assert "2026-11-28" in facts
    assert len(re.findall(r"\b[0-9a-f]{64}\b", facts)) == 3


def test_the_verdicts_are_sorted() -> None:
    """Breaches first, then what is undecided, then what holds; each by severity."""
    rows = by_class(page(), "verdicts")[0].findall(f".//{X}tbody/{X}tr")
    told = [(words(row[0]).split()[0], words(row[1])) for row in rows]
    assert told == [
        ("no_weak_push", "✗ breached"),
        ("bell_drops", "? undecided"),
        ("can_push", "✓ possible"),
        ("gate_first", "✓ holds, only if inlet moves at once"),
    ]


def test_severity_sorts_what_holds() -> None:
    """The worst first, whatever the order of the text."""
    of = pusher()
    marked = {"can_push": "catastrophic", "gate_first": "critical", "bell_drops": "negligible"}
    told = {n: replace(p, severity=marked.get(n)) for n, p in of.properties.items()}
    verdicts = [Verdict(name, "holds", "any speed") for name in reversed(list(of.properties))]
    tree = page(of=results(replace(of, properties=told), *verdicts))
    rows = by_class(tree, "verdicts")[0].findall(f".//{X}tbody/{X}tr")
    names = [words(row[0]).split()[0] for row in rows]
    assert names == ["can_push", "gate_first", "bell_drops", "no_weak_push"]


def test_the_scope_is_on_the_first_page() -> None:
    """Assumptions, sizes, temperature, instant devices, faults, starts, and health."""
    first = next(e for e in page().iter() if e.get("id") == "top")
    said = words(first)
    for part in (
        "fed: The mill keeps 1 bar (always main >= 1 bar)",
        "main stays between 0 and 8 bar",
        "cock is sealed open",
        "inlet",
        "volumes without a stated size rise and fall freely: ram",
        "no verdict here rests on a temperature",
        "none was considered",
        "as the circuit starts: 4 properties",
        "warning: no run was found that reaches: gate is up",
        "licensed engineer",
    ):
        assert part in said


def test_standing_states_are_told() -> None:
    """How many properties are judged from each, and from which none is."""
    of = pusher()
    idle = {name: Standing(name, {}, {}) for name in ("cold", "warm")}
    told = {
        n: replace(p, start="cold" if n == "can_push" else None) for n, p in of.properties.items()
    }
    said = words(page(of=results(replace(of, standings=idle, properties=told))))
    assert "from the standing state cold: 1 property" in said
    assert "from the standing state warm: none" in said


def test_an_error_of_health_is_loud() -> None:
    """Nothing is reported as holding then, and the page says so."""
    sick = replace(results().findings[0], weight="error", code="chatter")
    said = words(page(of=replace(results(), findings=(sick,))))
    assert "nothing is reported as holding" in said
    assert "nothing is reported as holding" not in words(page())


# ---- a run


def test_each_moment_has_the_pressures_of_the_json() -> None:
    """Every value of every state, exactly, for each run in the pack."""
    tree, data = page(), as_data(results())
    runs = {e.get("id"): e for e in by_class(tree, "run")}
    assert len(runs) == 3
    entry = next(p for p in data["properties"] if p["name"] == "no_weak_push")
    states = [entry["start"], *(step["state"] for step in entry["sequence"])]
    for run in runs.values():
        shown = pressures(run)
        for name in states[0]["values"]:
            expected = {n: state["values"][name] for n, state in enumerate(states)}
            assert shown[name] == expected, name


def test_the_table_tells_positions_and_the_way_between() -> None:
    """A device on its way is shown between its two positions; what changes is underlined."""
    run = by_class(chapter(page(), "no_weak_push"), "run")[0]
    first = by_class(run, "states")[0]
    rows = {words(row[0]): row for row in first.findall(f".//{X}tbody/{X}tr")}
    gate = [words(cell) for cell in rows["gate"][1:]]
    assert gate[:3] == ["down", "down", "down to up"]
    assert [cell.find(f"{X}u") is not None for cell in rows["gate"][1:4]] == [False, False, True]


def test_a_long_table_is_told_in_parts() -> None:
    """No part has more than seven steps; together they have every step once."""
    sequence = long_run(60)
    run = by_class(page(of=results(None, replace(BREACH, sequence=sequence))), "run")[0]
    parts = by_class(run, "states")
    steps = [[h.get("data-step") for h in t.findall(f".//{X}thead//{X}th")[1:]] for t in parts]
    assert max(map(len, steps)) <= 7
    assert [int(s or "") for part in steps for s in part] == list(range(61))


def test_every_step_has_its_words() -> None:
    """The start's words, those of each item, and the breach at the last."""
    frames = by_class(chapter(page(), "no_weak_push"), "frame")
    said = [words(by_class(frame, "caption")[0]) for frame in frames]
    assert len(said) == len(weak_push().steps) + 1
    assert said[0].startswith("The run starts where")
    assert "stoker moves pedal from up to down" in said[1]
    assert "Breached here, while time passes" in said[-1]
    assert not any("Breached" in one for one in said[:-1])


def test_every_step_says_what_has_moved_and_what_the_drawing_does_not_show() -> None:
    """Exactly what differs from the step before, in bold; the rest that no symbol shows."""
    states = [weak_push().start, *(step.after for step in weak_push().steps)]
    frames = by_class(chapter(page(), "no_weak_push"), "frame")
    assert len(frames) == len(states)
    shown = schematic.Studio(schematic.plan(pusher())).named
    for frame, was, now in zip(frames, [states[0], *states], states, strict=False):
        bold = {words(one) for one in frame.iter(f"{X}b")}
        told = {words(one) for one in by_class(frame, "stand")}
        held = {name: stands(now, name) for name in now.positions}
        moved = {name for name in held if held[name] != stands(was, name)}
        assert {one for one in bold if one.split(":")[0] in held} == {
            f"{name}: {held[name]}" for name in moved
        }
        assert told >= {f"{name}: {held[name]}" for name in held.keys() - shown - moved}
        assert not {one.split(":")[0] for one in told} & (shown | moved)
    assert any(words(one) == "pedal: down" for one in frames[1].iter(f"{X}b"))


def stands(state: State, name: str) -> str:
    left = state.leaving.get(name)
    return f"moving from {left} to {state.positions[name]}" if left else state.positions[name]


def test_order_is_not_called_time() -> None:
    """The axis of a run judged at any speed says that it shows order; one with times shows time."""
    assert "order of happening, not time" in words(by_class(page(), "run")[0])
    timed = replace(
        weak_push(),
        steps=tuple(
            replace(step, duration=1 if step.kind == "elapse" else step.duration)  # type: ignore[arg-type]
            for step in weak_push().steps
        ),
    )
    tree = page(of=results(None, replace(BREACH, sequence=timed)))
    assert "time, in seconds" in words(by_class(tree, "run")[0])


def test_the_plot_has_settings_and_limits() -> None:
    """The inlet's settings, the property's own, and the ends of the main's range."""
    run = by_class(chapter(page(), "no_weak_push"), "run")[0]
    strips = {s.get("aria-label", "").split(" in ")[0]: s for s in by_class(run, "strip")}
    said = strips["main"].get("aria-label") or ""
    for part in ("5.5 inlet to open", "4.8 the property", "8 end of its range", "0: 6", "7: 4.7"):
        assert part in said
    texts = [words(t) for t in strips["main"].iter(f"{S}text")]
    assert any(t.startswith("5.5 inlet to open") for t in texts)
    bands = [r for r in strips["main"].iter(f"{S}rect") if r.get("class") == "band"]
    assert len(bands) == 2


def test_words_at_the_plot_do_not_touch() -> None:
    """Base lines of settings' words lie at least a line apart."""
    for strip in by_class(page(), "strip"):
        at = [
            float(t.get("y") or "")
            for t in strip.iter(f"{S}text")
            if t.get("text-anchor") == "start" and float(t.get("x") or "") > 700
        ]
        gaps = [below - above for above, below in itertools.pairwise(at)]
        assert all(gap >= 1.1 * metrics.SMALL for gap in gaps)


# ---- the drawings


def expanded(tree: Xml.Element, picture: Xml.Element) -> list[str]:
    """A picture with every use replaced by what it uses, as text."""
    known = {e.get("id"): e for e in tree.iter(f"{S}g") if e.get("id")}

    def shapes(element: Xml.Element) -> list[str]:
        found: list[str] = []
        for child in element:
            if child.tag == f"{S}use":
                found += shapes(known[(child.get("href") or "")[1:]])
            else:
                found.append(Xml.tostring(child, encoding="unicode"))
        return found

    return shapes(picture)


def plainly(texts: list[str]) -> list[str]:
    """Without the names of namespaces, in one order."""
    cut = (re.sub(r'\s*xmlns(:\w+)?="[^"]*"|\bns\d+:', "", text) for text in texts)
    return sorted(re.sub(r"\s+", " ", text).replace(" />", "/>") for text in cut)


def drawn(plan: schematic.Plan, circuit: Circuit, moment: schematic.Moment) -> list[str]:
    """Each piece drawn anew."""
    look, found = look_at(circuit, *moment), []
    for piece in pieces(plan):
        pen = Canvas()
        piece(pen, look)
        found += [Xml.tostring(child, encoding="unicode") for child in pen.element]
    return found


def test_each_picture_is_the_drawing_of_its_state() -> None:
    """Piece for piece what the drawing makes of that state by itself; nothing is left over."""
    text = render(pack())
    tree, circuit, sequence = parsed(text), pusher(), weak_push()
    plan = schematic.plan(circuit)
    frames = by_class(chapter(tree, "no_weak_push"), "frame")
    moments = moments_of(circuit, sequence)
    different = set()
    for frame, moment in zip(frames, moments, strict=True):
        picture = next(iter(frame.iter(f"{S}svg")))
        shown = plainly(expanded(tree, picture))
        assert shown == plainly(drawn(plan, circuit, moment))
        different.add(tuple(shown))
    assert len(different) > 4
    assert not unused(text)


def test_air_that_moves_is_drawn_before_a_reading_changes() -> None:
    """A property may be breached there, so people look for it."""
    circuit, start = pusher(), weak_push().start
    moved = replace(start, positions={**start.positions, "pedal": "down", "inlet": "open"})
    run = Sequence(start, (Step("switch", moved), Step("elapse", moved)))
    now = [moving for _, _, moving in moments_of(circuit, run)]
    assert now == [{}, {}, {"push": 1}]


@pytest.mark.parametrize("path", sorted(WORKED.glob("*.circuit")), ids=lambda p: p.stem)
def test_letters_are_printed_large_enough(path: Path) -> None:
    """The smallest of a drawing [pt], from its view box and the room that a page of A4 has."""
    film = schematic.Studio(schematic.plan(load(path).circuit)).still()
    _, _, width, height = (float(number) for number in film.box.split())
    wide, high = {"half": (186, 100), "tall": (194, 235), "broad": (281, 145)}[film.sort]  # [mm]
    letters = metrics.SMALL * min(wide / width, high / height) * 72 / 25.4
    assert letters >= (6 if path.stem in ("winder", "railcar") else 7)


@pytest.mark.parametrize("path", sorted(WORKED.glob("*.circuit")), ids=lambda p: p.stem)
def test_what_is_drawn_once_is_drawn_right(path: Path) -> None:
    """Whatever the circuits' controls, devices and pressures are, in any order of moments."""
    circuit, draw = load(path).circuit, random.Random(7)
    plan = schematic.plan(circuit)
    moments = [_moment(circuit, draw) for _ in range(12)]
    studio = schematic.Studio(plan)
    film = studio.film(circuit, moments)
    page = f"<svg>{studio.shelf.text}{''.join(f'<g>{one}</g>' for one in film.pictures)}</svg>"
    tree = Xml.fromstring(page.replace("<svg>", '<svg xmlns="http://www.w3.org/2000/svg">'))
    for picture, moment in zip(list(tree)[-12:], moments, strict=True):
        assert plainly(expanded(tree, picture)) == plainly(drawn(plan, circuit, moment))


def _moment(circuit: Circuit, draw: random.Random) -> schematic.Moment:
    """Any standing of the circuit, reached or not."""
    positions = {name: draw.choice(places) for name, places in circuit.positions.items()}
    leaving = {
        name: draw.choice(device.positions)
        for name, device in circuit.devices.items()
        if draw.random() < 0.2
    }
    values = {name: Fraction(draw.randint(0, 16), 2) for name in circuit.value_starts}
    timers = {name: draw.choice(("idle", "running", "expired")) for name in circuit.timers}
    fresh = frozenset(name for name in circuit.controls if draw.random() < 0.3)
    state = State(positions, values, leaving, frozenset(), timers, fresh)  # type: ignore[arg-type]
    amounts = {name: Fraction(draw.randint(-2, 2)) for name in circuit.flows if draw.random() < 0.6}
    return state, amounts, {name: draw.randint(-1, 1) for name in circuit.flows}


def test_pictures_have_words_for_who_cannot_see_them() -> None:
    """Each picture is named, and the shelf of definitions is hidden."""
    for svg in page().iter(f"{S}svg"):
        assert svg.get("aria-label") or svg.get("aria-hidden") == "true"


# ---- chapters


def test_what_holds_says_how_to_check_it() -> None:
    """Strength, why, the devices that must be quick with their runs, and the commands."""
    said = words(chapter(page(), "gate_first"))
    assert "holds, any speed" in said
    assert "gate_first holds only if inlet moves at once" in said
    assert "gate_first: breached if inlet is slow" in said
    assert "airproof prove pusher.circuit gate_first --certificates FOLDER" in said
    assert "an invariant of 1 clause (" in said
    assert "1000 random runs" in said


def test_cut_runs_are_not_called_a_thousand() -> None:
    """The number of random runs is that of the verdict."""
    tree = page(of=results(None, replace(PROVED, met=250)))
    assert "250 random runs stayed" in words(chapter(tree, "gate_first"))


def test_what_is_undecided_says_why() -> None:
    """With its reason, and without a record sheet or a test card."""
    part = chapter(page(), "bell_drops")
    assert "no breach within 20 steps" in words(part)
    assert not by_class(part, "sheet")
    assert not by_class(part, "testcard")


def test_breaches_alone_have_record_sheets() -> None:
    """One for the breach; test cards for every sequence, one with a slow device too."""
    tree = page()
    assert [len(by_class(chapter(tree, n), "sheet")) for n in ("no_weak_push", "can_push")] == [
        1,
        0,
    ]
    assert len(by_class(tree, "testcard")) == 3


def test_the_record_sheet_is_filled_from_the_circuit() -> None:
    """Hazard, causes, safeguards, severity; a reason need not be a consequence: that is blank."""
    sheet = words(by_class(page(), "sheet")[0])
    for part in (
        "This is breached: The ram never pushes on a weak main number K-3",
        "Consequences Safeguards in the circuit",
        "stoker: pedal to down",
        "why it is asked: a ram that stalls half way bends the car",
        "No push with the door open",
        "The circuit states the severity: critical",
        key_of(pusher(), weak_push()),
    ):
        assert part in sheet
    for word in DISPOSITIONS:
        assert f"☐ {word}" in sheet


def test_causes_are_grouped_and_counted() -> None:
    """By who does them; what follows by itself is named up to a few, for a sheet has one line."""
    devices = [Thing("device", "gate", f"p{n}") for n in range(3)]
    devices += [Thing("device", f"d{n}", "in") for n in range(4)]
    things = (
        Thing("control", "door", "open"),
        *devices,
        Thing("timer", "bell"),
        Thing("met", "inlet", reader="device", setting=is_("main", ">=", 5)),
    )
    needs = Dependence(7, tuple(Needed(one, "ever") for one in things))
    done = causes(pusher(), weak_push(), None)
    assert done == ("stoker: pedal to down", "what changes: main")
    assert causes(pusher(), weak_push(), Dependence(7, ())) == done
    assert causes(pusher(), weak_push(), needs) == (
        *done,
        "what follows by itself: gate to p0, p1, p2; d0 to in; d1 to in; d2 to in; and 2 more, "
        "under What it depends on",
    )
    spared = (Thing("control", "pedal", "down"),)
    assert causes(pusher(), weak_push(), Dependence(7, (), spared)) == done[1:]
    assert causes(pusher(), weak_push(), Dependence(7, (), spared, exact=False)) == done
    both = (*spared, Thing("value", "main"))
    assert causes(pusher(), weak_push(), Dependence(7, (), both)) == done
    up = Dependence(7, (Needed(Thing("control", "pedal", "up"), "ever"),))
    assert causes(pusher(), long_run(9), up)[0] == "stoker: pedal to up, down"
    again = causes(pusher(), long_run(9), None)
    assert again[0] == "stoker: pedal to down, up"
    assert causes(pusher(), None, None) == ()


SILLY = Decision(
    "no_weak_push",
    "0" * 16,
    "ab" * 32,
    disposition="model wrong",
    because="no <such> key",
    moves=("control pedal up down", "time"),
)


def test_other_sequences_that_were_decided_on() -> None:
    """With what happens in them; that the one told comes after them, or that there is none."""
    tree = page(decisions={"no_weak_push": (SILLY,)})
    table = words(by_class(tree, "others")[0])
    assert "model wrong: no <such> key pedal moves from up to down time passes" in table
    assert "it leaves out a move of each one that was set aside" in words(tree)
    assert "1 other decided" in words(by_class(tree, "verdicts")[0])
    assert "☒" not in words(by_class(tree, "sheet")[0])
    accepted = replace(SILLY, disposition="accepted", moves=())
    told = words(page(decisions={"no_weak_push": (accepted,)}))
    assert "it leaves out a move" not in told
    assert "not in the record" in told
    none = Verdict("no_weak_push", "undecided", reason="time limit", depth=9)
    here = replace(SILLY, sequence=key_of(pusher(), weak_push()))
    told = words(page(decisions={"no_weak_push": (here,)}, none={"no_weak_push": none}))
    assert "there is no other one to tell: the time limit ran out after 9 steps" in told


@pytest.mark.parametrize("name", list(MATRICES))
def test_the_reader_chooses_the_matrix(name: str) -> None:
    """Every cell stands in the sheet, and the stated severity is marked."""
    matrix = MATRICES[name]
    table = by_class(page(matrix=matrix), "matrix")[0]
    shown = [[words(c) for c in row] for row in table.findall(f".//{X}tbody/{X}tr")]
    assert shown == [[row, *cells] for row, cells in matrix.rows]
    marked = [words(h) for h in by_class(table, "stated") if h.tag == f"{X}th"]
    assert marked == [f"{matrix.severities['critical']} (as stated)"]


def test_classes_one_to_four() -> None:
    """The cells of the risk classes.

    Source: systemsafety.com, page e_riskrating, ALARP classes I to IV, four severities from
    catastrophic to negligible.
    """
    found = dict(MATRICES["classes"].rows)
    assert found == {
        "frequent": ("I", "I", "I", "II"),
        "probable": ("I", "I", "II", "III"),
        "occasional": ("I", "II", "III", "III"),
        "remote": ("II", "III", "III", "IV"),
        "improbable": ("III", "III", "IV", "IV"),
        "incredible": ("IV", "IV", "IV", "IV"),
    }


def test_the_test_card_reads_like_the_sequence() -> None:
    """Who does what, what to look for, readings with the settings they lie between."""
    card = by_class(chapter(page(), "no_weak_push"), "testcard")[0]
    said = words(card)
    assert "pedal: up" in said
    assert "move pedal from up to down (stoker)" in said
    assert "inlet moves from shut to open" in said
    assert "gate leaves down for up" in said
    assert "lower main to 5.6 bar" in said
    assert "main 5.4 bar (at an edge of 5.5 bar +- 0.1 bar: inlet to open)" in said
    assert "main 4.8 bar (at 4.8 bar: the property)" in said
    assert "main 4.7 bar (at an edge of 4.8 bar +- 0.1 bar: inlet to shut)" in said
    assert "main 6 bar above 5.6 bar" in said
    assert "wheel 0 bar no setting of its own" in said
    assert said.count("air moves through push from main to ram") == 1
    assert "()" not in said
    assert "If the circuit is right: some step does not come about, or at the last step:" in said
    assert "Undecided" not in said


def test_the_card_of_a_possibility_ends_in_two_ways() -> None:
    """What is asked comes about; or it does not, and then the sequence is not real."""
    said = words(by_class(chapter(page(), "can_push"), "testcard")[0])
    done, not_real = said.split("If it can be done: ")[1].split(" If the sequence is not real: ")
    assert done == "every step comes about and at the last one: ram >= 3 bar."
    assert "some step does not come about, or at the last step not: ram >= 3 bar." in not_real
    assert "If the circuit is right" not in said


def bell_rings() -> Sequence:
    """The gate arrives and the bell expires after times that are none of the stated ones."""
    run = Run(pusher(), main=6)
    run.switch(PEDAL_DOWN, DOOR_OPEN).switch(GATE_OFF).elapse(1, {"bell": "running"})
    run.switch(Moved("arrives", "gate", "down", "up"))
    run.switch(Moved("timer expires", "bell", "running", "expired")).elapse(9)
    return Sequence(run.start, tuple(run.steps))


@pytest.mark.parametrize("certain", [True, False])
def test_stated_times_stand_where_a_sequence_has_its_own(certain: bool) -> None:
    """What is awaited is told with its stated time; an undecided card gives no time as an order."""
    of = pusher()
    card = card_of(of, bell_rings(), of.properties["bell_drops"], certain=certain)
    assert card.lines[2].does == (
        "wait for step 4: gate arrives at up (stated: moving takes 1 s .. 2 s); "
        "step 5: bell expires (stated: after 2 s .. 2.5 s)",
        "1 s in the sequence",
    )
    last = "wait 9 s" if certain else "let time pass, 9 s in the sequence"
    assert card.lines[-1].does == (last,)


def test_an_undecided_card_says_so() -> None:
    """On top, with what is not judged."""
    run = replace(OPEN, reason="needs sizes", sequence=bell_rings())
    said = words(by_class(page(of=results(None, run)), "testcard")[0])
    assert said.startswith("Test card: bell_drops Undecided: this property is neither proved nor")


def test_steps_and_the_story_point_to_each_other() -> None:
    """Where a stretch of time has several steps, each says which number of the story it is."""
    run = by_class(chapter(page(), "no_weak_push"), "run")[0]
    heads = [words(frame.find(f"{X}h4")) for frame in by_class(run, "frame")]  # type: ignore[arg-type]
    assert heads[0] == "Step 0 of 7, at the start"
    assert heads[2] == "Step 2 of 7, in no time (number 2 above)"
    assert heads[4] == "Step 4 of 7, time passes (number 3 above, part 2 of 5)"
    told = [words(one) for one in by_class(by_class(run, "story")[0], "small")]
    assert told == ["(step 1)", "(step 2)", "(steps 3 to 7)"]


def test_what_must_move_at_once_goes_with_the_verdict() -> None:
    """In the table of verdicts and on the property's own page; the strength claims no more."""
    tree = page()
    at_once = "holds, only if inlet moves at once"
    assert at_once in words(by_class(tree, "verdicts")[0])
    assert at_once in words(by_class(chapter(tree, "gate_first"), "facts")[0])
    assert "devices without a moving time are taken to move at once" in words(tree)
    slow = tuple(replace(PROVED.retried[0], device=f"d{n}") for n in range(4))
    assert mark(replace(PROVED, retried=slow)) == "only if each of 4 devices moves at once"
    assert mark(POSSIBLE) == ""


def test_every_sequence_has_a_test_card() -> None:
    """Also one that needs a slow device, and it says so."""
    tree = chapter(page(), "gate_first")
    cards = by_class(tree, "testcard")
    assert len(cards) == len(by_class(tree, "run"))
    said = words(cards[0])
    assert "Test card: gate_first: breached if inlet is slow" in said
    assert "This needs inlet to be slow: where it moves at once, some step does not come" in said


# ---- decisions


def decided(**more: object) -> Decision:
    made = Decision("no_weak_push", key_of(pusher(), weak_push()), "ab" * 32)
    return replace(made, **more)  # type: ignore[arg-type]


def test_a_decision_fills_the_sheet() -> None:
    """What was decided is ticked and written; the first page says it, too."""
    made = decided(
        disposition="not credible because",
        because="the main never <falls> so",
        owner="M. Ortiz",
        signatures=("A", "B"),
    )
    tree = page(decisions={"no_weak_push": (made,)}, record="hazards.toml")
    sheet = words(by_class(tree, "sheet")[0])
    for part in ("☒ not credible because", "☐ accepted", "the main never <falls> so", "M. Ortiz"):
        assert part in sheet
    assert "not credible because" in words(by_class(tree, "verdicts")[0])
    assert "Out of date" not in sheet


def test_an_old_decision_is_out_of_date() -> None:
    """It is told with what has changed, and ticks nothing."""
    made = decided(disposition="accepted", date="2025-01-01", changes=("was: a", "is:  b"))
    tree = page(decisions={"no_weak_push": (made,)})
    sheet = words(by_class(tree, "sheet")[0])
    assert "Out of date: on 2025-01-01 it was decided: accepted" in sheet
    assert "was: a is: b" in sheet
    assert "☒" not in sheet
    assert "out of date" in words(by_class(tree, "verdicts")[0])


# ---- whatever the texts hold


@pytest.mark.parametrize("text", HOSTILE)
def test_texts_show_as_text(text: str) -> None:
    """The page stays well-formed, has no other element for it, and shows it in each place."""
    plain = page()
    tree = page(of=results(hostile(text)))
    tags = [e.tag for e in plain.iter() if isinstance(e.tag, str)]
    with_text = [e.tag for e in tree.iter() if isinstance(e.tag, str)]
    assert {*with_text} == {*tags}
    for tag in (f"{X}script", f"{X}style"):
        assert with_text.count(tag) == tags.count(tag)
    shown = " ".join(text.split())
    assert shown in words(by_class(tree, "verdicts")[0])
    assert shown in words(by_class(tree, "sheet")[0])
    assert shown in words(next(e for e in tree.iter() if e.get("id") == "circuit"))


def test_signs_that_steer_a_screen_do_not() -> None:
    """A mark that turns the reading direction is shown as a question mark."""
    text = render(pack(results(hostile("a\u202eb\u0007c"))))
    assert "\u202e" not in text
    assert "\u0007" not in text
    assert "a?b?c" in text


# ---- the whole


def test_the_same_pack_is_the_same_text() -> None:
    """In another process with another seed of hashes, too."""
    code = "import sys; from report.packs import *; sys.stdout.write(render(pack()))"
    made = [
        subprocess.run(
            [sys.executable, "-c", code],
            env={"PYTHONPATH": ":".join(sys.path), "PYTHONHASHSEED": seed, "PYTHONUTF8": "1"},
            capture_output=True,
            check=True,
        ).stdout.decode()
        for seed in ("1", "2")
    ]
    assert made[0] == made[1] == render(pack())


def test_nothing_is_fetched() -> None:
    """No address of another file or host; the page forbids its browser to ask for any."""
    text = render(pack())
    without = text.replace("http://www.w3.org/2000/svg", "")
    assert not re.search(r"https?://|@import|url\(|src=|<link", without)
    ends = [e.get("href") or "" for e in parsed(text).iter() if e.get("href") is not None]
    assert len(ends) > 20
    assert all(end.startswith("#") for end in ends)
    assert "default-src 'none'" in text


def test_links_lead_somewhere() -> None:
    """Each name is given once, and each link inside the page has its end."""
    tree = page()
    names = [e.get("id") for e in tree.iter() if e.get("id")]
    assert len(set(names)) == len(names)
    ends = [(e.get("href") or "")[1:] for e in tree.iter() if (e.get("href") or "").startswith("#")]
    assert set(ends) <= set(names)
    for e in tree.iter():
        for label in (e.get("aria-labelledby") or "").split():
            assert label in names


def test_headings_and_tables_are_real() -> None:
    """No heading level is skipped; every table has a caption and headers with a scope."""
    tree = page()
    levels = [
        int(e.tag[-1]) for e in tree.iter() if re.fullmatch(rf"{re.escape(X)}h\d", str(e.tag))
    ]
    assert levels[0] == 1
    assert all(b - a <= 1 for a, b in itertools.pairwise(levels))
    for table in tree.iter(f"{X}table"):
        assert table.find(f"{X}caption") is not None
        heads = list(table.iter(f"{X}th"))
        assert heads
        assert all(h.get("scope") in ("row", "col") for h in heads)


def test_a_pack_with_one_verdict_only() -> None:
    """Each kind by itself makes a page."""
    for one in (BREACH, POSSIBLE, PROVED, OPEN, Verdict("can_push", "breached", "any speed")):
        tree = page(of=results(None, one))
        assert len(by_class(tree, "chapter")) == 1


def test_no_run_is_told_where_there_is_none() -> None:
    """A possibility that nothing reaches has a sheet without a sequence."""
    tree = page(of=results(None, Verdict("can_push", "breached", "any speed")))
    assert "no run of any length reaches it" in words(chapter(tree, "can_push"))
    assert "no sequence" in words(by_class(tree, "sheet")[0])
    leans = Leans((Lean("control", "pedal", "starts"),), ())
    proved = replace(PROVED, property="can_push", word="breached", retried=(), leans=leans)
    said = words(chapter(page(of=results(None, proved)), "can_push"))
    assert "Why no run reaches it" in said
    assert "it excludes what is asked" in said
    assert "Why it holds" not in said


def test_the_matrix_of_the_results_is_not_needed(tmp_path: Path) -> None:
    """The JSON of the same results is still as it was: a pack changes nothing."""
    before = json.dumps(as_data(results()))
    render(pack())
    assert json.dumps(as_data(results())) == before
