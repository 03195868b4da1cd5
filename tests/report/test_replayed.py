"""One sequence on a terminal: its pressures, its length of columns, what it depends on."""

from __future__ import annotations

import io
from dataclasses import replace
from fractions import Fraction

import pytest
from rich.console import Console

from airproof.circuit.kinds import Circuit
from airproof.circuit.without import Thing
from airproof.evidence.dependence import Dependence, Needed
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Verdict
from airproof.report import depending
from airproof.report.pressures import pressures
from airproof.report.replayed import Told, none_told, show_dependence, show_run
from circuit.small import is_
from report.pusher import pusher, weak_push

BREACH = Verdict("no_weak_push", "breached", "for some sizes", sequence=weak_push())
UPPER = is_("main", ">=", "5.5", "0.1")
LOWER = is_("main", "<=", "4.8", "0.1")
FOUND = Dependence(
    7,
    (
        Needed(Thing("control", "pedal", "down"), "ever"),
        Needed(Thing("control", "door", "open"), "ever"),
        Needed(Thing("device", "inlet", "open"), "within"),
        Needed(Thing("timer", "bell"), "ever"),
        Needed(Thing("value", "main"), "within"),
        Needed(Thing("value", "wheel"), "within"),
        Needed(Thing("met", "inlet", reader="device", setting=UPPER), "ever"),
        Needed(Thing("not met", "inlet", reader="device", setting=LOWER), "ever"),
    ),
    spared=(Thing("device", "gate", "up"),),
    apart=(Thing("device", "gate", "down"),),
    still=(Thing("met", "push", reader="flow", setting=UPPER),),
    open=(Thing("control", "pedal", "up"),),
    why="time limit",
)


def screen(width: int = 80) -> tuple[Console, io.StringIO]:
    stream = io.StringIO()
    options = {"markup": False, "highlight": False, "emoji": False}
    return Console(file=stream, width=width, **options), stream  # type: ignore[arg-type]


def run_told(told: Told, width: int = 80) -> str:
    console, stream = screen(width)
    show_run(told, console)
    return stream.getvalue()


def dependence_told(dependence: Dependence | None) -> str:
    console, stream = screen()
    show_dependence(Told(pusher(), BREACH), dependence, console)
    return " ".join(stream.getvalue().split())


# ---- the pressures


def test_a_row_for_the_start_and_each_item_that_changes_one() -> None:
    """The marks are the numbers of the story's items; a stretch is one item."""
    found = pressures(pusher(), weak_push())
    assert found.heads == ("main [bar]", "ram [bar]")
    assert [(row.mark, row.cells) for row in found.rows] == [
        ("start", ("6", "0")),
        ("3)", ("4.7", "4.7")),
    ]


def test_a_sequence_without_a_change_has_no_table() -> None:
    """And no heading for one."""
    run = weak_push()
    still = Sequence(run.start, run.steps[:2])
    assert pressures(pusher(), still).heads == ()
    assert "Pressures" not in run_told(Told(pusher(), replace(BREACH, sequence=still)))


def many() -> tuple[Circuit, Sequence]:
    circuit, run = pusher(), weak_push()
    names = [f"a_volume_of_a_long_name_{number}" for number in range(9)]
    volumes = {n: replace(circuit.volumes["ram"], name=n) for n in names}
    circuit = replace(circuit, volumes={**circuit.volumes, **volumes})
    start = replace(run.start, values={**run.start.values, **dict.fromkeys(names, Fraction(0))})
    steps = tuple(
        replace(step, after=replace(step.after, values={**step.after.values, **ends}))
        for step in run.steps
        for ends in [dict.fromkeys(names, step.after.values["ram"] / 3)]
    )
    return circuit, Sequence(start, steps)


@pytest.mark.parametrize("width", [20, 60, 80, 100])
def test_many_pressures_are_told_in_several_tables(width: int) -> None:
    """Each column appears once, and no line is wider than the screen."""
    circuit, sequence = many()
    text = run_told(Told(circuit, replace(BREACH, sequence=sequence)), width)
    assert max(map(len, text.splitlines())) <= width
    if width >= 60:
        table = text.split("Pressures")[1]
        for name in sequence.start.values:
            changes = sequence.steps[-1].after.values[name] != sequence.start.values[name]
            assert table.replace("\n", "").count(f"{name} [") == changes
        assert "~1.57" in table


# ---- what it depends on


def test_each_thing_in_words() -> None:
    """Who moves what, which setting of what; and how far the claim goes."""
    text = dependence_told(FOUND)
    for said in (
        "- stoker moves pedal to down",
        "- door is moved to open",
        "- inlet moves to open (within 7 steps)",
        "- bell expires",
        "- main changes (within 7 steps)",
        "- wheel is set otherwise than it starts (within 7 steps)",
        "Settings that must be met for it: - main >= 5.5 bar +- 0.1 bar (inlet)",
        "met all along: - main <= 4.8 bar +- 0.1 bar (inlet)",
        "Not needed, for the breach can come about without any one of: gate moves to up.",
        "Moved, but nothing that decides the breach reads it: gate moves to down.",
        "time could not pass: main >= 5.5 bar +- 0.1 bar (flow push).",
        "Not settled (time limit): stoker moves pedal to up.",
    ):
        assert said in text, said


def test_what_was_followed_in_a_part_only_is_not_called_unneeded() -> None:
    """The part's run might not be one of the whole circuit."""
    text = dependence_told(replace(FOUND, exact=False))
    assert "Not shown to be needed: gate moves to up." in text
    assert "Not needed" not in text


def test_nothing_needed_is_said() -> None:
    """Instead of an empty list."""
    text = dependence_told(Dependence(7, ()))
    assert "Nothing was found that the breach cannot do without." in text


def test_why_it_was_not_computed() -> None:
    """In a word; and what was asked and not answered is open, with the reason."""
    assert "not computed: interrupted" in dependence_told(None)
    left = Dependence(7, (), open=(Thing("device", "gate", "up"),), why="interrupted")
    assert "Not settled (interrupted): gate moves to up." in dependence_told(left)


def test_it_speaks_of_a_possibility_by_its_word() -> None:
    """What was asked to be possible is no breach."""
    asked = pusher().properties["can_push"]
    said = depending.remarks(pusher(), asked, Dependence(3, ()))
    assert said == ("Nothing was found that what is asked cannot do without.",)
    assert "then what is asked cannot come about" in depending.introduction(asked, FOUND)


# ---- where there is none


@pytest.mark.parametrize(
    ("verdict", "number", "said"),
    [
        (Verdict("gate_first", "holds", "any speed"), 1, "holds, any speed; no run breaches it"),
        (Verdict("can_push", "breached", "any speed"), 1, "no run reaches it"),
        (
            Verdict("gate_first", "undecided", reason="time limit", depth=4),
            1,
            "the time limit ran out after 4 steps were searched; there is nothing to replay",
        ),
        (
            Verdict("gate_first", "undecided", reason="no breach within", depth=9),
            3,
            "no other sequence: each one of up to 9 steps makes all the moves",
        ),
        (
            Verdict("gate_first", "undecided", reason="time limit", depth=9),
            2,
            "no other sequence: the time limit ran out after 9 steps were searched",
        ),
    ],
)
def test_why_there_is_no_sequence(verdict: Verdict, number: int, said: str) -> None:
    """Whether it holds, is impossible, was not found, or there is no further one."""
    assert said in none_told(Told(pusher(), verdict, number))


def test_a_further_sequence_says_so() -> None:
    """Which one it is stands in its heading."""
    assert "breached, for some sizes (sequence 3)" in run_told(Told(pusher(), BREACH, 3))
