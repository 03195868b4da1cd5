"""Inputs that are wrong on purpose, given to the program as a process of its own."""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from random import Random

import pytest
from click.testing import CliRunner

from airproof.cli.main import main

CHECKER = Path(__file__).resolve().parents[2] / "checker"
SLOWEST = 10.0  # [s] five times what is promised, for busy machines; the times are printed
LARGEST_OUTPUT = 50_000  # bytes
MEGABYTE = 1_000_000

HOIST = """\
circuit hoist "Cellar hoist"
supply main: 0 bar .. 8 bar, starts 0 bar .. 8 bar
cylinder brake: starts 0 bar
control lever: hold, lift; starts hold; worked by cellarman
flow raise: main -> brake while lever is lift, one way
flow drop: brake -> atmosphere while lever is hold
property dry "The brake stays on"
    never brake > 9 bar
"""
UNTIDY = HOIST.replace(": ", ":   ") + "".join(f"# {n} {'-' * 60}\n" for n in range(180))


@dataclass(frozen=True, slots=True)
class Ended:
    """How the program ended, after how long and with how much computing [s]."""

    code: int
    out: str
    err: str
    seconds: float
    computing: float


def run(*arguments: str | Path, given: bytes = b"") -> Ended:
    return ended([sys.executable, "-m", "airproof", *map(str, arguments)], given)


def ended(command: list[str], given: bytes = b"") -> Ended:
    environment = {**os.environ, "PYTHONPATH": str(CHECKER)}
    start, before = time.monotonic(), computed()
    done = subprocess.run(command, input=given, capture_output=True, env=environment, timeout=60)
    spent = (time.monotonic() - start, computed() - before)
    return Ended(done.returncode, done.stdout.decode(), done.stderr.decode(), *spent)


def computed() -> float:
    """Computing by processes that have ended [s]."""
    usage = resource.getrusage(resource.RUSAGE_CHILDREN)
    return usage.ru_utime + usage.ru_stime


def inside(*arguments: str | Path) -> Ended:
    """As `run`, in this very process."""
    start, before = time.monotonic(), time.process_time()
    done = CliRunner().invoke(main, [*map(str, arguments)])
    spent = (time.monotonic() - start, time.process_time() - before)
    return Ended(done.exit_code, done.stdout, done.stderr, *spent)


def refused(given: Ended, *says: str) -> None:
    """Exit code 2, soon, with a short message and nothing on standard output."""
    print(f"{given.seconds:.2f} s, {given.computing:.2f} s computing: {given.err[:200]!r}")
    assert given.code == 2
    assert given.out == ""
    for part in says:
        assert part in given.err
    assert "Traceback" not in given.err
    assert "This is a defect" not in given.err
    assert "\x1b" not in given.err
    assert len(given.err) < LARGEST_OUTPUT
    assert given.seconds < SLOWEST


def with_condition(condition: str) -> str:
    return f'{HOIST}property odd "Odd"\n    never {condition}\n'


# ---- files that are no text


def missing(folder: Path) -> Path:
    return folder / "missing.circuit"


def a_folder(folder: Path) -> Path:
    return folder


def binary(folder: Path) -> Path:
    path = folder / "binary.circuit"
    path.write_bytes(Random(3).randbytes(20_000))
    return path


def ten_megabytes(folder: Path) -> Path:
    path = folder / "large.circuit"
    line = "# the same remark, again and again and again\n"
    path.write_text(HOIST + line * (10 * MEGABYTE // len(line)))
    return path


def one_line_of_ten_megabytes(folder: Path) -> Path:
    path = folder / "wide.circuit"
    path.write_text("circuit " + "x" * 10 * MEGABYTE)
    return path


def empty(folder: Path) -> Path:
    path = folder / "empty.circuit"
    path.touch()
    return path


def a_pipe_nobody_writes(folder: Path) -> Path:
    path = folder / "pipe.circuit"
    os.mkfifo(path)
    return path


def endless(_: Path) -> Path:
    return Path("/dev/zero")


def long_name(folder: Path) -> Path:
    return folder / ("x" * 5000)


FILES: list[tuple[Callable[[Path], Path], str]] = [
    (missing, "missing.circuit"),
    (a_folder, "folder"),
    (binary, "binary.circuit"),
    (ten_megabytes, "150 kB"),
    (one_line_of_ten_megabytes, "150 kB"),
    (empty, "empty.circuit"),
    (a_pipe_nobody_writes, "pipe.circuit"),
    (endless, "/dev/zero"),
    (long_name, "xxx"),
]


@pytest.mark.parametrize(("made", "says"), FILES)
def test_what_is_no_circuit_is_named(
    made: Callable[[Path], Path], says: str, tmp_path: Path
) -> None:
    """A file that cannot be a circuit is refused at once, by its name."""
    path = made(tmp_path)
    refused(run("prove", path), says)
    refused(inside("tidy", "--write", path), says)


def test_ten_megabytes_of_standard_input() -> None:
    """Standard input is bounded like a file."""
    refused(run("prove", "-", given=b"#" * 10 * MEGABYTE), "standard input", "150 kB")


# ---- texts that are wrong

DEEP = 10_000
TEXTS = [
    (with_condition("(" * DEEP + "main > 1 bar" + ")" * DEEP), "40"),
    (with_condition("(" * DEEP), "40"),
    (with_condition("not " * DEEP + "main > 1 bar"), "40"),
    (with_condition(")" * DEEP), "bracket"),
    (with_condition(" and ".join(["main > 1 bar"] * 5000)), "5000"),
    (with_condition("main > 1e999 bar"), "1e999"),
    (with_condition("main > 1e-999 bar"), "1e-999"),
    (with_condition(f"main > {'9' * 100_000} bar"), "30"),
    (HOIST.replace("8 bar", "1e999 bar"), "1e999"),
    (HOIST.replace("main", "[bold]main[/bold]"), "`[`"),
    (HOIST.replace("main", "<b>main</b>"), "main"),
    (HOIST.replace("hoist", "\u202ehoist", 1), "U+202E"),
    (HOIST.replace("Cellar", "\u202eCellar"), "U+202E"),
    (HOIST.replace("Cellar", "\x1b[2JCellar"), "U+001B"),
    ("\n".join(f"valve v{n} v{n}" for n in range(5000)), "100"),
    ("x" * 140_000, "bad.circuit:1:1"),
    ('"' * 140_000, "bad.circuit:1:1"),
    ("\n" * 140_000, "bad.circuit:1:1"),
]


@pytest.mark.parametrize(("text", "says"), TEXTS, ids=range(len(TEXTS)))
def test_bad_texts_are_refused_in_time(text: str, says: str, tmp_path: Path) -> None:
    """Nested, endless, huge or dressed up: the message names file and line."""
    path = tmp_path / "bad.circuit"
    path.write_text(text)
    refused(run("prove", path), "bad.circuit:", says)
    refused(inside("tidy", "--write", path), "bad.circuit:", says)
    assert path.read_text() == text


@pytest.mark.parametrize("option", ["--limit", "--steps", "--workers"])
@pytest.mark.parametrize("number", ["1e999", "-1", "nan", "9" * 5000, "[red]", ""])
def test_numbers_of_the_call(option: str, number: str, tmp_path: Path) -> None:
    """A number that makes no sense is refused, the option named."""
    path = tmp_path / "a.circuit"
    path.write_text(HOIST)
    refused(inside("prove", f"{option}={number}", path), option)


def test_markup_in_names_stays_as_it_is() -> None:
    """Titles and people's names are shown letter by letter, not obeyed."""
    text = HOIST.replace("Cellar hoist", "[bold]Cellar[/] :smile: <b> {0} %s [link=x]")
    done = run("prove", "-", given=text.replace("9 bar", "7 bar").encode())
    assert done.code == 1
    assert "[bold]Cellar[/] :smile: <b> {0} %s [link=x]" in done.out
    assert "\x1b" not in done.out
    assert done.err == ""


# ---- includes


@pytest.mark.parametrize("count", [1, 2, 3, 50])
def test_an_include_loop(count: int, tmp_path: Path) -> None:
    """Files that include one another in a ring are told as the ring."""
    for n in range(count):
        head = HOIST if n == 0 else ""
        text = f'{head}include "part{(n + 1) % count}.circuit"\n'
        (tmp_path / f"part{n}.circuit").write_text(text)
    asked = run if count == 2 else inside
    refused(asked("prove", tmp_path / "part0.circuit"), "part0.circuit`")


def outside(folder: Path, written: str) -> Path:
    inner = folder / "inner"
    inner.mkdir()
    (folder / "secret.circuit").write_text("supply secret: 1 bar\n")
    (inner / "link.circuit").symlink_to(folder / "secret.circuit")
    (inner / "up").symlink_to(folder)
    path = inner / "a.circuit"
    path.write_text(f'{HOIST}include "{written}"\n')
    return path


@pytest.mark.parametrize(
    "written",
    [
        "../secret.circuit",
        "/etc/passwd",
        "/dev/zero",
        "x/../../secret.circuit",
        "..\\\\secret.circuit",
        "C:\\\\secret.circuit",
        "//host/share/secret.circuit",
        "link.circuit",
        "up/secret.circuit",
        "x" * 5000,
        ".",
        "",
        "~/secret.circuit",
        "$HOME/secret.circuit",
    ],
)
def test_an_include_that_leaves_the_folder(written: str, tmp_path: Path) -> None:
    """Neither a step up, an absolute path nor a link leads out; what is there is not quoted."""
    asked = run if written == "../secret.circuit" else inside
    done = asked("prove", outside(tmp_path, written))
    refused(done, "a.circuit:9:")
    assert "supply secret" not in done.err
    assert "root:" not in done.err


# ---- a disk that takes no more

LIMITED = """\
import resource, sys
from airproof.cli.main import entry
resource.setrlimit(resource.RLIMIT_FSIZE, (4096, resource.getrlimit(resource.RLIMIT_FSIZE)[1]))
entry()
"""
ON_A_SMALL_DISK = """\
set -e
mount -t tmpfs -o size=20k none "$1"
cp "$2" "$1/a.circuit"
{ "$3" -m airproof tidy --write "$1/a.circuit" && code=0; } || code=$?
cp -a "$1/." "$4"
exit $code
"""
ON_A_LOCKED_DISK = """\
set -e
mount -t tmpfs -o size=200k none "$1"
cp "$2" "$1/a.circuit"
mount -o remount,ro "$1"
{ "$3" -m airproof tidy --write "$1/a.circuit" && code=0; } || code=$?
cp -a "$1/." "$4"
exit $code
"""


def as_it_was(done: Ended, folder: Path, shown: str) -> None:
    refused(done, f"cannot write {shown}, which is as it was: ")
    assert [path.name for path in folder.iterdir()] == ["a.circuit"]
    assert (folder / "a.circuit").read_text() == UNTIDY


def test_a_write_that_breaks_off_leaves_the_file(tmp_path: Path) -> None:
    """The system stops the write half way: the file is as it was, and alone in its folder."""
    path = tmp_path / "a.circuit"
    path.write_text(UNTIDY)
    done = ended([sys.executable, "-c", LIMITED, "tidy", "--write", str(path)])
    as_it_was(done, tmp_path, str(path))


def mounts() -> bool:
    """Whether a disk can be mounted where nobody else sees it."""
    if os.geteuid() != 0 or shutil.which("unshare") is None:
        return False
    trial = ["unshare", "--mount", "sh", "-c", "mount -t tmpfs -o size=20k none /mnt"]
    return subprocess.run(trial, capture_output=True).returncode == 0


@pytest.mark.parametrize("script", [ON_A_SMALL_DISK, ON_A_LOCKED_DISK], ids=["full", "locked"])
def test_a_disk_that_takes_no_more(script: str, tmp_path: Path) -> None:
    """A full disk and one mounted read-only: the message names the file, which is as it was."""
    if not mounts():
        pytest.skip("no disk can be mounted here")
    disk, kept = tmp_path / "disk", tmp_path / "kept"
    disk.mkdir()
    kept.mkdir()
    source = tmp_path / "source.circuit"
    source.write_text(UNTIDY)
    places = [str(disk), str(source), sys.executable, str(kept)]
    done = ended(["unshare", "--mount", "sh", "-c", script, "sh", *places])
    as_it_was(done, kept, f"{disk}/a.circuit")


def test_no_refusal_takes_much_memory(tmp_path: Path) -> None:
    """Neither this process nor any that was started before it was large."""
    refused(run("prove", ten_megabytes(tmp_path)), "150 kB")
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"largest process so far: {peak:.0f} MB")
    assert peak < 1000
