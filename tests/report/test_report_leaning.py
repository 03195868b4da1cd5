"""Why something holds, on the screen and in the JSON."""

from __future__ import annotations

import io
from dataclasses import replace
from typing import Any

import jsonschema
import pytest
from rich.console import Console

from airproof.certify.leaning import explained
from airproof.circuit.kinds import Circuit
from airproof.engines.budget import Budget
from airproof.engines.strategy import prove
from airproof.evidence.verdict import Verdict
from airproof.language import load_text
from airproof.report.leaning import by_part, told
from airproof.report.results import Results, as_data, schema
from airproof.report.terminal import show, show_briefly

YARD = """
circuit yard "A yard full of everything that a proof may lean on"
supply main: 0 bar .. 8 bar
supply pilot: 0 bar .. 8 bar
assumption pilot_up "The pilot line is kept up"
    always pilot >= 2 bar
assumption keyed "Nobody lifts without the key"
    hook moves to lift only while key is present
reservoir tank: 5 litre, starts 6 bar
cylinder ram: 1 litre, starts 0 bar
quantity level: starts 0 mm, changes at 1 mm/s while pump is running
control key: absent, present; starts absent; sealed absent
control hook: rest, lift; starts rest
control lever: back, middle, forward; in that order; starts back
control button: free, pressed; starts free
control north: normal, reversed; starts normal
control south: normal, reversed; starts normal
interlock "North waits for south"
    north moves to reversed only while south is normal
interlock south_waits "South waits for north"
    south moves to reversed only while north is normal
valve lockout: shut, open; starts shut; moving takes 1 s .. 2 s; closed on the way
    moves to open when main >= 5.5 bar +- 0.1 bar
    moves to shut when main <= 4.8 bar +- 0.1 bar
relay pump: running while lever is forward, still otherwise
latch trip: clear, tripped; starts tripped
    moves to tripped when lever is forward
    moves to clear when button has gone to pressed and lever is back
latch flag: lowered, raised; starts lowered; latched
    moves to raised when lever is forward
timer notice: runs while lever is forward; expires after 2 s .. 3 s
flow feed: main -> ram while lockout is open and lever is forward, one way
flow share: tank -> ram while lever is back, one way opening at 0.5 bar
flow drain: ram -> atmosphere while lever is middle

property low "Never fed from a low supply"
    never feed is flowing while main < 4.6 bar
property kept "A raised flag stays raised"
    after flag is raised, never flag is lowered
property both "Never both reversed"
    never north is reversed and south is reversed
property stays "A trip stays until the button is pressed anew"
    after trip is tripped, never trip is clear until button has gone to pressed
property piloted "The pilot line is never low"
    never pilot < 2 bar
property hooked "The hook lifts"
    possible hook is lift
property ceiling "The ram never gets more than the main has"
    always ram <= 8 bar
property rising "The level never falls"
    never level < 0 mm
property noticed "No notice without the lever first"
    notice has expired only after lever is forward
property through "The lever goes forward through the middle"
    lever is forward only after lever is middle
"""


@pytest.fixture(scope="module")
def yard() -> Circuit:
    return load_text(YARD, "yard").circuit


@pytest.fixture(scope="module")
def results(yard: Circuit) -> Results:
    budget = Budget(steps=8, seconds=60)
    verdicts = tuple(explained(yard, prove(yard, name, budget)) for name in yard.properties)
    return Results(yard, "0" * 64, verdicts, ())


def screen(results: Results, briefly: bool = False) -> str:
    stream = io.StringIO()
    console = Console(file=stream, width=80, markup=False, highlight=False, emoji=False)
    (show_briefly if briefly else show)(results, console)
    return stream.getvalue()


def entry(results: Results, name: str) -> dict[str, Any]:
    found: dict[str, Any] = next(p for p in as_data(results)["properties"] if p["name"] == name)
    return found


def text(results: Results, name: str) -> str:
    leans = next(v.leans for v in results.verdicts if v.property == name)
    assert leans is not None
    return told(results.circuit, leans)


def test_every_proof_is_explained(results: Results) -> None:
    """Everything in the yard is proved, and each proof says what it leans on."""
    assert all(v.certificate is not None for v in results.verdicts)
    assert all(v.leans is not None and v.leans.whole for v in results.verdicts)


def test_json_satisfies_the_schema(results: Results) -> None:
    """With lists of every kind."""
    data = as_data(results)
    jsonschema.validate(data, schema())
    kinds = {rule["kind"] for p in data["properties"] for rule in p["leans_on"]["rules"]}
    assert kinds >= {"device", "control", "interlock", "assumption", "flow", "volume", "timer"}


def test_a_setting_is_quoted_with_its_tolerance(results: Results) -> None:
    """Where the value of a comparison is needed, the JSON and the sentence say so."""
    leans = entry(results, "low")["leans_on"]
    assert leans["devices"] == ["lockout"]
    assert leans["settings"] == [{"of": "lockout", "comparison": "main <= 4.8 bar +- 0.1 bar"}]
    assert leans["flows"] == ["feed"]
    assert text(results, "low") == (
        "valve lockout (must move to shut when main <= 4.8 bar +- 0.1 bar);"
        " flow feed (open only while lockout is open)"
    )


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("kept", "latch flag (has no move to lowered)"),
        ("both", 'interlock "North waits for south" (north moves to reversed only while'),
        ("both", "interlock south_waits (south moves to reversed only while north is normal)"),
        ("stays", "moves to clear only when button has gone to pressed"),
        ("stays", "control button (moves only once in no time)"),
        ("piloted", "assumption pilot_up (always pilot >= 2 bar)"),
        ("hooked", "assumption keyed (hook moves to lift only while key is present)"),
        ("hooked", "control key (is sealed absent)"),
        ("ceiling", "supply main (never above 8 bar"),
        ("ceiling", "cylinder ram (starts 0 bar, no way in or out for its air but its flows"),
        ("rising", "quantity level (starts 0 mm, never falls)"),
        ("noticed", "timer notice (must be reset unless lever is forward)"),
        ("through", "control lever (starts back, moves one place at a time, moves only once"),
    ],
)
def test_it_is_said_in_the_trade_s_words(results: Results, name: str, words: str) -> None:
    """Each kind of part has its sentence."""
    assert words in text(results, name)


def test_the_screen_has_both_lists(results: Results) -> None:
    """In 80 columns, from the proofs to the parts and back."""
    shown = screen(results)
    assert max(len(line) for line in shown.splitlines()) <= 80
    assert "\nWhy it holds\n" in shown
    flat = " ".join(shown.split())
    assert "- low leans on valve lockout (must move to shut when main <= 4.8 bar" in flat
    assert "- lockout: low" in flat


def test_a_proof_that_was_not_asked_is_named(results: Results) -> None:
    """Whoever interrupts it does not take silence for a proof that leans on nothing."""
    cut = [v if v.property != "low" else replace(v, leans=None) for v in results.verdicts]
    flat = " ".join(screen(replace(results, verdicts=tuple(cut))).split())
    assert "- low: what the proof leans on was not found out" in flat
    assert "- low leans on" not in flat


def test_where_none_was_asked_no_parts_are_listed(results: Results) -> None:
    """A heading without a list would say that they lean on nothing."""
    none = tuple(replace(v, leans=None) for v in results.verdicts)
    flat = " ".join(screen(replace(results, verdicts=none)).split())
    assert "- low: what the proof leans on was not found out" in flat
    assert "Part by part" not in flat


def test_quiet_leaves_it_out(results: Results) -> None:
    """One line for each property is all that `--quiet` prints."""
    assert "leans on" not in screen(results, briefly=True)


def test_the_way_back_names_parts_that_are_only_read(results: Results) -> None:
    """Whoever takes the main away finds the proof that leans on a valve that reads it."""
    assert "low" in by_part(results.verdicts)["main"]
    assert by_part(results.verdicts)["flag"] == ("kept",)


def test_a_list_that_is_not_finished_says_so(yard: Circuit, results: Results) -> None:
    """Whoever reads it knows that the proof may lean on less."""
    (low,) = (v for v in results.verdicts if v.property == "low")
    assert low.leans is not None
    unfinished = replace(low, leans=replace(low.leans, whole=False))
    some = replace(results, verdicts=(unfinished,))
    assert "not minimised to the end" in " ".join(screen(some).split())
    assert not entry(some, "low")["leans_on"]["minimised"]


def test_nothing_is_said_of_a_proof_that_is_withheld(results: Results) -> None:
    """Where health withholds a `holds`, its reasons are withheld as well."""
    (low,) = (v for v in results.verdicts if v.property == "low")
    withheld = replace(low, word="undecided", strength=None, reason="unhealthy")
    some = replace(results, verdicts=(withheld, Verdict("kept", "undecided", reason="interrupted")))
    assert "Why it holds" not in screen(some)
    assert entry(some, "low")["leans_on"] is None
