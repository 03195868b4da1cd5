"""`compare` as a person calls it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner, Result

from airproof.cli.main import main
from airproof.report.caution import CAUTION
from airproof.report.comparison_data import comparison_schema
from certify.solvers import cvc5_answer
from cli.at_once import called

SHED = """circuit shed "Shed hoist"
supply main: 0 bar .. 8 bar, starts 0 bar .. 8 bar
cylinder brake: starts 0 bar
control lever: hold, lift; starts hold; worked by hoistman
control gate: shut, open; starts shut
interlock gate_pin "No lifting through an open gate"
    lever moves to lift only while gate is shut
interlock lever_pin "No opening while it lifts"
    gate moves to open only while lever is hold
relay gate_relay: picked while gate is shut, dropped otherwise
flow lift: main -> brake while lever is lift and gate_relay is picked, one way
property not_through_gate "Nothing is lifted through an open gate"
    severity critical
    never lift is flowing while gate is open
property can_lift "The brake can be lifted"
    possible brake >= 5 bar
"""
PINS = """change "The pins are taken out" to "shed.circuit"
    reason "they jam"
step 1: remove gate_pin
step 2: remove lever_pin
"""
RELAY = """change "The relay is bridged" to "shed.circuit"
step 1: fix gate_relay at picked
"""


@pytest.fixture
def shed(tmp_path: Path) -> Path:
    """The folder with the circuit and its changes."""
    texts = {
        "shed.circuit": SHED,
        "pins.change": PINS,
        "relay.change": RELAY,
        "bare.circuit": "circuit bare\nsupply main: 1 bar\n",
        "bare.change": 'change "A" to "bare.circuit"\nstep 1: set main: 2 bar\n',
    }
    for name, text in texts.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


def call(folder: Path, *arguments: str, given: str | None = None) -> Result:
    """`compare` with files of that folder, without processes."""
    return called("compare", *_paths(folder, arguments), given=given)


def call_with_processes(folder: Path, *arguments: str) -> Result:
    return CliRunner().invoke(main, ["compare", *_paths(folder, arguments)])


def _paths(folder: Path, arguments: tuple[str, ...]) -> list[str]:
    return [str(folder / one) if "." in one else one for one in arguments]


def data(result: Result) -> dict[str, Any]:
    """Its JSON, which is as the schema says."""
    found: dict[str, Any] = json.loads(result.stdout)
    jsonschema.validate(found, comparison_schema())
    return found


def outcomes(found: dict[str, Any]) -> dict[str, str]:
    return {entry["name"]: entry["outcome"] for entry in found["properties"]}


@pytest.mark.slow
def test_two_changes_harmless_alone_and_harmful_together(shed: Path) -> None:
    """The smallest set that breaches the property is both; its sequence is told."""
    result = call(shed, "shed.circuit", "pins.change", "relay.change", "--json")
    assert result.exit_code == 1
    found = data(result)
    assert outcomes(found) == {"not_through_gate": "newly breached", "can_lift": "same"}
    both = [[str(shed / "pins.change"), str(shed / "relay.change")]]
    assert found["smallest"] == {"not_through_gate": both}
    assert [one["newly_breached"] for one in found["subsets"]] == [[], [], ["not_through_gate"]]
    (breach,) = (p for p in found["after"]["properties"] if p["verdict"] == "breached")
    assert breach["sequence"]
    assert "-interlock gate_pin" in found["text"]


@pytest.mark.slow
def test_half_fitted_states_are_judged_one_by_one(shed: Path) -> None:
    """Both ends are safe, and between two steps the hoist is not: the code says so."""
    text = 'change "Pins" to "shed.circuit"\nstep 1: fix gate_relay at picked\n'
    (shed / "twice.change").write_text(
        text + "step 2: remove lever_pin\nstep 3: remove gate_pin\nstep 4: add\n"
        "    interlock a\n        lever moves to lift only while gate is shut\n"
        "    interlock b\n        gate moves to open only while lever is hold\n",
        encoding="utf-8",
    )
    result = call(shed, "shed.circuit", "twice.change", "--stages", "--json")
    found = data(result)
    assert outcomes(found)["not_through_gate"] == "same"
    staged = [(one["step"], one["newly_breached"]) for one in found["stages"]]
    seen = [one["watched"] for one in found["stages"]]
    assert all(one["new"]["shows"] in ("something", "nothing", "undecided") for one in seen)
    assert any(one["new"]["shows"] == "something" for one in seen)
    assert staged == [(1, []), (2, ["not_through_gate"]), (3, ["not_through_gate"])]
    assert result.exit_code == 1
    assert call(shed, "shed.circuit", "twice.change", "--quiet").exit_code == 0


@pytest.mark.slow
def test_the_report_tells_all_of_it_in_order(shed: Path) -> None:
    """Verdicts, the sequence of what is newly breached, half-fitted states, the text."""
    result = call(shed, "shed.circuit", "pins.change", "relay.change", "--stages")
    said = result.stdout
    order = [
        "The pins are taken out",
        "they jam",
        "newly breached",
        "1. not_through_gate: breached, for some sizes, after the change",
        "hoistman moves lever from hold to lift",
        "Half-fitted, after each step",
        "after step 1 of pins.change: nothing is newly breached",
        "Some of the changes",
        "with pins.change alone: nothing is newly breached",
        "not_through_gate is breached by no fewer than pins.change and relay.change",
        "The text",
        "-interlock gate_pin",
    ]
    places = [said.index(words) for words in order]
    assert places == sorted(places)
    assert CAUTION in " ".join(said.split())
    assert max(map(len, said.splitlines())) <= 100
    assert "?" not in said
    assert "speaks of gate_relay" not in said


@pytest.mark.slow
def test_two_circuits_are_compared_and_the_change_is_derived(shed: Path) -> None:
    """The steps between them are printed; a withdrawn property without a reason is shown."""
    text = SHED.replace(
        "control gate: shut, open; starts shut", "control gate: shut, open; starts open"
    )
    text = text[: text.index("property can_lift")]
    (shed / "found.circuit").write_text(text, encoding="utf-8")
    result = call(shed, "shed.circuit", "found.circuit")
    assert result.exit_code == 0
    assert "step 1: set gate: starts open" in result.stdout
    assert "can_lift: is asked no more, and nobody says why" in " ".join(result.stdout.split())
    assert "not_through_gate: speaks of gate, which was changed" in result.stdout
    same = call_with_processes(shed, "shed.circuit", "shed.circuit", "--quiet")
    assert same.exit_code == 0
    assert same.stdout.startswith("not_through_gate: same: holds, any speed -> holds, any speed\n")


def test_a_slip_shows_both_places_at_once(shed: Path) -> None:
    """A step that does not apply: code 2, the change's line and the circuit's, no traceback."""
    (shed / "bad.change").write_text(
        'change "A" to "shed.circuit"\nstep 1: fix gate at ajar\nstep 2: remove lever\n',
        encoding="utf-8",
    )
    result = call(shed, "shed.circuit", "bad.change")
    assert result.exit_code == 2
    assert f"{shed}/bad.change:2:21: step 1 does not apply" in result.stderr
    assert f"{shed}/shed.circuit:5:1: this is where step 1 would be done" in result.stderr
    mended = 'change "A" to "shed.circuit"\nstep 1: remove lever\n'
    (shed / "bad.change").write_text(mended, encoding="utf-8")
    wrong = call(shed, "shed.circuit", "bad.change")
    assert wrong.exit_code == 2
    assert "after step 1 the circuit is wrong, as follows" in wrong.stderr
    assert "(after step 1 of bad.change):" in wrong.stderr
    assert wrong.stdout == ""


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("shed.circuit",), "Missing argument"),
        (("shed.circuit", "none.change"), "none.change` does not exist"),
        (("shed.circuit", "pins.change", "pins.change"), "a change is named twice"),
        (("shed.circuit", "pins.change", "shed.circuit"), "is no change"),
        (("-", "-"), "only one of the files can be standard input"),
        (("pins.change", "shed.circuit"), "is a change; name the circuit before it"),
        (("bare.circuit", "bare.change"), "states a property to judge"),
    ],
)
def test_a_wrong_call_is_answered(shed: Path, arguments: tuple[str, ...], said: str) -> None:
    """Code 2 and a sentence."""
    result = call(shed, *arguments, given="")
    assert result.exit_code == 2
    assert said in result.stderr
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize(
    "junk",
    [
        b"",
        b"change",
        b"change \xff\xfe",
        b'change "a" to "shed.circuit"\nstep 1: add\n' + b"  (" * 3000,
        b'change "a" to "shed.circuit"\n' + b"step 1: set lift: choke 1 mm\n" * 300,
        b'change "a" to "shed.circuit"\nstep 1: replace "x" with\n\tflow',
        b'change "a" to "shed.circuit"\nstep 1: add\n    part p\n        ports a\n',
        b'change "a" to "shed.circuit"\nstep 99999999999999999999999999999999999: add',
        b'change "a" to "shed.circuit"\nstep 1: set lift from 1 .. 2 bar to 3',
        b'change "\x1b[2J" to "shed.circuit"\nstep 1: remove lift',
        b'change "a" to ""\nstep 1: remove lift',
    ],
)
def test_whatever_the_bytes_there_is_an_answer(shed: Path, junk: bytes) -> None:
    """Never a traceback, never a sign that a screen would obey."""
    (shed / "junk.change").write_bytes(junk)
    result = call(shed, "shed.circuit", "junk.change")
    assert result.exit_code == 2
    assert "Traceback" not in result.stderr
    assert "defect" not in result.stderr
    assert "\x1b" not in result.stderr


def test_help_says_what_it_is_for() -> None:
    """The help fits 80 columns, has an example and the caution."""
    result = CliRunner().invoke(main, ["compare", "--help"])
    assert result.exit_code == 0
    assert "airproof compare winder.circuit blank_bypass.change --stages" in result.output
    assert CAUTION in " ".join(result.output.split())
    assert max(map(len, result.output.splitlines())) <= 80


def test_what_a_watcher_could_see_is_told_both_ways(shed: Path) -> None:
    """A section of the report, the same as data, and files for other solvers."""
    out = shed / "proofs"
    told = call(shed, "shed.circuit", "pins.change", "--certificates", str(out))
    assert "What a watcher could see, at any speed" in told.stdout
    assert "- new: the changed circuit can show what the circuit before never does" in told.stdout
    assert "- gone: the changed" not in told.stdout
    data: dict[str, Any] = json.loads(call(shed, "shed.circuit", "pins.change", "--json").stdout)
    jsonschema.validate(data, comparison_schema())
    watched = data["watched"]
    assert (watched["new"]["shows"], watched["gone"]["shows"]) == ("something", "nothing")
    last = watched["new"]["views"][-1]["positions"]
    assert (last["lever"], last["gate"]) == ("lift", "open")
    assert watched["new"]["sequence"][-1]["kind"] == "elapse"
    names = sorted(path.name for path in out.iterdir())
    assert names[:1] == ["01-new-1-start.smt2"]
    assert names[-1] == "README.md"
    for path in out.glob("*.smt2"):
        assert cvc5_answer(path.read_text(encoding="utf-8")) == "unsat", path


def test_a_change_that_shows_nowhere_is_told_so(shed: Path) -> None:
    """Another choke is no difference at any speed, and that is said first."""
    (shed / "choke.change").write_text(
        'change "A choke" to "shed.circuit"\nstep 1: set lift: choke 2 mm\n', encoding="utf-8"
    )
    told = call(shed, "shed.circuit", "choke.change")
    assert "no difference: statement by statement they say the same" in " ".join(
        told.stdout.split()
    )
    brief = call(shed, "shed.circuit", "choke.change", "--quiet").stdout
    assert "new: the changed circuit shows nothing that the circuit before does not show" in brief


def test_a_folder_that_holds_something_else_is_refused_at_once(shed: Path) -> None:
    """Nothing is proved first."""
    told = call(shed, "shed.circuit", "pins.change", "--certificates", str(shed))
    assert told.exit_code == 2
    assert "holds files that are no certificates" in told.stderr


# ---- as a page


def test_the_page_of_a_comparison(shed: Path) -> None:
    """The page, a line for each property, and the same exit code; printed it is the same."""
    target = shed / "compared.html"
    done = call(
        shed,
        "shed.circuit",
        "pins.change",
        "relay.change",
        "-o",
        "compared.html",
        "--date",
        "2026-11-28",
    )
    assert done.exit_code == 1, done.output
    text = target.read_text()
    assert text.startswith("<!DOCTYPE html>")
    assert "✗ newly breached" in text
    assert "not_through_gate: newly breached" in done.stdout
    assert "written" in done.stderr
    printed = call(
        shed, "shed.circuit", "pins.change", "relay.change", "-o", "-", "--date", "2026-11-28"
    )
    assert printed.stdout == text


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("-o", "shed.circuit"), "name another file"),
        (("-o", "pins.change"), "name another file"),
        (("-o", "none/x.html"), "no folder"),
        (("-o", "-", "--json"), "only one of"),
        (("-o", "x.html", "--date", "soon"), "soon"),
    ],
)
def test_a_page_that_cannot_be_written(shed: Path, words: tuple[str, ...], said: str) -> None:
    """Is refused before anything is judged, everything as it was."""
    done = call(shed, "shed.circuit", "pins.change", *words)
    assert done.exit_code == 2
    assert said in done.stderr
    assert (shed / "shed.circuit").read_text() == SHED
    assert (shed / "pins.change").read_text() == PINS
    assert not (shed / "x.html").exists()


RENAMED = """change "Names as on the new plate" to "shed.circuit"
step 1: add
    control handle: hold, lift; starts hold; worked by hoistman
    interlock gate_pin_new "No lifting through an open gate"
        handle moves to lift only while gate is shut
    flow hoist: main -> brake while handle is lift and gate_relay is picked, one way
    property gate_first "Nothing is lifted through an open gate"
        severity critical
        never hoist is flowing while gate is open
step 2: replace lever_pin with
    interlock lever_pin "No opening while it lifts"
        gate moves to open only while handle is hold
step 3: withdraw not_through_gate because "it goes by another name"
step 4: remove lift
step 5: remove gate_pin
step 6: remove lever
"""


def test_other_names_are_told_once_and_are_no_change(shed: Path) -> None:
    """Things, and a property that is withdrawn and asked again by another name."""
    (shed / "plate.change").write_text(RENAMED, encoding="utf-8")
    told = " ".join(call(shed, "shed.circuit", "plate.change").stdout.split())
    line = "Taken for the same under another name: lever as handle, lift as hoist, the property"
    assert told.count(line) == 1
    assert "not_through_gate as gate_first" in told
    assert "was called not_through_gate and withdrawn, because" in told
    assert "its own sentence was changed" not in told
    assert "speaks of" not in told
    assert "no difference: statement by statement they say the same" in told
    found = data(call(shed, "shed.circuit", "plate.change", "--json"))
    assert found["renamed"]["things"] == {"lever": "handle", "lift": "hoist"}
    assert found["renamed"]["properties"] == {"not_through_gate": "gate_first"}
    entry = found["properties"][0]
    assert (entry["name_before"], entry["name"]) == ("not_through_gate", "gate_first")
    assert (entry["outcome"], entry["by"], entry["meaning"]) == ("same", "old proof", [])
    assert entry["withdrawn_because"] == "it goes by another name"
    assert found["reach"] == []


def test_standing_combinations_are_told_with_what_can_be_reached(shed: Path) -> None:
    """Without the pins the lever and the gate stand together as they never did."""
    told = " ".join(call(shed, "shed.circuit", "pins.change").stdout.split())
    where = "lever is lift, gate is open, gate_relay is dropped"
    assert f"{where}: newly so together while time passes; before no run did" in told
    found = data(call(shed, "shed.circuit", "pins.change", "--json"))["watched"]["stands"]
    assert found["complete"]
    stand = {"lever": "lift", "gate": "open"}
    assert {one["change"] for one in found["found"]} == {"new"}
    assert all(one["positions"].items() >= stand.items() for one in found["found"])
    assert all(one["proved"] for one in found["found"])


def test_what_is_withdrawn_for_a_while_is_asked_between(shed: Path) -> None:
    """Withdrawn first and added again last, the property is judged at every stage all the same."""
    (shed / "while.change").write_text(
        'change "Out of sight" to "shed.circuit"\n'
        'step 1: withdraw not_through_gate because "asked anew below"\n'
        "step 2: set lift: while lever is lift or gate is open\n"
        "step 3: set lift: while lever is lift and gate_relay is picked\n"
        "step 4: add\n"
        '    property not_through_gate "Nothing is lifted through an open gate"\n'
        "        severity critical\n"
        "        never lift is flowing while gate is open\n",
        encoding="utf-8",
    )
    result = call(shed, "shed.circuit", "while.change", "--stages", "--json", "-o", "page.html")
    assert result.exit_code == 1, result.output
    staged = [(one["step"], one["newly_breached"]) for one in data(result)["stages"]]
    assert staged == [(1, []), (2, ["not_through_gate"]), (3, [])]
    page = (shed / "page.html").read_text()
    assert "after step 2: breaches not_through_gate" in page
    assert "Watched: lever, gate" in page


def test_included_files_that_differ_are_told(shed: Path) -> None:
    """The circuits' own texts are the same; what they include is not."""
    lines = {"old": "relay lamp: lit while lever is lift, dark otherwise\n"}
    lines["new"] = lines["old"].replace("is lift", "is hold")
    for folder, line in lines.items():
        (shed / folder).mkdir()
        text = SHED.replace("supply", 'include "lamp.circuit"\nsupply', 1)
        (shed / folder / "shed.circuit").write_text(text, encoding="utf-8")
        (shed / folder / "lamp.circuit").write_text(line, encoding="utf-8")
    told = call(shed, "old/shed.circuit", "new/shed.circuit")
    assert "what they include differs" in " ".join(told.stdout.split())
    assert "+++ after lamp.circuit" in told.stdout
    assert "+relay lamp: lit while lever is hold, dark otherwise" in told.stdout
    assert "not a line differs" not in told.stdout


def test_a_change_that_takes_something_out_of_sight_says_so(shed: Path) -> None:
    """Once something is marked, the relay is watched no more."""
    text = 'change "Eyes" to "shed.circuit"\nstep 1: add\n    observe brake\n'
    (shed / "eyes.change").write_text(text, encoding="utf-8")
    told = " ".join(call(shed, "shed.circuit", "eyes.change").stdout.split())
    assert (
        "Only the changed circuit marks what is watched; else gate_relay would be watched too."
        in told
    )


LATCH = """circuit latch
supply main: 1 bar .. 6 bar
cylinder brake: starts 0 bar
control lever: hold, lift; starts hold
control gate: shut, open; starts shut
relay gate_relay: picked while gate is shut, dropped otherwise
flow lift: main -> brake while lever is lift and gate is shut, one way
property gated "Nothing is lifted through an open gate"
    never lift is flowing while gate is open
"""


def test_a_change_that_needs_a_quicker_device_is_found(tmp_path: Path) -> None:
    """The relay instead of the gate's own way: right at any speed, as long as it drops at once."""
    (tmp_path / "latch.circuit").write_text(LATCH, encoding="utf-8")
    through = LATCH.replace("and gate is shut, one", "and gate_relay is picked, one")
    (tmp_path / "relay.circuit").write_text(through, encoding="utf-8")
    result = call(tmp_path, "latch.circuit", "relay.circuit", "--slow", "--json")
    found = data(result)
    assert result.exit_code == 0
    assert outcomes(found) == {"gated": "newly conditional"}
    (entry,) = found["properties"]
    assert (entry["before"]["only_if_at_once"], entry["after"]["only_if_at_once"]) == (
        [],
        ["gate_relay"],
    )
    back = data(call(tmp_path, "relay.circuit", "latch.circuit", "--slow", "--json"))
    assert outcomes(back) == {"gated": "same"}
    plain = data(call(tmp_path, "latch.circuit", "relay.circuit", "--json"))
    assert outcomes(plain) == {"gated": "same"}
    assert not plain["asked_with_slow_devices"]


def test_what_needs_a_quicker_device_is_told_with_its_run(tmp_path: Path) -> None:
    """On the terminal and on the page; without the question it stands in what is granted."""
    (tmp_path / "latch.circuit").write_text(LATCH, encoding="utf-8")
    through = LATCH.replace("and gate is shut, one", "and gate_relay is picked, one")
    (tmp_path / "relay.circuit").write_text(through, encoding="utf-8")
    page = tmp_path / "page.html"
    call(tmp_path, "latch.circuit", "relay.circuit", "--slow", "-o", "page.html")
    said = call(tmp_path, "latch.circuit", "relay.circuit", "--slow").stdout
    for text in (" ".join(said.split()), " ".join(page.read_text(encoding="utf-8").split())):
        assert "newly conditional" in text
        assert "gated: newly breached with gate_relay slow; before the change: holds" in text
        assert "gate moves from shut to open" in text
        assert "gate_relay moves at once" in text
        assert "--slow asks it" not in text
    plain = " ".join(call(tmp_path, "latch.circuit", "relay.circuit").stdout.split())
    assert "With a slow device" not in plain
    assert "--slow asks it of both circuits" in plain
    files = ("latch.circuit", "relay.circuit")
    quiet = call_with_processes(tmp_path, *files, "--slow", "--quiet").stdout
    assert "gated: newly breached with gate_relay slow" in quiet


GUARDED = """circuit guarded
supply main: 0 bar .. 8 bar
cylinder brake: starts 0 bar
control lever: hold, lift; starts hold
control gate: shut, open; starts shut
valve guard: shut, open; starts shut
    moves to open when main >= 5 bar +- 0.1 bar
    moves to shut when main <= 4 bar +- 0.1 bar
signal unsafe: gate is open
flow feed: main -> brake while lever is lift and guard is open and gate is shut, one way
property poor "Not fed on poor air"
    never feed is flowing while main < 3.5 bar
property gated "Not fed past an open gate"
    never feed is flowing while unsafe
"""
ASKED_OTHERWISE = """change "Weaken, endanger, mend, restore" to "guarded.circuit"
step 1: replace unsafe with signal unsafe: gate is open and lever is hold
step 2: set feed: while lever is lift and guard is open
step 3: set feed: while lever is lift and guard is open and gate is shut
step 4: replace unsafe with signal unsafe: gate is open
"""


@pytest.fixture
def guarded(tmp_path: Path) -> Path:
    """The folder with a circuit, and a change of each kind below."""
    weak = 'change "A weak spring" to "guarded.circuit"\nstep 1: set guard from 4 bar to 3 bar\n'
    (tmp_path / "guarded.circuit").write_text(GUARDED, encoding="utf-8")
    (tmp_path / "weak.change").write_text(weak, encoding="utf-8")
    (tmp_path / "asked.change").write_text(ASKED_OTHERWISE, encoding="utf-8")
    return tmp_path


def test_a_breach_may_cross_a_setting_that_only_the_old_circuit_has(guarded: Path) -> None:
    """Its run is a hint to the watcher's part, which looks at the settings of both."""
    result = call(guarded, "guarded.circuit", "weak.change", "--json")
    found = data(result)
    assert (result.exit_code, result.stderr) == (1, "")
    assert outcomes(found)["poor"] == "newly breached"
    assert found["watched"]["new"]["shows"] == "something"


def test_a_stage_is_not_passed_by_a_question_that_is_weakened_for_a_while(guarded: Path) -> None:
    """A step weakens the signal, the next is dangerous, and both are put right again."""
    result = call(guarded, "guarded.circuit", "asked.change", "--stages", "--json")
    found = data(result)
    assert [one["newly_breached"] for one in found["stages"]] == [[], ["gated (as before)"], []]
    assert all(one["asked_as_before_and_after"] == ["gated"] for one in found["stages"])
    assert result.exit_code == 1
