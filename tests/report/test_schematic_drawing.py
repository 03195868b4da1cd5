"""What a drawing shows: names, symbols, positions, pressures and where air moves."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from xml.etree import ElementTree as Xml

import pytest

from airproof.circuit.conditions import At
from airproof.circuit.kinds import Circuit, Flow, Standing, Supply, Volume
from airproof.circuit.state import State
from airproof.language import load, load_text
from airproof.report.schematic import draw, metrics, plan
from airproof.report.schematic.canvas import clean
from airproof.resources import folder
from circuit.small import band, control, flow, state, supply, volume
from circuit.small import circuit as assembled
from report.geometry import SVG, Picture, complaints

WORKED = sorted((folder("models") / "worked").glob("*.circuit"))

HOIST = """circuit hoist "A hoist"
supply main: 0 bar .. 8 bar, starts 6 bar
cylinder brake: 4 litre +- 5 %, starts 0 bar, drawing "B-1" item 3
control lever: stop, lift; starts stop; worked by hoistman
valve guard: shut, open; starts shut; moving takes 0.1 s .. 0.2 s
    moves to open when main >= 5 bar +- 0.1 bar
    moves to shut when main <= 4 bar +- 0.1 bar
flow feed: main -> brake while lever is lift and guard is open, choke 3 mm +- 10 %, one way
flow vent: brake -> atmosphere while lever is stop, choke 6 mm
state lifted: main = 7 bar, brake = 5 bar, lever is lift, guard is open
state falling: main = 7 bar, brake = 5 bar, lever is stop, guard is open
"""


def hoist() -> Circuit:
    return load_text(HOIST).circuit


def stout(text: str) -> set[str]:
    """The titles of the lines that are drawn stout."""
    found = set()
    for group in Xml.fromstring(text).iter(f"{SVG}g"):
        if group.get("class") == "line" and group.find(f"{SVG}polyline[@class='w']") is not None:
            title = group.find(f"{SVG}title")
            found.add((title.text or "") if title is not None else "")
    return found


def named(circuit: Circuit) -> list[str]:
    """Everything of a circuit that has a name and a place in the machine."""
    shelves = (
        *(circuit.supplies, circuit.volumes, circuit.controls, circuit.range_controls),
        *(circuit.devices, circuit.timers, circuit.flows, circuit.quantities, circuit.interlocks),
    )
    return [name for shelf in shelves for name in shelf]


# ---- whole pictures


@pytest.mark.parametrize("path", WORKED, ids=lambda path: path.stem)
def test_everything_appears_by_name(path: Path) -> None:
    """Every component stands in the picture, in a text or in the title of a symbol or line."""
    circuit = load(path).circuit
    words = Picture(draw(plan(circuit))).words()
    missing = [name for name in named(circuit) if not re.search(rf"(?<![\w.]){name}(?!\w)", words)]
    assert missing == []


@pytest.mark.parametrize("path", WORKED, ids=lambda path: path.stem)
def test_the_same_text_gives_the_same_bytes(path: Path) -> None:
    """Two plans of one circuit are drawn alike."""
    assert draw(plan(load(path).circuit)) == draw(plan(load(path).circuit))


def test_what_stays_where_it_is() -> None:
    """Lines, cards and names of places stand alike in every state; only what they show changes."""
    made = plan(hoist())
    pictures = [Picture(draw(made, standing=name)) for name in (None, "lifted", "falling")]
    for one, other in itertools.pairwise(pictures):
        assert [line.ends for line in one.lines] == [line.ends for line in other.lines]
        assert one.cards == other.cards
        assert one.paper == other.paper


def test_an_empty_circuit_is_a_sheet_with_its_title() -> None:
    """Nothing to draw is no error."""
    text = draw(plan(Circuit("bare", "Nothing in it")))
    assert "bare: Nothing in it" in Picture(text).words()
    assert complaints(text) == []


def test_it_says_what_it_is() -> None:
    """The picture has a role, a title and a description for those who cannot see it."""
    root = Xml.fromstring(draw(plan(hoist()), standing="lifted"))
    assert root.get("role") == "img"
    assert root[0].text == "hoist: A hoist"
    assert "lifted" in (root[1].text or "")


# ---- symbols and settings


def test_settings_stand_beside_the_symbols() -> None:
    """Sizes with their tolerance, chokes, the settings of a pilot, and the drawing's number."""
    words = Picture(draw(plan(hoist()))).words().split("\n")
    for said in ("4 litre +- 5 %", "3 mm +- 10 %", "6 mm", ">= 5 bar", "<= 4 bar", "B-1 item 3"):
        assert said in words, said


def test_a_pilot_is_dashed_and_an_exhaust_is_a_triangle() -> None:
    """The guard reads the main pressure; the brake is vented at its valve, by no long line."""
    text = draw(plan(hoist()))
    root = Xml.fromstring(text)
    assert root.findall(f".//{SVG}polyline[@class='pilot']")
    vents = [g for g in root.iter(f"{SVG}g") if g.get("data-name") == "atmosphere"]
    assert len(vents) == 1
    assert vents[0].find(f"{SVG}polygon") is not None


def test_one_lever_with_two_flows_is_one_valve() -> None:
    """Flows that one control switches at one place become one valve with a square a position."""
    text = draw(plan(hoist()))
    root = Xml.fromstring(text)
    lever = [g for g in root.iter(f"{SVG}g") if g.get("data-name") == "lever"]
    squares = [len(g.findall(f"{SVG}rect")) for g in lever if g.get("class") == "symbol"]
    assert max(squares) == 2
    assert "stop | lift" in Picture(text).words()


@pytest.mark.parametrize(
    ("statement", "shapes"),
    [
        ("double check valve k: a and b to c", {"circle": 1, "rect": 1, "polyline": 6}),
        ("quick-exhaust valve k: a to b, exhaust atmosphere", {"circle": 1, "polygon": 1}),
        ("self-lapping valve k: a -> b, exhaust atmosphere, follows c", {"rect": 5}),
    ],
    ids=["double check", "quick exhaust", "self-lapping"],
)
def test_kinds_are_put_together_again(statement: str, shapes: dict[str, int]) -> None:
    """A valve that the language takes apart is one symbol, and its flows are no others."""
    places = "".join(f"pipe {name}: 1 litre, starts 0 bar\n" for name in "abc")
    text = draw(
        plan(load_text(f'circuit k "k"\nsupply s: 1 bar .. 2 bar\n{places}{statement}\n').circuit)
    )
    symbols = [g for g in Xml.fromstring(text).iter(f"{SVG}g") if g.get("data-name") == "k"]
    counted = {shape: sum(len(g.findall(f"{SVG}{shape}")) for g in symbols) for shape in shapes}
    assert counted == shapes
    assert not re.search(r'data-name="k\.(1|2)"', text)


def test_a_reducing_and_a_relief_valve_have_a_spring_and_a_pilot() -> None:
    """Each is a square with a spring; its pilot is dashed from the side that it reads."""
    text = """circuit r "r"
supply s: 0 bar .. 9 bar
pipe a: 1 litre, starts 0 bar
reducing valve low: s -> a, set to 5 bar
relief valve pop: a -> atmosphere, opens at 6 bar +- 0.1 bar, shuts at 5.5 bar
"""
    drawn = draw(plan(load_text(text).circuit))
    symbols = [
        g for g in Xml.fromstring(drawn).iter(f"{SVG}g") if g.get("data-name") == "pressure valve"
    ]
    assert len(symbols) == 2
    assert all(g.find(f"{SVG}polyline[@class='pilot']") is not None for g in symbols)
    words = Picture(drawn).words()
    for said in ("< 5 bar", "opens at >= 6 bar", "shuts at <= 5.5 bar"):
        assert said in words


# ---- states


def test_as_it_starts_pressures_are_bands() -> None:
    """What may start anywhere is shown so."""
    circuit = load_text(HOIST.replace(", starts 6 bar", "")).circuit
    assert "0 .. 8 bar" in Picture(draw(plan(circuit))).words()


def test_a_standing_state_shows_its_positions_and_pressures() -> None:
    """The pinned pressures, the lever where it was put, and its square in line."""
    made = plan(hoist())
    words = Picture(draw(made, standing="lifted")).words().split("\n")
    assert {"7 bar", "5 bar", "is lift", "is open"} <= set(words)
    assert "is stop" not in words


def test_air_moves_where_a_way_is_open_and_downhill() -> None:
    """Lifted: the feed; falling: the vent, which is no line of its own but ends at the valve."""
    made = plan(hoist())
    assert stout(draw(made, standing="lifted")) == {"feed", "feed, vent"}
    assert stout(draw(made, standing="falling")) == {"feed, vent"}
    assert stout(draw(made)) == set()


def test_amounts_of_a_step_decide_where_air_moved() -> None:
    """With a step's amounts only what moved is stout, and the amount can be read."""
    circuit = hoist()
    made = plan(circuit)
    now = state(circuit, {"lever": "lift", "guard": "open"}, {"main": 7, "brake": 5})
    assert stout(draw(made, now)) == {"feed", "feed, vent"}
    assert stout(draw(made, now, {})) == set()
    text = draw(made, now, {"feed": Fraction(3, 2)})
    assert stout(text) == {"feed", "feed, vent"}
    assert "feed: 1.5 bar.litre moved" in Picture(text).words()


def test_a_device_on_the_way_is_between_its_squares() -> None:
    """Its words say so, and no square is in line."""
    circuit = hoist()
    now = state(circuit, {"lever": "lift", "guard": "open"}, {"main": 7}, leaving={"guard": "shut"})
    words = Picture(draw(plan(circuit), now)).words()
    assert "is moving" in words
    assert "is moving from shut to open" in words


def test_air_that_goes_back_points_back() -> None:
    """A two-way flow whose target is higher has its heads the other way round."""
    circuit = assembled(volume("a", band(1, 1)), volume("b", band(1, 1)), flow("way", "a", "b"))
    made = plan(circuit)
    ways = [draw(made, state(circuit, values={"a": a, "b": b})) for a, b in ((3, 1), (1, 3))]
    assert ways[0] != ways[1]
    assert stout(ways[0]) == stout(ways[1]) == {"way"}
    heads = [_heads(text) for text in ways]
    assert heads[0]
    assert [(tip > back) for tip, back in heads[0]] == [True] * len(heads[0])
    assert [(tip < back) for tip, back in heads[1]] == [True] * len(heads[1])


def _heads(text: str) -> list[tuple[float, float]]:
    """The x of the tip and of the back of each filled head."""
    found = []
    for head in Xml.fromstring(text).iter(f"{SVG}polygon"):
        if head.get("class") == "f":
            xs = [float(pair.split(",")[0]) for pair in head.attrib["points"].split()]
            found.append((xs[0], xs[1]))
    return found


# ---- names

HOSTILE = (
    "<script>alert(1)</script>",
    "a & b \"quoted\" 'single'",
    "]]><!-- &amp; &#0;",
    "\u05d1\u05dc\u05dd \u05d7\u05d9\u05e8\u05d5\u05dd",
    "\u0627\u0644\u0645\u0643\u0628\u062d \u202e reversed",
    "\u5236\u52d5\u30b7\u30ea\u30f3\u30c0" * 4,
    "bell \x07 and nothing \x00 and half \ud800",
    "name_" * 200,
)


@pytest.mark.parametrize("name", HOSTILE, ids=range(len(HOSTILE)))
def test_any_name_stands_as_text(name: str) -> None:
    """Whatever a name holds is text, whole or cut short with the whole of it in a title."""
    circuit = Circuit(
        name,
        name,
        supplies={name: Supply(name, band(0, 8), band(0, 8))},
        volumes={"v": Volume("v", "reservoir", None, band(0, 0))},
        controls={f"{name} c": control(f"{name} c", "p", name)},
        flows={f"{name} f": Flow(f"{name} f", name, "v", At(f"{name} c", name))},
        drawings={"v": name},
    )
    text = draw(plan(circuit))
    words = Picture(text).words()
    for each in (name, f"{name} c", f"{name} f"):
        assert clean(each) in words
    assert not re.search(r"<script|<!--", text)
    assert complaints(text) == []


def test_a_long_name_is_cut_and_kept_in_the_title() -> None:
    """What is too long for its place ends in three dots; whoever points at it reads all of it."""
    long = "v" + "_very_long" * 6
    circuit = assembled(supply("main"), volume(long), flow("fill", "main", long))
    root = Xml.fromstring(draw(plan(circuit)))
    cut = [t for t in root.iter(f"{SVG}text") if (t.text or "").endswith("...")]
    assert cut
    assert any((title.text == long) for t in cut for title in t.iter(f"{SVG}title"))


def test_a_title_too_long_for_one_line_is_told_in_two() -> None:
    """The name above, the rest below it in small letters, with the standing state."""
    title = "a door with a bolt, an edge that feels, a handle for emergencies"
    of = replace(assembled(supply("main"), volume("v")), name="tram", title=title)
    text = draw(
        plan(replace(of, standings={"up": Standing("up", {}, {"v": Fraction(1)})})), standing="up"
    )
    words = [one.text for one in Xml.fromstring(text).iter(f"{SVG}text")]
    assert words[:2] == ["tram", f"as in the standing state up; {title}"]
    assert complaints(text) == []


def test_a_shortened_text_fits() -> None:
    """Never wider than asked, and as long as it can be."""
    text = "lockout_of_the_lower_incline"
    for most in range(20, 200, 7):
        shown = metrics.shortened(text, metrics.SMALL, most)
        assert metrics.width(shown, metrics.SMALL) <= most or shown == "..."
        if shown != text:
            longer = text[: len(shown) - 2] + "..."
            assert metrics.width(longer, metrics.SMALL) > most


def test_a_state_of_another_circuit_is_no_state() -> None:
    """A state that lacks a name is an error of the caller, not half a picture."""
    with pytest.raises(KeyError):
        draw(plan(hoist()), replace(State({}, {})))
