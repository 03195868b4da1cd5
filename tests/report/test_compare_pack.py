"""The page of a comparison as markup, and its drawings with what differs marked."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest

from airproof.circuit.kinds import Interlock
from airproof.language import load, load_text
from airproof.report.pack import render_comparison
from airproof.report.pack.parting import differences, marks
from airproof.report.schematic import Mark, draw, plan_marked
from airproof.report.schematic.marking import Word, drawn
from airproof.resources import folder
from report.comparisons import comparison, comparison_pack, pushers
from report.geometry import complaints
from report.packs import HOSTILE, X, by_class, parsed, unused, words
from report.sketching import sketch

WORDS: tuple[Word, ...] = ("changed", "new", "gone")
WORKED = sorted((folder("models") / "worked").glob("*.circuit"))


# ---- what differs


def test_each_part_that_differs_is_numbered() -> None:
    """Changed, gone, new; what is alike is not in the list."""
    told = [(one.number, one.word, one.name, one.kind) for one in differences(*pushers())]
    assert sorted(told) == [
        (1, "changed", "push", "flow"),
        (2, "new", "extra", "flow"),
        (3, "gone", "drain", "flow"),
    ]
    assert differences(pushers()[0], pushers()[0]) == ()


def test_interlocks_are_told_by_what_they_say() -> None:
    """A nameless one is called after its place, which is no difference."""
    old, _ = pushers()
    (lock,) = old.interlocks.values()
    moved = replace(old, interlocks={"interlock.9": replace(lock, name="interlock.9")})
    assert differences(old, moved) == ()
    other = Interlock("x", "", "pedal", "only", "up", lock.condition)
    found = differences(old, replace(old, interlocks={"x": other}))
    assert [(one.word, one.kind) for one in found] == [("new", "interlock"), ("gone", "interlock")]
    assert found[0].name.startswith("pedal moves to up only while door is shut")


# ---- the drawings


@pytest.mark.parametrize("path", WORKED, ids=lambda path: path.stem)
def test_marks_lie_on_nothing(path: Path) -> None:
    """Every part of a worked circuit marked in turn with each word, and none of them."""
    circuit = load(path).circuit
    names = [*circuit.flows, *circuit.volumes, *circuit.supplies, *circuit.devices]
    every = {name: Mark(n, WORDS[n % 3]) for n, name in enumerate(names, start=1)}
    assert complaints(draw(plan_marked(circuit, every), panel=False)) == []
    few = dict(Random(path.stem).sample(sorted(every.items()), 3))
    assert complaints(draw(plan_marked(circuit, few), panel=False)) == []


def test_marks_lie_on_nothing_in_random_circuits() -> None:
    """A fifth of the parts of each, of every kind of component."""
    for seed in range(20):
        circuit = load_text(sketch(Random(seed), 25)).circuit
        names = [*circuit.flows, *circuit.volumes, *circuit.supplies, *circuit.devices]
        chosen = Random(seed).sample(names, max(1, len(names) // 5))
        some = {name: Mark(n, WORDS[n % 3]) for n, name in enumerate(chosen, start=1)}
        assert complaints(draw(plan_marked(circuit, some), panel=False)) == [], f"seed {seed}"


def test_every_part_with_a_symbol_is_found() -> None:
    """Flows, places and what switches them; the spring of a cylinder stands at that."""
    for path in WORKED:
        circuit = load(path).circuit
        sheet = plan_marked(circuit, {}).sheet
        there = frozenset[str]().union(*drawn(sheet, circuit).values())
        assert {*circuit.flows, *circuit.volumes, *circuit.supplies} <= there, path.stem
        springs = {name for name in circuit.devices if name.endswith(".spring")}
        assert springs <= there, path.stem


def test_a_mark_is_a_shape_and_a_word() -> None:
    """Another outline for each word, and the number in the list; no colour."""
    different = differences(*pushers())
    for circuit, expected in zip(pushers(), (("changed", "gone"), ("changed", "new")), strict=True):
        text = draw(plan_marked(circuit, marks(different)))
        for one in different:
            label = f">{one.number} {one.word}<"
            assert (label in text) == (one.word in expected), one
            assert (f'class="mark-{one.word}"' in text) == (one.word in expected)
        assert not re.search("#(?!000|fff|777)[0-9a-f]{3}", text)


# ---- the page


def test_the_page_says_what_was_found() -> None:
    """Verdicts before and after, meanings, stages, the text; the breach on the new drawing."""
    text = render_comparison(comparison_pack())
    tree = parsed(text)
    assert not unused(text)
    rows = by_class(tree, "verdicts")[0].findall(f".//{X}tbody/{X}tr")
    told = {words(row[0]).split()[0]: [words(cell) for cell in row[1:]] for row in rows}
    assert told["no_weak_push"][:2] == ["holds, any speed", "breached, for some sizes"]
    assert told["no_weak_push"][2].startswith("✗ newly breached")
    assert told["bell_drops"][1] == "-"
    assert 'withdrawn is asked no more, because "nobody rings it"' in told["bell_drops"][2]
    assert told["gate_first"][2] == "same"
    assert "the signal strong was changed" in told["can_push"][2]
    said = words(tree)
    for part in (
        "What a change does: 1 newly breached, 2 same, 1 withdrawn; 1 of them asks something else",
        "nothing that it can depend on was changed: gate_first",
        "new: warning: no run was found that reaches: gate is up",
        "after step 1 breaches no_weak_push",
        "-flow push: main -> ram, choke 1 mm",
        "+flow push: main -> ram, choke 2 mm <&>",
        "licensed engineer",
    ):
        assert part in said, part
    table = [[words(cell) for cell in row] for row in by_class(tree, "differs")[0].iter(f"{X}tr")]
    assert table[1:] == [
        ["1", "flow", "push", "changed", "in both"],
        ["2", "flow", "extra", "new", "after"],
        ["3", "flow", "drain", "gone", "before"],
    ]
    assert len(by_class(tree, "run")) == 1
    assert len(by_class(tree, "one")) == 2


def test_nothing_at_all_that_differs() -> None:
    """Is said in every place."""
    alike = comparison()
    plain = replace(
        alike,
        after=alike.before,
        changes=(),
        text="",
        shifts={},
        stages=None,
        ways={},
        same=frozenset(),
    )
    said = words(parsed(render_comparison(comparison_pack(plain))))
    for part in ("No part of the circuit differs", "Not a line differs", "say the same", "4 same"):
        assert part in said


@pytest.mark.parametrize("text", HOSTILE)
def test_texts_of_a_circuit_are_text(text: str) -> None:
    """Nothing of them is markup."""
    old, new = pushers(text)
    made = comparison()
    named = replace(
        made, before=replace(made.before, circuit=old), after=replace(made.after, circuit=new)
    )
    tree = parsed(render_comparison(comparison_pack(named)))
    assert " ".join(text.split()) in words(tree)
    assert len(list(tree.iter(f"{X}script"))) == 2
