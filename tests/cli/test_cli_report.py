"""`airproof report`: the pack, the record, and that no decision is ever lost."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import threading
import time
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from airproof.cli import recording
from airproof.cli.main import main
from airproof.cli.shell import Refused
from airproof.report.caution import CAUTION
from airproof.report.pack.records import Present, added, read
from cli.at_once import called

TEXT = """\
circuit hoist "Workshop hoist"

supply main: 0 bar .. 8 bar, starts 0 bar .. 8 bar
cylinder brake: 4 litre, starts 0 bar

control lever: stop, lift; starts stop; worked by hoistman
control gate: shut, open; starts shut; worked by outside

interlock "No lift with the gate open"
    lever moves to lift only while gate is shut

flow feed: main -> brake while lever is lift, choke 3 mm, one way
flow vent: brake -> atmosphere while lever is stop, choke 6 mm

property gate_open "The brake is never fed while the gate is open"
    severity critical
    never feed is flowing while gate is open
property stops "The brake is not vented while the hoist lifts"
    never vent is flowing while lever is lift
property can_lift "The hoist can be used"
    possible brake >= 5 bar
"""
DATE = ("--date", "2026-11-28", "--limit", "20", "--workers", "1")


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "hoist.circuit"
    path.write_text(TEXT)
    return path


def run(*words: str | Path) -> Result:
    return called("report", *words)


def run_with_processes(*words: str | Path) -> Result:
    return CliRunner().invoke(main, ["report", *map(str, words)])


# ---- the pack


def test_a_pack_is_written(file: Path, tmp_path: Path) -> None:
    """The page, a line for each property, and the exit code of `prove`."""
    target = tmp_path / "pack.html"
    done = run_with_processes(file, "-o", target, *DATE)
    assert done.exit_code == 1, done.output
    text = target.read_text()
    assert text.startswith("<!DOCTYPE html>")
    assert "2026-11-28" in text
    assert "gate_open: breached, for some sizes" in done.stdout
    assert "stops: holds, any speed" in done.stdout
    assert f"{target}: written" in done.stderr
    assert "Moves that it needs" in text
    assert "hoistman moves lever to lift" in text
    assert sorted(p.name for p in tmp_path.iterdir()) == ["hoist.circuit", "pack.html"]


def test_it_is_printed(file: Path, tmp_path: Path) -> None:
    """With - it goes to standard output alone, and is the same."""
    target = tmp_path / "pack.html"
    run(file, "-o", target, *DATE)
    assert run(file, "-o", "-", *DATE).stdout == target.read_text()


def test_only_what_was_asked_for(file: Path, tmp_path: Path) -> None:
    """One property has one chapter, and its exit code."""
    target = tmp_path / "pack.html"
    done = run(file, "stops", "-o", target, *DATE, "--quiet")
    assert (done.exit_code, done.stdout, done.stderr) == (0, "", "")
    assert target.read_text().count('class="page chapter"') == 1


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["stop"], "did you mean `stops`?"),
        (["--matrix", "odd"], "odd"),
        (["--date", "tomorrow"], "`tomorrow` is no date; write it as 2026-11-28"),
        (["--date", "2026-02-30"], "there is no such day as 2026-02-30"),
        (["--record", "no/where/h.toml"], "no folder no/where, so the record cannot be put there"),
        (["--limit", "nan"], "number of seconds"),
    ],
)
def test_a_wrong_call_writes_nothing(
    file: Path, tmp_path: Path, words: list[str], said: str
) -> None:
    """A message and exit code 2."""
    done = run(file, *words, "-o", tmp_path / "pack.html")
    assert done.exit_code == 2
    assert said in done.stderr
    assert not (tmp_path / "pack.html").exists()


@pytest.mark.parametrize("where", [".", "none/pack.html"])
def test_where_it_cannot_be_written(file: Path, tmp_path: Path, where: str) -> None:
    """That is said before anything is proved."""
    done = run(file, "-o", tmp_path / where)
    assert done.exit_code == 2
    assert "folder" in done.stderr
    assert not (tmp_path / "none").exists()


def test_it_does_not_replace_what_it_was_made_from(file: Path, tmp_path: Path) -> None:
    """Neither the circuit nor the record."""
    assert run(file, "-o", file).exit_code == 2
    assert file.read_text() == TEXT
    record = tmp_path / "h.toml"
    assert run(file, "-o", record, "--record", record).exit_code == 2
    assert not record.exists()


def test_help_has_the_caution() -> None:
    """As every command's."""
    assert " ".join(CAUTION.split()) in " ".join(run("--help").stdout.split())


# ---- the record


def test_a_meeting_and_the_next(file: Path, tmp_path: Path) -> None:
    """A breach gets an entry; what it says is on the sheet; a change puts it out of date."""
    target, record = tmp_path / "pack.html", tmp_path / "hazards.toml"
    call = (file, "gate_open", "-o", target, "--record", record, *DATE)
    run(*call)
    blank = record.read_text()
    assert [one["property"] for one in tomllib.loads(blank)["decision"]] == ["gate_open"]
    filled = blank.replace('disposition = ""', 'disposition = "accepted"').replace(
        'because = ""', 'because = "the gate is <watched>"'
    )
    record.write_text(filled)
    run(*call)
    assert record.read_text() == filled
    text = target.read_text()
    assert "☒ accepted" in text
    assert "the gate is &lt;watched&gt;" in text

    file.write_text(TEXT.replace("choke 3 mm", "choke 4 mm"))
    run(*call)
    assert record.read_text().startswith(filled)
    assert len(tomllib.loads(record.read_text())["decision"]) == 2
    text = target.read_text()
    assert "<strong>Out of date</strong>" in text
    assert "is:  flow feed: main -&gt; brake while lever is lift, choke 4 mm, one way" in text
    assert "☒" not in text


TWO_WAYS = TEXT.replace(
    "control gate:", "control spare: stop, lift; starts stop\ncontrol gate:"
).replace("while lever is lift, choke 3", "while (lever is lift or spare is lift), choke 3")


def sheet_of(text: str) -> str:
    return text[text.index("Record sheet: gate_open") :]


def test_a_silly_sequence_does_not_end_the_meeting(file: Path, tmp_path: Path) -> None:
    """Set aside, the pack tells the next one, with a sheet and an entry of its own; then none."""
    file.write_text(TWO_WAYS)
    target, record = tmp_path / "pack.html", tmp_path / "hazards.toml"
    call = (file, "gate_open", "-o", target, "--record", record, *DATE)
    assert run(*call).exit_code == 1
    first = target.read_text()
    assert "Other sequences that were decided on" not in first
    silly = record.read_text().replace('disposition = ""', 'disposition = "model wrong"')
    silly = silly.replace('because = ""', 'because = "nobody <can> reach it"')
    record.write_text(silly)
    assert run(*call).exit_code == 1
    second = target.read_text()
    assert "it leaves out a move of each one that was set aside" in second
    assert "model wrong: <bdi>nobody &lt;can&gt; reach it</bdi>" in second
    assert "open; 1 other decided" in second
    assert "☒" not in sheet_of(second)
    assert record.read_text().startswith(silly)
    entries = tomllib.loads(record.read_text())["decision"]
    assert len({one["sequence"] for one in entries}) == len(entries) == 2
    assert all(any(" stop lift" in line for line in one["moves"]) for one in entries)
    moved = ["spare" if " spare stop lift" in "".join(o["moves"]) else "lever" for o in entries]
    assert sorted(moved) == ["lever", "spare"]

    record.write_text(record.read_text().replace('disposition = ""', 'disposition = "accepted"'))
    run(*call)
    assert "☒ accepted" in sheet_of(target.read_text())
    record.write_text(record.read_text().replace('"accepted"', '"not credible because"'))
    run(*call)
    third = target.read_text()
    assert "there is no other one to tell: each one of up to 30 steps makes all the" in third
    assert "☒ model wrong" in sheet_of(third)
    assert len(tomllib.loads(record.read_text())["decision"]) == 2


def test_an_accepted_sequence_is_told_again(file: Path, tmp_path: Path) -> None:
    """It is the property's breach, and its decision stands on its sheet."""
    file.write_text(TWO_WAYS)
    target, record = tmp_path / "pack.html", tmp_path / "hazards.toml"
    call = (file, "gate_open", "-o", target, "--record", record, *DATE)
    run(*call)
    record.write_text(record.read_text().replace('disposition = ""', 'disposition = "accepted"'))
    run(*call)
    assert "☒ accepted" in sheet_of(target.read_text())
    assert len(tomllib.loads(record.read_text())["decision"]) == 1


def test_what_holds_adds_nothing(file: Path, tmp_path: Path) -> None:
    """No entry, no file, no lock, and the pack says so."""
    record = tmp_path / "hazards.toml"
    run(file, "stops", "-o", tmp_path / "pack.html", "--record", record, *DATE)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["hoist.circuit", "pack.html"]
    assert "there was nothing to record" in (tmp_path / "pack.html").read_text()


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b'[[decision]]\nproperty = "x"\nsequence "y"\n', "hazards.toml:3:10: "),
        (b"x = 1\n\xff\xfe\n", "hazards.toml:2: this is no text in UTF-8"),
        (b"x = 1\nx = 2\n", "hazards.toml:2:"),
        (b"x = 1\ndecision = []\n", "under a line [[decision]]\n    decision = []\n    ^"),
        (b"\xef\xbb\xbfx = 1\nx 2\n", "hazards.toml:2:3: "),
        (b"\xef\xbb\xbfx 1\n", "key/value pair\n    x 1\n      ^\n"),
    ],
)
def test_an_unreadable_record_stops_the_command(
    file: Path, tmp_path: Path, data: bytes, said: str
) -> None:
    """With its line, before anything is proved, the file as it was and no pack."""
    record = tmp_path / "hazards.toml"
    record.write_bytes(data)
    started = time.process_time()
    done = run(file, "-o", tmp_path / "pack.html", "--record", record)
    assert done.exit_code == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr
    assert record.read_bytes() == data
    assert not (tmp_path / "pack.html").exists()
    assert time.process_time() - started < 5


def test_a_folder_is_no_record(file: Path, tmp_path: Path) -> None:
    """A message and exit code 2."""
    done = run(file, "-o", tmp_path / "pack.html", "--record", tmp_path)
    assert done.exit_code == 2
    assert "cannot read" in done.stderr


# ---- nothing is lost


def present(number: int) -> Present:
    name = f"p{number}"
    return Present(
        f"{number:064x}", {"a.circuit": f"circuit c{number}\n"}, {name: f"{number:016x}"}
    )


WRITER = """
import os, sys
from airproof.cli.recording import keep
from airproof.report.pack.records import Present

def present(n):
    return Present(f"{n:064x}", {"a.circuit": f"circuit c{n}" + chr(10)}, {f"p{n}": f"{n:016x}"})

for line in sys.stdin:
    first, last = map(int, line.split())
    child = os.fork()
    if not child:
        os.write(1, f"{os.getpid()}\\n".encode())
        for n in range(first, last):
            keep(sys.argv[1], present(n))
            os.write(1, f"{n}\\n".encode())
        os._exit(0)
    os.waitpid(child, 0)
    os.write(1, b"ended\\n")
"""


def writer(record: Path) -> subprocess.Popen[str]:
    """For each line `FIRST LAST` it gets, a process of its own that adds those entries."""
    command = [sys.executable, "-c", WRITER, str(record)]
    return subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1
    )


@pytest.mark.slow
def test_killed_at_any_moment_nothing_is_lost(tmp_path: Path) -> None:
    """50 writers are killed while they write: the record stays whole and has what was added."""
    record, draw, told = tmp_path / "hazards.toml", random.Random(4), 0
    record.write_text('# mine\n[[decision]]\nproperty = "a"\nsequence = "b"\nfingerprint = "c"\n')
    mine = record.read_text()
    with writer(record) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        for turn in range(50):
            process.stdin.write(f"{turn * 1000} {turn * 1000 + 1000}\n")
            child = int(process.stdout.readline())
            time.sleep(draw.uniform(0.0, 0.3))
            os.kill(child, signal.SIGKILL)
            done = [int(line) for line in iter(process.stdout.readline, "ended\n")]
            text = record.read_text()
            assert text.startswith(mine)
            known = {one.property for one in read(text).decisions}
            assert {f"p{n}" for n in done} | {"a"} <= known
            told += len(done)
            mine = text
        process.stdin.close()
    assert told > 20


def test_two_writers_lose_nothing(tmp_path: Path) -> None:
    """Two processes add entries to one record at once; every entry is there once."""
    record = tmp_path / "hazards.toml"
    writers = [writer(record), writer(record)]
    for process, line in zip(writers, ("0 40", "1000 1040"), strict=True):
        assert process.stdin is not None
        process.stdin.write(f"{line}\n")
    for process in writers:
        told, _ = process.communicate(timeout=120)
        assert told.split()[-1] == "ended"
    names = [one.property for one in read(record.read_text()).decisions]
    assert sorted(names) == sorted(f"p{n}" for n in (*range(40), *range(1000, 1040)))


def test_a_person_saves_meanwhile(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody who saves the file between reading and writing keeps what they wrote."""
    record = tmp_path / "hazards.toml"
    saves = iter(["# first\n", "# second\n"])
    real = added

    def slow(*words: object) -> str:
        text = real(*words)  # type: ignore[arg-type]
        if (saved := next(saves, None)) is not None:
            record.write_text(saved)
        return text

    monkeypatch.setattr(recording, "added", slow)
    recording.keep(str(record), present(1))
    assert record.read_text().startswith("# second\n")
    assert [one.property for one in read(record.read_text()).decisions] == ["p1"]


def test_a_lock_that_is_held_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """After some patience; nothing is written."""
    record = tmp_path / "hazards.toml"
    monkeypatch.setattr(recording, "PATIENCE", 0.2)
    entered, leave = threading.Event(), threading.Event()

    def hold() -> None:
        with recording._locked(str(record)):
            entered.set()
            leave.wait(10)

    other = threading.Thread(target=hold)
    other.start()
    entered.wait(10)
    try:
        with pytest.raises(Refused, match="in use by another"):
            recording.keep(str(record), present(1))
    finally:
        leave.set()
        other.join()
    assert not record.exists()


def test_links_and_permissions_stay(tmp_path: Path) -> None:
    """The file that a link leads to is added to, and is readable as before."""
    real, link = tmp_path / "real.toml", tmp_path / "link.toml"
    real.write_text("# mine\n")
    real.chmod(0o640)
    link.symlink_to(real)
    recording.keep(str(link), present(1))
    assert link.is_symlink()
    assert real.read_text().startswith("# mine\n")
    assert real.stat().st_mode & 0o777 == 0o640


def test_a_write_protected_record_is_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A message; the file is as it was."""
    record = tmp_path / "hazards.toml"
    record.write_text("# mine\n")
    monkeypatch.setattr("airproof.cli.files.os.access", lambda path, how: Path(path).is_dir())
    with pytest.raises(Refused, match="write-protected"):
        recording.keep(str(record), present(1))
    assert record.read_text() == "# mine\n"
