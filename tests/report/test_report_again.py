"""What was asked again of a property that holds: remarks, stories, JSON."""

from __future__ import annotations

import io
import json
from dataclasses import replace

import jsonschema
import pytest
from rich.console import Console

from airproof.circuit.slow import slowed
from airproof.circuit.switching import Moved
from airproof.evidence.certificate import Invariant
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Retried, Verdict
from airproof.report.again import INTRODUCTION, lines
from airproof.report.results import Results, as_data, schema
from airproof.report.terminal import show, show_briefly
from report.pusher import GATE_OFF, PEDAL_DOWN, Run, pusher, weak_push

HOLDS = Verdict("no_weak_push", "holds", "any speed", certificate=Invariant(()))
OTHER = replace(HOLDS, property="gate_first")


def slow_inlet() -> Sequence:
    """The inlet is still on its way, and may pass air, while the main falls."""
    run = Run(slowed(pusher(), "inlet"), main=6)
    run.switch(PEDAL_DOWN, Moved("sets off", "inlet", "shut", "open")).switch(GATE_OFF)
    run.elapse(main="5.6").elapse(main="5.4").elapse(main="4.9").elapse(main="4.8")
    return run.elapse(main="4.7").checked("no_weak_push")


BREACHED = Retried("inlet", "breached", depth=7, sequence=slow_inlet())
MAY = Retried("lid", "holds")
CUT = Retried("tap", "undecided", "time limit")
LEFT = Retried("plug", "undecided", "interrupted")
INSTANT = Retried(None, "breached", sequence=weak_push())


def results(*verdicts: Verdict) -> Results:
    return Results(pusher(), "0" * 64, verdicts, ())


def screen(whole: Results, briefly: bool = False) -> str:
    stream = io.StringIO()
    console = Console(file=stream, width=80, markup=False, highlight=False, emoji=False)
    (show_briefly if briefly else show)(whole, console)
    return stream.getvalue()


@pytest.mark.parametrize(
    ("retried", "said"),
    [
        ((), []),
        ((MAY,), []),
        ((BREACHED, MAY), ["no_weak_push holds only if inlet moves at once"]),
        (
            (BREACHED, replace(BREACHED, device="lid"), replace(BREACHED, device="tap")),
            ["no_weak_push holds only if inlet, lid and tap each move at once"],
        ),
        ((INSTANT,), ["no_weak_push holds while time passes, but fails in an instant"]),
        (
            (CUT, MAY, replace(CUT, device="flap"), LEFT, replace(CUT, device=None)),
            [
                "no_weak_push: not decided with tap or flap slow or in an instant: the time for "
                "these questions ran out",
                "no_weak_push: not decided with plug slow: interrupted before it was settled",
            ],
        ),
        (
            (Retried("tap", "undecided", "no breach within", "x", 9),),
            ["no_weak_push: not decided with tap slow: no breach within 9 steps"],
        ),
    ],
)
def test_lines(retried: tuple[Retried, ...], said: list[str]) -> None:
    """A line for what must be quick, for instants, and for each reason of not knowing."""
    assert [line.text for line in lines(replace(HOLDS, retried=retried))] == said


def test_the_table_first_then_remarks_then_stories() -> None:
    """Each remark gives the number of its story; a story is told of the changed circuit."""
    breach = Verdict("no_weak_push", "breached", "for some sizes", sequence=weak_push())
    text = screen(
        results(breach, replace(OTHER, retried=(replace(BREACHED, device="inlet"), INSTANT, CUT)))
    )
    assert max(map(len, text.splitlines())) <= 80
    places = [
        text.index(part)
        for part in (
            "severity",
            "Only if it moves at once",
            "gate_first holds only if inlet moves at once; see 2",
            "gate_first holds while time passes, but fails in an instant; see 3",
            "gate_first: not decided with tap slow",
            "1. no_weak_push: breached, for some sizes",
            "2. gate_first: breached if inlet is slow",
            "inlet sets off from shut to open",
            "3. gate_first: breached in an instant",
            "Health of the circuit",
        )
    ]
    assert places == sorted(places)
    assert INTRODUCTION in " ".join(text.split())


def test_nothing_is_said_where_nothing_was_asked() -> None:
    """Without retries there is no section for them; where all hold, it says so."""
    assert "moves at once" not in screen(results(HOLDS)).split("Taken for granted")[0]
    assert "Everything that holds does so then, too." in screen(
        results(replace(HOLDS, retried=(MAY,)))
    )


def test_briefly_there_are_lines_and_no_stories() -> None:
    """`--quiet` names what must be quick, and tells no story."""
    text = screen(results(replace(HOLDS, retried=(BREACHED, MAY, CUT))), briefly=True)
    assert text.splitlines() == [
        "no_weak_push: holds, any speed",
        "no_weak_push holds only if inlet moves at once",
        "no_weak_push: not decided with tap slow: the time for these questions ran out",
    ]


def test_json() -> None:
    """Every device and its answer, sequences as runs of the changed circuit, as the schema says."""
    retried = (BREACHED, INSTANT, replace(CUT, device="gate"))
    data = as_data(results(replace(HOLDS, retried=retried), replace(OTHER, retried=(INSTANT,))))
    jsonschema.validate(json.loads(json.dumps(data)), schema())
    first, second = data["properties"]
    quick, cut = first["only_if_at_once"]
    assert (quick["device"], quick["verdict"], quick["reason"]) == ("inlet", "breached", None)
    assert quick["length"] == BREACHED.sequence.length if BREACHED.sequence else False
    assert quick["sequence"][0]["moves"][1]["what"] == "sets off"
    assert (cut["verdict"], cut["sequence"]) == ("undecided", None)
    assert cut["reason"] == "the time for these questions ran out"
    assert first["in_an_instant"]["verdict"] == "breached"
    assert second["only_if_at_once"] == []


def test_json_of_a_verdict_that_was_not_asked_again() -> None:
    """The keys are there, and empty."""
    [entry] = as_data(results(HOLDS))["properties"]
    assert (entry["only_if_at_once"], entry["in_an_instant"]) == ([], None)


@pytest.mark.parametrize(
    "wrong",
    [
        {"device": "inlet", "verdict": "undecided", "reason": None},
        {"device": "inlet", "verdict": "holds", "reason": "because"},
        {"device": "inlet", "verdict": "breached", "reason": None},
        {"verdict": "holds", "reason": None},
    ],
)
def test_the_schema_refuses(wrong: dict[str, object]) -> None:
    """An undecided one without its reason, a breached one without its run, one of no device."""
    data = as_data(results(HOLDS))
    entry = {"length": None, "start": None, "sequence": None, **wrong}
    data["properties"][0]["only_if_at_once"] = [entry]
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, schema())
