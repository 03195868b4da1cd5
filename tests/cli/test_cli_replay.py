"""`airproof replay`, and `prove --junit`: what is told, what goes where, the exit codes."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import jsonschema
import junitparser
import pytest
from click.testing import CliRunner, Result

from airproof.cli.collecting import Asked, Told
from airproof.cli.main import main
from airproof.cli.replaying import Replaying
from airproof.cli.workers import Tell
from airproof.language import load_text
from airproof.report.replay import schema
from cli.at_once import at_once, called
from waveforms import VCDVCD

CHECKER = Path(__file__).resolve().parents[2] / "checker"

TEXT = """\
circuit hoist "Workshop hoist: <air> holds & the \u05d1\u05dc\u05dd off"

supply main: 0 bar .. 8 bar, starts 0 bar .. 8 bar
cylinder brake: 4 litre, starts 0 bar

control lever: stop, lift; starts stop; worked by hoistman
control spare: stop, lift; starts stop
control gate: shut, open; starts shut; worked by outside

valve lockout: shut, open; starts shut
    moves to open when main >= 5.5 bar +- 0.1 bar
    moves to shut when main <= 4.8 bar +- 0.1 bar

flow feed: main -> brake while (lever is lift or spare is lift) and lockout is open, one way
flow vent: brake -> atmosphere while lever is stop or lockout is shut

property low_supply "The brake is never fed while the supply is low"
    never feed is flowing while main < 4.6 bar
property gate_open "The brake is never fed while the gate is open"
    severity critical
    never feed is flowing while gate is open
property can_lift "The hoist can be used at all"
    possible brake >= 5 bar
property no_vent "It never vents"
    possible vent is flowing and brake < 0 bar
property soon "It is off soon"
    whenever lever is stop, brake <= 0.1 bar within 3 s
"""


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("hoist") / "hoist.circuit"
    path.write_text(TEXT, encoding="utf-8")
    return path


def call_with_processes(command: str, *words: str | Path) -> Result:
    return CliRunner().invoke(main, [command, *map(str, words)])


def replay(*words: str | Path) -> Result:
    return called("replay", *words)


@pytest.fixture(scope="module")
def told(file: Path) -> Result:
    return call_with_processes("replay", file, "gate_open")


# ---- what is told


def test_the_story_the_pressures_and_what_it_depends_on(told: Result) -> None:
    """Numbered steps with their reasons, the moment of the breach, a table, what is needed."""
    assert told.exit_code == 1
    assert "gate_open: breached, for some sizes" in told.stdout
    assert "1) " in told.stdout
    assert "it is due, because main is" in told.stdout
    assert "Breached here, while time passes: feed is flowing and gate is open." in told.stdout
    depends = " ".join(told.stdout.split("What it depends on")[1].split())
    assert "- gate is moved to open" in depends
    assert "- lockout moves to open" in depends
    assert "- main >= 5.5 bar +- 0.1 bar (lockout)" in depends
    assert "Not needed, for the breach can come about without any one of:" in depends


def test_the_table_of_pressures_is_of_what_changes(file: Path) -> None:
    """A row for the start and for each stretch in which a value has changed, no other column."""
    done = replay(file, "can_lift", "--quiet")
    assert done.exit_code == 0
    table = done.stdout.split("Pressures")[1].split("What it depends")[0]
    rows = [line.split() for line in table.splitlines() if line.strip()]
    assert rows[0][0] == "after"
    assert "brake" in rows[0]
    assert rows[2][0] == "start"
    assert rows[-1][0].rstrip(")").isdigit()


def test_quiet_tells_the_sequence_only(file: Path, told: Result) -> None:
    """And computes nothing more."""
    done = replay(file, "gate_open", "--quiet")
    assert done.exit_code == 1
    assert "What it depends on" not in done.stdout
    assert told.stdout.startswith(done.stdout)


@pytest.mark.parametrize(
    ("name", "code", "said"),
    [
        ("low_supply", 0, "no run breaches it, so there is nothing to replay"),
        ("no_vent", 1, "no run reaches it, so there is nothing to replay"),
    ],
)
def test_what_has_no_sequence(file: Path, name: str, code: int, said: str) -> None:
    """It says why, with the exit code of `prove`."""
    done = replay(file, name)
    assert done.exit_code == code == called("prove", file, name, "--quiet").exit_code
    assert said in done.stdout


def test_too_few_steps_leave_it_undecided(file: Path) -> None:
    """Nothing to replay, and why."""
    done = replay(file, "gate_open", "--steps", "1")
    assert done.exit_code == 3
    assert "undecided: no breach within 1 steps; there is nothing to replay" in done.stdout


def test_a_run_that_sizes_would_rule_out_is_told_so(file: Path) -> None:
    """With how long passed, for the property has a time in it."""
    done = replay(file, "soon", "--quiet")
    assert done.exit_code == 3
    assert "needs sizes" in done.stdout
    assert "With such sizes breached here" in done.stdout
    assert "Time passes, " in done.stdout


# ---- another


def test_another_one_differs_and_then_there_is_none(file: Path) -> None:
    """One lever, then the other; a third way there is not, and that is no other verdict."""
    runs = [replay(file, "gate_open", "--quiet", *["--another"] * n) for n in range(3)]
    levers = [re.findall(r"(lever|spare) (?:moves )?from stop", one.stdout) for one in runs]
    assert sorted(levers) == [[], ["lever"], ["spare"]]
    assert "(sequence 2)" in runs[1].stdout
    assert "no other sequence: each one of up to 30 steps makes all the moves" in runs[2].stdout
    assert [one.exit_code for one in runs] == [1, 1, 1]


# ---- with a record


def decided(record: Path, name: str, word: str, place: int = 0) -> None:
    """That disposition at the blank entry of the property with that number."""
    pieces = record.read_text().split("[[decision]]")
    mine = [n for n, piece in enumerate(pieces) if f'property = "{name}"' in piece]
    old = pieces[mine[place]]
    assert 'disposition = ""' in old
    pieces[mine[place]] = old.replace('disposition = ""', f'disposition = "{word}"')
    record.write_text("[[decision]]".join(pieces))


def levers(done: Result) -> list[str]:
    return re.findall(r"(lever|spare) (?:moves )?from stop", done.stdout)


def test_what_was_disposed_of_is_passed_over(file: Path, tmp_path: Path) -> None:
    """Each sequence told gets an entry; once that is filled in the next one is told, to the end."""
    record = tmp_path / "hazards.toml"
    call = (file, "gate_open", "--quiet", "--record", record)
    ways = []
    for number, word in enumerate(("not credible because", "accepted"), start=1):
        done = replay(*call)
        assert replay(*call).stdout == done.stdout  # a blank entry disposes of nothing
        assert (f"(sequence {number})" in done.stdout) == (number > 1)
        ways.append(levers(done))
        decided(record, "gate_open", word, number - 1)
    assert sorted(ways) == [["lever"], ["spare"]] or ways == [["spare"], ["lever"]]
    done = replay(*call)
    assert done.exit_code == 1
    assert "no other sequence: each one of up to 30 steps makes all the moves" in done.stdout
    assert record.read_text().count("[[decision]]") == 2


def test_another_is_the_next_that_is_not_disposed_of(file: Path, tmp_path: Path) -> None:
    """With nothing disposed of the second; with the first disposed of the second as well."""
    record = tmp_path / "hazards.toml"
    call = (file, "gate_open", "--quiet", "--record", record)
    replay(*call)
    second = replay(*call, "--another")
    assert "(sequence 2)" in second.stdout
    decided(record, "gate_open", "model wrong")
    assert replay(*call, "--another").stdout == second.stdout == replay(*call).stdout
    assert "no other sequence" in replay(*call, "--another", "--another").stdout


def test_the_moves_of_the_record_are_enough(file: Path, tmp_path: Path) -> None:
    """Also where the sequence that comes first is another one; without them its key is found."""
    record = tmp_path / "hazards.toml"
    call = (file, "gate_open", "--quiet", "--record", record)
    first = replay(*call)
    second = replay(*call, "--another")
    decided(record, "gate_open", "model wrong", 1)
    again = replay(*call)
    assert "(sequence 2)" in again.stdout
    assert again.stdout.replace(" (sequence 2)", "") == first.stdout
    text = record.read_text()
    record.write_text(re.sub(r"steps = .*\nmoves = \[[^]]*\]\n", "", text))
    assert record.read_text().count("moves") < text.count("moves")
    assert levers(replay(*call)) == levers(first)
    assert "no other" in replay(*call, "--another").stdout
    assert levers(second) != levers(first)


def test_another_text_disposes_of_nothing(file: Path, tmp_path: Path) -> None:
    """That is said, and the first sequence told."""
    record, changed = tmp_path / "hazards.toml", tmp_path / "hoist.circuit"
    replay(file, "gate_open", "--quiet", "--record", record)
    decided(record, "gate_open", "accepted")
    changed.write_text(TEXT + "# another text\n")
    done = replay(changed, "gate_open", "--record", record)
    assert "1 of its decisions on gate_open are about another text" in done.stderr
    assert "(sequence" not in done.stdout
    assert record.read_text().count("[[decision]]") == 2


def test_data_says_what_was_disposed_of(file: Path, tmp_path: Path) -> None:
    """By its key, which is that of the entry."""
    record = tmp_path / "hazards.toml"
    first = data(file, "gate_open", "--record", record)
    assert (first["number"], first["disposed"]) == (1, [])
    decided(record, "gate_open", "accepted")
    found = data(file, "gate_open", "--record", record)
    assert found["number"] == 2
    assert [one["sequence"] for one in found["disposed"]] == [first["key"]]
    assert found["key"] != first["key"]


@pytest.mark.parametrize("text", ["[[decision]]\nproperty = 1\n", "x", "decision = []\n"])
def test_an_unreadable_record_stops_it(file: Path, tmp_path: Path, text: str) -> None:
    """Before anything is searched, with its line."""
    record = tmp_path / "hazards.toml"
    record.write_text(text)
    done = replay(file, "gate_open", "--record", record)
    assert done.exit_code == 2
    assert re.search(r"hazards.toml:\d", done.stderr)
    assert (done.stdout, record.read_text()) == ("", text)


# ---- as data


def data(*words: str | Path) -> Any:
    done = replay(*words, "--json")
    found = json.loads(done.stdout)
    jsonschema.validate(found, schema())
    return found


def test_the_data_is_as_its_schema_has_it(file: Path) -> None:
    """The property's entry is that of `prove`, and what is needed is said in words and parts."""
    found = data(file, "gate_open", "--another")
    assert (found["number"], len(found["earlier"])) == (2, 1)
    proved = json.loads(called("prove", file, "gate_open", "--json").stdout)["properties"][0]
    assert found["earlier"][0]["sequence"] == proved["sequence"]
    assert found["property"]["sequence"] != proved["sequence"]
    needed = {(one["what"], one["name"], one["place"]) for one in found["depends_on"]["needed"]}
    assert {("control", "gate", "open"), ("device", "lockout", "open")} <= needed


@pytest.mark.parametrize("words", [("low_supply",), ("gate_open", "--another", "--another")])
def test_no_sequence_is_data_too(file: Path, words: tuple[str, ...]) -> None:
    """With the verdict that has none."""
    found = data(file, *words)
    assert found["property"]["sequence"] is None
    assert found["depends_on"] is None


# ---- files


def test_the_sequence_as_files(file: Path, tmp_path: Path) -> None:
    """Both are written beside the story, whole, and read back elsewhere."""
    table, dump = tmp_path / "run.csv", tmp_path / "run.vcd"
    done = replay(file, "gate_open", "--csv", table, "--vcd", dump, "--json")
    steps = json.loads(done.stdout)["property"]["sequence"]
    rows = list(csv.DictReader(io.StringIO(table.read_text())))
    assert [row["kind"] for row in rows] == ["start", *(step["kind"] for step in steps)]
    assert [row["main bar"] for row in rows[1:]] == [s["state"]["values"]["main"] for s in steps]
    read = VCDVCD(vcd_string=dump.read_text())
    last = read["airproof.values.main"].tv[-1][1]
    assert float(str(last)) == pytest.approx(float(steps[-1]["state"]["values"]["main"]))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["run.csv", "run.vcd"]


def test_a_form_on_standard_output_stands_alone(file: Path) -> None:
    """No story around it, so that another program can read it."""
    done = replay(file, "gate_open", "--csv", "-")
    assert done.exit_code == 1
    rows = list(csv.reader(io.StringIO(done.stdout)))
    assert rows[0][:2] == ["step", "kind"]
    assert {len(row) for row in rows} == {len(rows[0])}
    assert replay(file, "gate_open", "--vcd", "-").stdout.startswith("$comment")


def test_without_a_sequence_no_file_is_touched(file: Path, tmp_path: Path) -> None:
    """An earlier one stays, and it is said."""
    old = tmp_path / "run.csv"
    old.write_text("old")
    done = replay(file, "low_supply", "--csv", old)
    assert done.exit_code == 0
    assert "no file was written" in done.stderr
    assert old.read_text() == "old"


@pytest.mark.parametrize(
    "words",
    [("--json", "--csv", "-"), ("--csv", "-", "--vcd", "-"), ("--csv", "x", "--vcd", "./x")],
)
def test_two_forms_in_one_place(file: Path, words: tuple[str, ...]) -> None:
    """Refused before anything is searched."""
    began = time.process_time()
    done = replay(file, "gate_open", *words)
    assert done.exit_code == 2
    assert "only one of" in done.stderr or "a file each" in done.stderr
    assert time.process_time() - began < 5


def test_the_circuit_is_never_written_over(file: Path) -> None:
    """Nor by a link or another name for it."""
    before = file.read_bytes()
    for words in (("replay", file, "gate_open", "--csv", file), ("prove", file, "--junit", file)):
        done = called(str(words[0]), *words[1:])
        assert done.exit_code == 2
        assert "the circuit" in done.stderr
    assert file.read_bytes() == before


def test_where_it_cannot_be_written(file: Path, tmp_path: Path) -> None:
    """That is said before anything is searched, and no folder comes of it."""
    folder = tmp_path / "none"
    for option in ("--vcd", "--csv", "--record"):
        done = replay(file, "gate_open", "--quiet", option, folder / "x")
        assert (done.exit_code, done.stdout) == (2, "")
        assert f"there is no folder {folder}, so the " in done.stderr
    done = called("prove", file, "gate_open", "--junit", folder / "x")
    assert (done.exit_code, done.stdout) == (2, "")
    assert not folder.exists()


# ---- calls that cannot be carried out


def test_an_unknown_property(file: Path) -> None:
    """What was probably meant is offered."""
    done = replay(file, "gate_opn")
    assert done.exit_code == 2
    assert "no property `gate_opn`; did you mean `gate_open`?" in done.stderr


def test_a_wrong_text(tmp_path: Path) -> None:
    """The message names the line."""
    bad = tmp_path / "bad.circuit"
    bad.write_text("circuit bad\nnonsense\n")
    done = replay(bad, "p")
    assert done.exit_code == 2
    assert "bad.circuit:2" in done.stderr


def test_ctrl_c_ends_it_with_what_is_known(file: Path) -> None:
    """While it looks for what the sequence depends on, the story is there already."""
    process = subprocess.Popen(
        [sys.executable, "-m", "airproof", "replay", str(file), "gate_open"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": str(CHECKER), "PYTHONUNBUFFERED": "1"},
        text=True,
    )
    assert process.stdout is not None
    lines = []
    for line in process.stdout:
        lines.append(line)
        if "Pressures" in line or "By then" in line:
            process.send_signal(signal.SIGINT)
            break
    rest, errors = process.communicate(timeout=30)
    assert "Traceback" not in errors
    assert process.returncode in (1, 2)
    assert "Breached here" in "".join(lines) + rest


def broken(job: Any, tell: Tell) -> Any:
    raise RuntimeError("planted")


def test_a_defect_is_loud() -> None:
    """A job that fails in airproof itself makes the exit code 2."""
    circuit = load_text(TEXT).circuit
    asked = Asked(circuit, ("gate_open",), 60.0, None, 1)
    replaying = Replaying(asked, Told(), broken)
    with at_once():
        verdict = replaying.first()
    assert verdict.word == "undecided"
    assert replaying.exit_code(verdict) == 2
    assert any("planted" in line for line in replaying.defects)


# ---- prove --junit


def test_verdicts_as_junit(file: Path, tmp_path: Path) -> None:
    """Read back: what failed is what is breached; beside it the report is as always."""
    target = tmp_path / "verdicts.xml"
    names = ("gate_open", "low_supply", "soon")
    done = call_with_processes("prove", file, *names, "--quiet", "--junit", target)
    assert done.exit_code == 1
    assert "gate_open: breached" in done.stdout
    (suite,) = junitparser.JUnitXml.fromfile(str(target))
    failed = {c.name for c in suite if any(isinstance(r, junitparser.Failure) for r in c.result)}
    errors = {c.name for c in suite if any(isinstance(r, junitparser.Error) for r in c.result)}
    assert (failed, errors) == ({"gate_open"}, {"soon"})


def test_junit_on_standard_output(file: Path) -> None:
    """Alone there, and not together with --json."""
    done = called("prove", file, "low_supply", "--junit", "-")
    assert done.exit_code == 0
    (suite,) = junitparser.JUnitXml.fromstring(done.stdout.encode())
    assert (suite.failures, suite.errors) == (0, 0)
    assert called("prove", file, "--json", "--junit", "-").exit_code == 2
