"""Nothing lies on anything: read back from the pictures of worked and of random circuits."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from random import Random

import pytest

from airproof.circuit.kinds import Circuit
from airproof.circuit.state import State
from airproof.language import load, load_text
from airproof.report.schematic import draw, plan
from airproof.resources import folder
from report.geometry import Picture, complaints
from report.sketching import sketch

WORKED = sorted((folder("models") / "worked").glob("*.circuit"))
SEEDS = range(200)
MOST = 40  # components


def test_there_are_worked_circuits() -> None:
    """The glob below finds them."""
    assert len(WORKED) >= 5


@pytest.mark.parametrize("path", WORKED, ids=lambda path: path.stem)
def test_a_worked_circuit_has_no_overlaps(path: Path) -> None:
    """As it starts, in each standing state, and without the panel."""
    circuit = load(path).circuit
    made = plan(circuit)
    for standing in (None, *circuit.standings):
        assert complaints(draw(made, standing=standing)) == []
    assert complaints(draw(made, panel=False)) == []


@pytest.mark.parametrize("path", WORKED, ids=lambda path: path.stem)
def test_no_overlaps_however_it_stands(path: Path) -> None:
    """Random positions, devices on their way, long pressures, air moving here and there."""
    circuit, rng = load(path).circuit, Random(path.stem)
    made = plan(circuit)
    for _ in range(6):
        now = anyhow(circuit, rng)
        amounts = {flow: Fraction(rng.randint(-1, 1)) for flow in circuit.flows}
        assert complaints(draw(made, now)) == []
        assert complaints(draw(made, now, amounts)) == []


def anyhow(circuit: Circuit, rng: Random) -> State:
    """A state, likely or not."""
    placed = circuit.positions
    on_the_way = [name for name in circuit.devices if rng.random() < 0.3]
    return State(
        positions={name: rng.choice(places) for name, places in placed.items()},
        values={name: Fraction(rng.randint(-99, 999), 97) for name in circuit.value_starts},
        leaving={name: rng.choice(placed[name]) for name in on_the_way},
        timers={name: rng.choice(("idle", "running", "expired")) for name in circuit.timers},
    )


@pytest.mark.slow
@pytest.mark.parametrize("tens", range(0, len(SEEDS), 20))
def test_random_circuits_have_no_overlaps(tens: int) -> None:
    """Circuits of every kind of component, up to 40 of them."""
    for seed in SEEDS[tens : tens + 20]:
        circuit = load_text(sketch(Random(seed), MOST)).circuit
        made = plan(circuit)
        assert complaints(draw(made)) == [], f"seed {seed}"
        assert complaints(draw(made, anyhow(circuit, Random(seed)))) == [], f"seed {seed}"


def test_random_circuits_are_as_large_as_said() -> None:
    """Some have 30 components or more, and every kind of block is among their symbols."""
    sizes, kinds = [], set()
    for seed in SEEDS:
        text = sketch(Random(seed), MOST)
        lines = [line for line in text.splitlines() if not line.startswith((" ", "circuit"))]
        sizes.append(len(lines))
        kinds |= {line.split(":")[0].rsplit(" ", 1)[0] for line in lines}
    assert max(sizes) <= MOST + 2
    assert sum(size >= 30 for size in sizes) >= 30
    assert {"supply", "valve", "flow", "double check valve", "relief valve", "timer"} <= kinds


# ---- the checker itself


@pytest.fixture(scope="module")
def drawn() -> str:
    path = next(path for path in WORKED if path.stem == "tram_door")
    return draw(plan(load(path).circuit))


def test_the_checker_reads_what_is_there(drawn: str) -> None:
    """It finds texts, symbols, lines and cards, not an empty sheet."""
    picture = Picture(drawn)
    assert len(picture.texts) > 60
    assert len(picture.symbols) > 20
    assert len(picture.lines) >= 10
    assert len(picture.cards) >= 10


def test_the_checker_sees_a_text_that_was_moved(drawn: str) -> None:
    """A name put where another stands is complained of."""
    picture = Picture(drawn)
    here, there = picture.texts[10], picture.texts[20]
    x, y = there.left, there.bottom
    found = complaints(
        drawn.replace("</svg>", f'<text class="n" x="{x}" y="{y}">moved</text></svg>')
    )
    assert any("moved" in complaint for complaint in found)
    assert here.what != there.what


def test_the_checker_sees_a_line_through_a_symbol(drawn: str) -> None:
    """A line across the whole sheet is complained of."""
    _, box = Picture(drawn).symbols[0]
    level = (box.top + box.bottom) / 2
    line = f'<g class="line"><polyline points="0,{level} {box.right + 50},{level}"/></g>'
    found = complaints(drawn.replace("</svg>", f"{line}</svg>"))
    assert any("through" in complaint for complaint in found)


def test_the_checker_sees_two_lines_on_each_other(drawn: str) -> None:
    """Two lines along one another are complained of unless they share an end."""
    two = '<g class="line"><polyline points="5,5 60,5"/></g>' * 2
    apart = two.replace("5,5 60,5", "7,5 70,5", 1)
    assert any(
        "along" in complaint for complaint in complaints(drawn.replace("</svg>", f"{apart}</svg>"))
    )


def test_the_checker_sees_what_runs_off(drawn: str) -> None:
    """A text beyond the edge is complained of."""
    off = '<text class="n" x="-50" y="20">gone</text>'
    assert any("runs off" in each for each in complaints(drawn.replace("</svg>", f"{off}</svg>")))
