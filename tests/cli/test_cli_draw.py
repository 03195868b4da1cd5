"""`airproof draw`: where the picture goes, and what is said when there is none."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from xml.etree import ElementTree as Xml

import pytest
from click.testing import CliRunner, Result

from airproof.cli.main import main
from airproof.report.caution import CAUTION

TEXT = """circuit small "Small"
supply main: 0 bar .. 8 bar
reservoir tank: 3 litre, starts 0 bar
flow fill: main -> tank, choke 2 mm, one way
state full: tank = 7 bar, main = 7 bar
"""


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "small.circuit"
    path.write_text(TEXT)
    return path


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, ["draw", *map(str, words)])


def test_without_a_file_the_picture_is_printed(file: Path) -> None:
    """To standard output, and nothing else with it."""
    done = run(file)
    assert done.exit_code == 0
    assert Xml.fromstring(done.stdout).tag.endswith("svg")
    assert run(file, "-o", "-").stdout == done.stdout


def test_into_a_file(file: Path, tmp_path: Path) -> None:
    """The whole picture, readable as other new files are, and no temporary file beside it."""
    target = tmp_path / "small.svg"
    done = run(file, "-o", target)
    assert (done.exit_code, done.stdout) == (0, "")
    assert f"{target}: drawn" in done.stderr
    assert target.read_text() == run(file).stdout
    mask = os.umask(0)
    os.umask(mask)
    assert stat.S_IMODE(target.stat().st_mode) == 0o666 & ~mask
    assert sorted(path.name for path in tmp_path.iterdir()) == ["small.circuit", "small.svg"]


def test_an_earlier_picture_is_replaced(file: Path, tmp_path: Path) -> None:
    """With its permissions kept."""
    target = tmp_path / "small.svg"
    target.write_text("old")
    target.chmod(0o640)
    assert run(file, "-o", target, "--quiet").stderr == ""
    assert target.read_text().startswith("<svg")
    assert stat.S_IMODE(target.stat().st_mode) == 0o640


def test_a_standing_state(file: Path) -> None:
    """It shows the pressures of the state."""
    done = run(file, "--state", "full")
    assert done.exit_code == 0
    assert ">7 bar<" in done.stdout
    assert ">7 bar<" not in run(file).stdout


def test_an_unknown_state(file: Path, tmp_path: Path) -> None:
    """What was probably meant is offered, and no file is written."""
    done = run(file, "--state", "ful", "-o", tmp_path / "no.svg")
    assert done.exit_code == 2
    assert "no standing state `ful`; did you mean `full`?" in done.stderr
    assert not (tmp_path / "no.svg").exists()


def test_a_wrong_text_leaves_the_earlier_picture(tmp_path: Path) -> None:
    """The message names the line; the old picture is as it was."""
    bad, target = tmp_path / "bad.circuit", tmp_path / "bad.svg"
    bad.write_text("circuit bad\nnonsense here\n")
    target.write_text("old")
    done = run(bad, "-o", target)
    assert done.exit_code == 2
    assert "bad.circuit:2" in done.stderr
    assert target.read_text() == "old"


@pytest.mark.parametrize("where", [".", "none/small.svg"], ids=["a folder", "in no folder"])
def test_where_it_cannot_be_written(file: Path, tmp_path: Path, where: str) -> None:
    """A message and exit code 2."""
    done = run(file, "-o", tmp_path / where)
    assert done.exit_code == 2
    assert "folder" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_system_that_refuses_names_the_picture_alone(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody knows the temporary file that could not be made."""

    def refused(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied", str(tmp_path / ".small.svg.x7"))

    monkeypatch.setattr("airproof.cli.files.tempfile.mkstemp", refused)
    target = tmp_path / "small.svg"
    done = run(file, "-o", target)
    assert done.exit_code == 2
    assert done.stderr == f"Error: cannot write {target}: Permission denied\n"


def test_help_has_the_caution() -> None:
    """As every command's."""
    done = run("--help")
    assert " ".join(CAUTION.split()) in " ".join(done.stdout.split())


def test_the_circuit_is_not_drawn_over(file: Path) -> None:
    """Also by another name for the same file."""
    link = file.with_name("link.svg")
    link.symlink_to(file)
    for name in (file, link):
        done = run(file, "-o", name)
        assert done.exit_code == 2
        assert "is the circuit" in done.stderr
    assert file.read_text() == TEXT
