"""The whole report, as JSON and on a terminal."""

from __future__ import annotations

import copy
import io
import json
import re
from dataclasses import replace
from fractions import Fraction
from typing import Any, get_args

import jsonschema
import pytest
from rich.console import Console

from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Never, Property
from airproof.evidence import health, verdict
from airproof.evidence.certificate import Invariant
from airproof.evidence.health import Finding
from airproof.evidence.verdict import Verdict
from airproof.report.caution import CAUTION
from airproof.report.findings import found, reason
from airproof.report.granted import granted
from airproof.report.results import Results, as_data, schema, to_json
from airproof.report.terminal import show, show_briefly
from airproof.transition.literals import Bit, Literal
from circuit.small import circuit, is_, supply
from report.pusher import pusher, weak_push

BREACH = Verdict("no_weak_push", "breached", "for some sizes", seconds=0.25, sequence=weak_push())
VERDICTS = (
    BREACH,
    Verdict("can_push", "holds", "any speed", notes=("a shorter sequence not ruled out",)),
    Verdict("gate_first", "undecided", reason="no breach within", depth=20),
    Verdict("bell_drops", "undecided", reason="solver failed", detail="its process ended"),
)
FINDINGS = (
    Finding("warning", "position not reached", ("gate is up",)),
    Finding("error", "chatter", ("inlet", "gate"), weak_push()),
)


def results(of: Circuit | None = None) -> Results:
    return Results(of or pusher(), "0" * 64, VERDICTS, FINDINGS)


def screen(whole: Results, width: int = 80, briefly: bool = False, **colour: Any) -> str:
    stream = io.StringIO()
    console = Console(
        file=stream, width=width, markup=False, highlight=False, emoji=False, **colour
    )
    (show_briefly if briefly else show)(whole, console)
    return stream.getvalue()


# ---- JSON


def test_the_schema_is_one() -> None:
    """The schema that ships is itself a valid JSON Schema."""
    jsonschema.Draft202012Validator.check_schema(schema())


def test_json_satisfies_the_schema() -> None:
    """A result with every verdict, findings and sequences is as the schema says."""
    jsonschema.validate(json.loads(to_json(results())), schema())


def test_the_keys_are_those_of_the_design() -> None:
    """The object has exactly these keys, in this order."""
    data = as_data(results())
    assert list(data) == [
        "airproof",
        "circuit",
        "fingerprint",
        "properties",
        "health",
        "taken_for_granted",
    ]
    assert data["properties"][0]["sequence"][0]["moves"] == [
        {"name": "pedal", "what": "moves", "from": "up", "to": "down"},
        {"name": "inlet", "what": "moves", "from": "shut", "to": "open"},
    ]


def test_numbers_lose_nothing() -> None:
    """Pressures of a sequence are exact text, and give the fractions back."""
    last = as_data(results())["properties"][0]["sequence"][-1]
    assert last["state"]["values"] == {"main": "4.7", "ram": "4.7", "wheel": "0"}
    assert last["amounts"] == {"push": "1"}
    assert Fraction(last["state"]["values"]["main"]) == Fraction(47, 10)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("properties", 0, "verdict"), "proved"),
        (("properties", 0, "reason"), "because"),
        (("properties", 2, "reason"), None),
        (("properties", 1, "strength"), None),
        (("properties", 0, "sequence", 2, "state", "values", "main"), 4.7),
        (("properties", 0, "extra"), 1),
        (("fingerprint",), "abc"),
        (("health", 0, "code"), "odd"),
    ],
)
def test_the_schema_refuses_what_is_wrong(path: tuple[str | int, ...], value: Any) -> None:
    """The schema is no formality: each of these makes a result invalid."""
    data = copy.deepcopy(as_data(results()))
    place: Any = data
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = value
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, schema())


def test_every_code_has_words_and_a_place_in_the_schema() -> None:
    """No reason and no health code of the data is without a sentence."""
    for code in get_args(verdict.Reason):
        assert reason(Verdict("p", "undecided", reason=code, depth=3))
    codes = get_args(health.Code)
    assert schema()["$defs"]["finding"]["properties"]["code"]["enum"] == list(codes)
    for code in codes:
        assert found(Finding("error", code, ("x",)))


# ---- terminal


def test_the_report_fits_80_columns() -> None:
    """No line is longer than 80, none ends in blanks, whatever is shown."""
    lines = screen(results()).splitlines()
    assert max(map(len, lines)) <= 80
    assert [line for line in lines if line != line.rstrip()] == []


def test_the_order_of_the_report() -> None:
    """Verdicts, then stories, then health, then what is taken for granted, then the caution."""
    text = " ".join(screen(results()).split())
    marks = ["severity", "1. no_weak_push: breached, for some sizes", "Health of the circuit"]
    marks += ["Taken for granted", CAUTION]
    places = [text.index(mark) for mark in marks]
    assert places == sorted(places)


def test_only_a_health_error_is_told_whole() -> None:
    """The run to a health error is told, that to a warning is left to the JSON."""
    error = FINDINGS[1]
    for finding, count in ((error, 1), (replace(error, weight="warning"), 0)):
        text = screen(Results(pusher(), "0" * 64, VERDICTS[1:], (finding,)))
        assert text.count("The run starts") == count


def test_colour_only_repeats_the_words() -> None:
    """With colours taken away the text is the same as without any."""
    coloured = screen(results(), force_terminal=True, color_system="truecolor")
    assert "\x1b[" in coloured
    bare = re.sub(r"\x1b\[[0-9;]*m", "", coloured)
    assert [line.rstrip() for line in bare.splitlines()] == screen(results()).splitlines()


def test_no_color_is_heeded(monkeypatch: pytest.MonkeyPatch) -> None:
    """With NO_COLOR set a terminal gets no colour codes."""
    monkeypatch.setenv("NO_COLOR", "1")
    coloured = screen(results(), force_terminal=True, color_system="truecolor")
    assert not re.search(r"\x1b\[[0-9;]*3[0-9]", coloured)


def test_markup_in_names_is_text() -> None:
    """`[red]` in a title or severity is shown, not obeyed."""
    text = screen(results(pusher("the [bold]old[/bold] kiln :fire: [/]")))
    assert "the [bold]old[/bold] kiln :fire: [/]" in text
    assert "[red]odd[/red]" in text


def test_a_screen_is_never_commanded() -> None:
    """Control characters and turned-round text in titles are shown as `?`."""
    text = screen(results(pusher("a\x1b[2Jb\u202ec\x07d")))
    assert "a?[2Jb?c?d" in text
    assert "\x1b" not in text


def test_each_strength_is_explained_once() -> None:
    """The table's strengths have one line each, however many properties share one."""
    text = screen(Results(pusher(), "0" * 64, (*VERDICTS, BREACH), ()))
    assert text.count("- for some sizes: there are chokes") == 1
    assert text.count("- any speed: whatever the chokes") == 1
    assert "- as sized:" not in text


def test_undecided_says_why() -> None:
    """Each undecided property has its reason in plain words."""
    text = screen(results())
    assert "- gate_first: undecided: no breach within 20 steps" in text
    assert "- bell_drops: undecided: the solver failed: its process ended" in text


def test_notes_are_shown() -> None:
    """What else is known of a verdict stands beside its property."""
    text = " ".join(screen(results()).split())
    assert "- can_push: the run below has the fewest steps, but" in text


def test_what_no_run_reaches_is_said() -> None:
    """A possibility that is proved impossible has no story, and the report says what it means."""
    never = Verdict("can_push", "breached", "any speed", engine="frames")
    text = screen(Results(pusher(), "0" * 64, (never,), ()))
    assert "- can_push: no run of any length reaches it" in text


def test_a_certificate_is_text() -> None:
    """The invariant of a proof is in the JSON, one clause a line."""
    rung = Bit("inlet is shut")
    invariant = Invariant(((Literal(rung, True),), (Literal(rung, False),)))
    proved = Verdict("can_push", "holds", "any speed", certificate=invariant)
    data = as_data(Results(pusher(), "0" * 64, (proved,), ()))
    assert data["properties"][0]["certificate"] == "inlet is shut\nnot inlet is shut"
    jsonschema.validate(data, schema())


def test_a_run_that_needs_sizes_is_no_breach() -> None:
    """The run of an undecided property is told as one that sizes may rule out."""
    doubt = replace(BREACH, word="undecided", strength=None, reason="needs sizes")
    text = screen(Results(pusher(), "0" * 64, (doubt,), ()))
    assert "With such sizes breached here, while time passes:" in text
    assert "Breached here" not in text


def test_long_names_are_folded_not_cut() -> None:
    """A name or title wider than the screen is shown whole."""
    name, title = "n" * 120, "T" * 150
    asked = Property(name, title, Never(is_("main", ">", 9)), severity="s" * 40)
    whole = Results(circuit(supply(), asked), "0" * 64, (Verdict(name, "holds", "any speed"),), ())
    text = screen(whole)
    assert text.count("n") >= 120
    assert text.count("T") >= 150
    assert max(map(len, text.splitlines())) <= 80


def test_quiet_is_one_line_each() -> None:
    """Briefly: a line for each property, and for each health error."""
    assert screen(results(), briefly=True) == (
        "no_weak_push: breached, for some sizes\n"
        "can_push: holds, any speed\n"
        "gate_first: undecided: no breach within 20 steps\n"
        "bell_drops: undecided: the solver failed: its process ended\n"
        "health: with every control still, these never come to rest: inlet, gate\n"
    )


def test_what_is_taken_for_granted() -> None:
    """Assumptions, ranges of supplies, seals and devices without a moving time."""
    assert [(item.kind, item.text) for item in granted(pusher())] == [
        ("assumption", "The mill keeps 1 bar (always main >= 1 bar)"),
        ("assumption", "door is locked in shut while pedal is down and gate is up"),
        ("supply", "main stays between 0 and 8 bar"),
        ("control", "cock is sealed open: nobody moves it"),
        ("device", "inlet moves at once"),
    ]
