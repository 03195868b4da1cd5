"""`prove --certificates FOLDER`: what is written, replaced, refused, and never half done."""

from __future__ import annotations

import errno
import json
import os
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from airproof.cli.exporting import check_folder, export
from airproof.cli.main import main
from airproof.cli.shell import Refused
from airproof.evidence.certificate import Invariant
from airproof.evidence.verdict import Verdict
from airproof.language import load_text
from airproof.report.certificates import PAGE
from airproof.report.results import Results
from airproof.transition.literals import Bit, Literal
from certify.solvers import cvc5_answer

TEXT = """\
circuit crane "Yard crane"
supply main: 0 bar .. 8 bar, starts 0 bar
cylinder clamp: starts 0 bar
control lever: rest, grip; starts rest
flow feed: main -> clamp while lever is grip, one way
property never_fed_at_rest "Nothing flows at rest"
    never feed is flowing while lever is rest
property never_bursts "The clamp keeps below the supply's range"
    never clamp > 8 bar
property never_moves "The lever is never moved"
    never lever is grip
property cannot_burst "The clamp cannot reach 9 bar"
    possible clamp >= 9 bar
property can_grip "It grips"
    possible clamp >= 3 bar
"""
SICK = """
relay first: picked while second is dropped, dropped otherwise
relay second: picked while first is picked, dropped otherwise
"""
CIRCUIT = load_text(TEXT, "crane").circuit


def results(*proved: str) -> Results:
    """Proofs claimed for these properties; whether they prove anything does not matter here."""
    trivial = Invariant(((Literal(Bit("monitor breached"), so=False),),))
    verdicts = (
        Verdict(name, "holds", "any speed", certificate=trivial)
        if name in proved
        else Verdict(name, "undecided", reason="time limit")
        for name in ("never_fed_at_rest", "never_bursts")
    )
    return Results(CIRCUIT, "ab" * 32, tuple(verdicts), ())


def put(folder: Path, *proved: str) -> None:
    export(str(folder), results(*proved), (), quiet=True)


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def prove(folder: Path, *arguments: str, text: str = TEXT) -> Result:
    file = folder / "crane.circuit"
    file.write_text(text, encoding="utf-8")
    call = ["prove", str(file), "--certificates", str(folder / "out"), *arguments]
    return CliRunner().invoke(main, call)


# ---- whole calls


def test_a_call_writes_what_it_proved(tmp_path: Path) -> None:
    """Four files for each proof, whether of `holds` or of `not possible`, and the page."""
    result = prove(tmp_path, "--quiet")
    assert result.exit_code == 1  # never_moves is breached
    found = names(tmp_path / "out")
    duties = ("1-start", "2-switch", "3-elapse", "4-safe")
    stems = ("01-never_fed_at_rest", "02-never_bursts", "04-cannot_burst")
    assert found == sorted([PAGE, *(f"{s}-{d}.smt2" for s in stems for d in duties)])
    for name in set(found) - {PAGE}:
        assert cvc5_answer((tmp_path / "out" / name).read_text()) == "unsat"
    page = (tmp_path / "out" / PAGE).read_text(encoding="utf-8")
    assert r"- **never\_moves**: breached" in page
    assert r"- **can\_grip**: possible" in page
    assert r"- **cannot\_burst**: not possible" in page


def test_json_stays_json(tmp_path: Path) -> None:
    """With --json standard output is the JSON alone; the fingerprint is the one in the files."""
    result = prove(tmp_path, "never_bursts", "--json")
    data = json.loads(result.stdout)
    assert result.exit_code == 0
    assert "begin with README.md" in result.stderr
    (first, *_) = sorted((tmp_path / "out").glob("*.smt2"))
    assert data["fingerprint"] in first.read_text()


def test_a_sick_circuit_exports_nothing(tmp_path: Path) -> None:
    """What health withholds is not exported, and the one line says so even when quiet."""
    result = prove(tmp_path, "never_bursts", "--quiet", text=TEXT + SICK)
    assert result.exit_code == 2
    assert "nothing to export" in result.stderr
    assert not (tmp_path / "out").exists()


def test_a_folder_that_cannot_be_used_is_told_before_the_work(tmp_path: Path) -> None:
    """A foreign file in the folder: one line, exit code 2, and nothing was proved."""
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "notes.txt").write_text("mine")
    result = prove(tmp_path)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "notes.txt" in result.stderr
    assert len(result.stderr.splitlines()) == 1
    assert names(tmp_path / "out") == ["notes.txt"]


# ---- the folder


def test_a_later_call_replaces_an_earlier_one(tmp_path: Path) -> None:
    """Only the files of the last call are there, and a call that proves nothing leaves none."""
    folder = tmp_path / "deep" / "er"
    put(folder, "never_fed_at_rest", "never_bursts")
    assert len(names(folder)) == 9
    put(folder, "never_bursts")
    assert len(names(folder)) == 5
    assert not list(folder.glob("01-*"))
    put(folder)
    assert names(folder) == []


def test_what_a_killed_call_left_is_replaced(tmp_path: Path) -> None:
    """An unfinished file, even an empty one, is known for what it is."""
    put(tmp_path, "never_bursts")
    whole = (tmp_path / "02-never_bursts-1-start.smt2").read_bytes()
    (tmp_path / "02-never_bursts-2-switch.smt2.unfinished").write_bytes(whole[:300])
    (tmp_path / "02-never_bursts-3-elapse.smt2.unfinished").write_bytes(b"")
    put(tmp_path, "never_bursts")
    assert len(names(tmp_path)) == 5


@pytest.mark.parametrize("name", ["notes.txt", "01-a-1-start.smt2", PAGE, ".hidden", "sub", "link"])
def test_foreign_files_are_left_alone(tmp_path: Path, name: str) -> None:
    """A file that airproof did not write is refused by name, even if it is called like ours."""
    put(tmp_path, "never_bursts")
    before = names(tmp_path)
    path = tmp_path / name
    if name == "sub":
        path.mkdir()
    elif name == "link":
        path.symlink_to(tmp_path / PAGE)
    else:
        path.write_text("; somebody else's")
    with pytest.raises(Refused, match=name):
        put(tmp_path, "never_fed_at_rest")
    with pytest.raises(Refused, match=name):
        check_folder(str(tmp_path))
    assert names(tmp_path) == sorted({*before, name})


def test_no_folder_can_be_where_a_file_is(tmp_path: Path) -> None:
    """A path that is a file, or leads through one, is refused; so is an empty one."""
    (tmp_path / "file").write_text("x")
    for folder in (str(tmp_path / "file"), str(tmp_path / "file" / "x"), ""):
        with pytest.raises(Refused, match=r"folder"):
            check_folder(folder)
    with pytest.raises(Refused, match=r"is not a folder"):
        put(tmp_path / "file", "never_bursts")


def test_a_protected_place_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where nothing may be written, that is said."""
    monkeypatch.setattr(os, "access", lambda *_: False)
    with pytest.raises(Refused, match="write-protected"):
        check_folder(str(tmp_path / "new"))


def test_a_full_disc_leaves_no_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the space runs out no half file stays, and the missing page shows it is not all."""
    put(tmp_path, "never_fed_at_rest", "never_bursts")
    written = []

    def full(_: int) -> None:
        written.append(1)
        if len(written) > 5:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(Refused, match=r"No space left.*not complete"):
        put(tmp_path, "never_fed_at_rest", "never_bursts")
    left = names(tmp_path)
    assert PAGE not in left
    assert not [name for name in left if name.endswith(".unfinished")]
    assert all((tmp_path / name).read_text().endswith("(exit)\n") for name in left)


def test_a_defect_exports_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """When airproof found itself wrong it gives no certificates away."""
    export(str(tmp_path / "out"), results("never_bursts"), ("step 2: due",), quiet=True)
    assert not (tmp_path / "out").exists()
    assert "no certificates" in capsys.readouterr().err
