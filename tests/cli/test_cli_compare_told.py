"""`compare` where a word too many would be wrong: races, names given away, an interruption."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import Result
from rich.console import Console

from airproof.cli import carrying
from airproof.cli.collecting import Told
from airproof.cli.comparing import Comparing, proposed
from airproof.cli.task import Retry
from airproof.cli.watching import Watch, Watched, unwatched
from airproof.cli.workers import Tell
from airproof.report.compared import show_comparison
from airproof.report.comparison_data import comparison_schema
from cli.at_once import at_once, called

RACE = """circuit transient
supply main: 0 bar .. 8 bar
control lever: hold, lift; starts hold
relay r1: on while lever is lift, off otherwise
relay r2: on while lever is lift and r1 is off and main > 9 bar, off otherwise
property never_on "The second relay never picks"
    never r2 is on
    even for an instant
"""
HOIST = """circuit hoist
control lever: hold, lift; starts hold
control gate: shut, open; starts shut
relay motor: on while lever is lift and gate is shut, off otherwise
property gated "Nothing is lifted through an open gate"
    never motor is on and gate is open
"""
OTHER_NAME = """change "Another name, and no gate" to "hoist.circuit"
step 1: withdraw gated because "called otherwise"
step 2: add
    property safe "Nothing is lifted through an open gate"
        never motor is on and gate is open
step 3: replace motor with relay motor: on while lever is lift, off otherwise
"""
ADDED = """change "Another property by the old name" to "hoist.circuit"
step 1: add
    property gated "The lever stands somewhere"
        never lever is lift and lever is hold
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """With the circuits and their changes."""
    texts = {
        "race.circuit": RACE,
        "races.circuit": RACE.replace(" and main > 9 bar", ""),
        "hoist.circuit": HOIST,
        "other.change": OTHER_NAME,
        "added.change": ADDED,
    }
    for name, text in texts.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


def call(folder: Path, *words: str) -> Result:
    """`compare` with files of that folder."""
    return called("compare", *(folder / one if "." in one else one for one in words))


def data(result: Result) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(result.stdout)
    jsonschema.validate(found, comparison_schema())
    return found


def test_a_breach_in_which_no_time_passes_is_no_hint(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A watcher sees nothing of it: it would be an empty list of views."""
    asked: list[Watch] = []

    def nobody(watch: Watch, told: Told) -> Watched:
        asked.append(watch)
        return Watched(unwatched(watch.old, watch.new))

    monkeypatch.setattr("airproof.cli.comparing.watched", nobody)
    plan = proposed(str(folder / "race.circuit"), [str(folder / "races.circuit")])
    with at_once():
        found = Comparing(plan, 10.0, None, 1, Told()).compared(stages=False)
    (verdict,) = found.after.verdicts
    assert verdict.word == "breached"
    assert verdict.sequence is not None
    assert {step.kind for step in verdict.sequence.steps} == {"switch"}
    assert [(watch.shown, watch.gone) for watch in asked] == [((), ())]


def test_a_property_whose_name_another_one_takes_has_one_entry(folder: Path) -> None:
    """It goes by the name under which it is asked after both changes."""
    result = call(folder, "hoist.circuit", "other.change", "added.change", "--json")
    assert result.exit_code == 1
    found = data(result)
    assert found["smallest"] == {"safe": [[str(folder / "other.change")]]}
    assert found["fewer_ruled_out"] == {"safe": True}
    assert [one["newly_breached"] for one in found["subsets"]] == [["safe"], [], ["safe"]]
    told = " ".join(call(folder, "hoist.circuit", "other.change", "added.change").stdout.split())
    assert "safe is breached by no fewer than other.change" in told
    assert "gated is breached" not in told
    assert told.count("safe: breached, for some sizes") == 1


def test_steps_that_cannot_be_done_one_by_one_leave_the_stages_unknown(folder: Path) -> None:
    """The two ends are judged; the code is that of what was not."""
    text = HOIST.replace("control gate: shut, open;", "control gate: shut, open, ajar;")
    other = text.replace('"Nothing is lifted through an open gate"', '"Nothing is lifted"')
    (folder / "else.circuit").write_text(other, encoding="utf-8")
    plan = proposed(str(folder / "hoist.circuit"), [str(folder / "else.circuit")])
    assert len(plan.done) > 1
    with at_once():
        comparing = Comparing(replace(plan, done=()), 10.0, None, 1, Told())
        found = comparing.compared(stages=True)
    assert [one.word for one in found.after.verdicts] == ["holds"]
    assert comparing.code == 3
    stream = io.StringIO()
    show_comparison(found, Console(file=stream, width=200))
    assert "cannot be done one by one, so what lies in between was not judged" in stream.getvalue()


TWO_GATES = """circuit two
supply main: 0 bar .. 8 bar
control lever: hold, lift; worked by hoistman
valve gauge: poor, good; starts poor
    moves to good when main >= 5 bar +- 0.1 bar
    moves to poor when main <= 4 bar +- 0.1 bar
relay motor: on while lever is lift and gauge is good, off otherwise
relay lamp: on while motor is on, off otherwise; moving takes 1 s .. 2 s
property good_air "No lifting on poor air"
    never motor is on and gauge is poor
"""
FOR_A_WHILE = """change "Otherwise for a while" to "two.circuit"
step 1: set gauge from 4 bar to 1 bar
step 2: set lever: starts hold
step 3: replace lamp with relay lamp: on while motor is on, off otherwise
step 4: withdraw good_air because "weaker"
step 5: add
    property good_air "No lifting on poor air"
        never motor is on and gauge is poor and main > 9 bar
step 6: withdraw good_air because "put right"
step 7: add
    property good_air "No lifting on poor air"
        never motor is on and gauge is poor
step 8: replace lamp with relay lamp: on while motor is on, off otherwise; moving takes 1 s .. 2 s
step 9: set lever: starts hold or lift
step 10: set gauge from 1 bar to 4 bar
"""


def test_what_is_otherwise_for_a_while_is_told_of_each_stage(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each by a name that nothing else would tell of: nothing is breached.  Nobody watches."""

    def nobody(watch: Watch, told: Told) -> Watched:
        return Watched(unwatched(watch.old, watch.new))

    monkeypatch.setattr("airproof.cli.comparing.watched", nobody)
    (folder / "two.circuit").write_text(TWO_GATES, encoding="utf-8")
    (folder / "while.change").write_text(FOR_A_WHILE, encoding="utf-8")
    done = called(
        "compare", folder / "two.circuit", folder / "while.change", "--stages", "--slow", "--json"
    )
    data = json.loads(done.output)
    jsonschema.validate(data, comparison_schema())
    bent = {"property": "good_air", "thing": "gauge"}
    assert [bent in stage["speaks_of_what_is_bent"] for stage in data["stages"]] == [True] * 9
    kept = [stage["asked_as_before_and_after"] for stage in data["stages"]]
    assert kept == [*[[]] * 4, ["good_air"], *[[]] * 4]
    shown = called("compare", folder / "two.circuit", folder / "while.change", "--stages", "--slow")
    text = " ".join(shown.output.split())
    assert "gauge is otherwise than before and than after (good_air)" in text
    assert "takes for granted besides: lamp moves at once; lever starts hold only" in text
    assert "asks otherwise for a while, asked as before and after besides: good_air" in text
    assert "the half-fitted circuits were not asked so" in text


PLATED = """circuit plated
supply main: 0 psi .. 100 psi
control lever: hold, lift; starts hold; worked by hoistman
relay motor: on while lever is lift, off otherwise
property never_on "It never lifts"
    never motor is on
"""
OTHER_QUESTION = """change "Another question" to "plated.circuit"
step 1: withdraw never_on because "never so"
step 2: add
    relay x: on while y is off, off otherwise
    relay y: on while x is on, off otherwise
step 3: set main: 0 psi .. 99.95 psi
step 4: set main: 0 psi .. 100 psi
step 5: replace x with relay x: on while lever is lift, off otherwise
step 6: add
    property never_on "The second relay never picks"
        never y is on
step 7: add
    property lifts "It never lifts"
        never motor is on
"""


def test_a_stage_without_properties_is_examined_and_a_name_is_no_question(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Health is not withdrawn; what is breached by an old name is new where that asks otherwise."""

    def nobody(watch: Watch, told: Told) -> Watched:
        return Watched(unwatched(watch.old, watch.new))

    monkeypatch.setattr("airproof.cli.comparing.watched", nobody)
    (folder / "plated.circuit").write_text(PLATED, encoding="utf-8")
    (folder / "other.change").write_text(OTHER_QUESTION, encoding="utf-8")
    words = ("compare", folder / "plated.circuit", folder / "other.change", "--stages")
    shown = called(*words)
    text = " ".join(shown.output.split())
    assert shown.exit_code == 2
    assert "after step 2: health:" in text
    assert "main stays between 0 and about 6.89 bar" in text.split("after step 3")[1]
    assert "after step 6: breaches never_on " in text
    assert "1. never_on: breached, for some sizes, after the change" in text
    data = json.loads(called(*words, "--json").output)
    jsonschema.validate(data, comparison_schema())
    assert data["stages"][5]["newly_breached"] == ["never_on"]
    assert {one["name"]: one["asked_by"] for one in data["properties"]}["lifts"] is None


def test_nothing_is_said_of_parts_where_time_may_stop(folder: Path) -> None:
    """What is outside the part may be why a property holds."""
    sick = (
        PLATED
        + "relay x: on while y is off, off otherwise\nrelay y: on while x is on, off otherwise\n"
    )
    for name, text, told in (("well", PLATED, True), ("sick", sick, False)):
        (folder / f"{name}.circuit").write_text(text, encoding="utf-8")
        (folder / f"{name}.change").write_text(
            f'change "More air" to "{name}.circuit"\nstep 1: set main: 0 psi .. 110 psi\n',
            encoding="utf-8",
        )
        data = called("compare", folder / f"{name}.circuit", folder / f"{name}.change", "--json")
        (one,) = json.loads(data.output)["properties"]
        assert one["same_part"] is told


def test_the_circuit_may_be_called_like_one_of_its_things(folder: Path) -> None:
    """A step means the thing."""
    (folder / "motor.circuit").write_text(
        PLATED.replace("circuit plated", "circuit motor"), encoding="utf-8"
    )
    change = 'change "Off" to "motor.circuit"\nstep 1: fix motor at off\n'
    (folder / "off.change").write_text(change, encoding="utf-8")
    done = called("compare", folder / "motor.circuit", folder / "off.change", "--quiet")
    assert "never_on: no longer breached" in done.output


STOPPED: list[str | None] = []


def stopping(job: Any, tell: Tell) -> Any:
    """Ctrl-C at the first question about a slow device."""
    if isinstance(job, Retry):
        STOPPED.append(job.device)
        raise KeyboardInterrupt
    return carrying.work(job, tell)


def test_after_an_interruption_no_slow_device_is_asked_about(folder: Path) -> None:
    """Neither of the circuit before nor, after that, of the changed one."""
    STOPPED.clear()
    plan = proposed(str(folder / "hoist.circuit"), [str(folder / "hoist.circuit")])
    with at_once():
        comparing = Comparing(plan, 10.0, None, 1, Told(), work=stopping)
        found = comparing.compared(stages=False, slow=True)
    assert comparing.interrupted
    assert STOPPED == ["motor"]
    for results in (found.before, found.after):
        (verdict,) = results.verdicts
        assert {one.reason for one in verdict.retried} == {"interrupted"}
