"""The commands as a person calls them."""

from __future__ import annotations

import errno
import functools
import json
import os
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Iterable, Sequence
from pathlib import Path

import click
import jsonschema
import pytest
from click.testing import CliRunner, Result

from airproof.cli import proving
from airproof.cli.main import main
from airproof.report.caution import CAUTION
from airproof.report.results import schema
from cli.at_once import called
from cli.works import judge

CHECKER = Path(__file__).resolve().parents[2] / "checker"

TIPPLER = """\
circuit tippler "Wagon tippler: the clamp is shut by air"

supply main: 0 bar .. 8 bar, starts 0 bar .. 8 bar
cylinder clamp: starts 0 bar
control lever: rest, tip; starts rest; worked by tippler_man

valve guard: shut, open; starts shut
    moves to open when main >= 5 bar
    moves to shut when main <= 4 bar

flow grip: main -> clamp while guard is open, one way
flow spill: clamp -> atmosphere while lever is rest
"""
CAN_GRIP = """
property can_grip "The clamp can be shut"
    possible clamp >= 3 bar
"""
NO_LOOSE_TIP = """
property no_loose_tip "The tippler never moves with a loose clamp"
    severity critical
    never lever is tip while clamp < 3 bar
"""


def fake(health: str, *words: str) -> str:
    """A circuit whose title and properties tell `cli.works.judge` what to do."""
    stated = (f'property p{i} "{word}"\n    never m > 1 bar\n' for i, word in enumerate(words))
    return f'circuit c "{health}"\nsupply m: 0 bar .. 8 bar\n' + "".join(stated)


def call(*arguments: str, given: str | bytes | None = None) -> Result:
    return CliRunner().invoke(main, arguments, input=given)


@pytest.fixture
def judged(monkeypatch: pytest.MonkeyPatch) -> None:
    """Verdicts come from `cli.works.judge` instead of the engines."""
    monkeypatch.setattr(proving, "gather", functools.partial(proving.gather, work=judge))


def process(
    *arguments: str, given: bytes = b"", setting: Iterable[tuple[str, str]] = ()
) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        command(*arguments), input=given, capture_output=True, env=surroundings(setting), timeout=60
    )


def command(*arguments: str) -> Sequence[str]:
    return [sys.executable, "-m", "airproof", *arguments]


def surroundings(setting: Iterable[tuple[str, str]] = ()) -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(CHECKER), **dict(setting)}


# ---- what it says of itself


def test_starting_up_imports_nothing_heavy() -> None:
    """The command line itself needs neither the solver, the parser nor the tables."""
    asking = (
        "import sys, airproof.cli.main; "
        "print([m for m in ('z3', 'lark', 'rich', 'subprocess') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", asking], capture_output=True, env=surroundings(), check=True
    )
    assert done.stdout.strip() == b"[]"


def test_help_is_there_at_once() -> None:
    """`--help` needs less than 0.2 s of computing, start of Python included."""

    def spent() -> float:
        usage = resource.getrusage(resource.RUSAGE_CHILDREN)
        return usage.ru_utime + usage.ru_stime

    times = []
    for _ in range(3):
        before = spent()
        assert process("--help").returncode == 0
        times.append(spent() - before)
    assert min(times) < 0.2


@pytest.mark.parametrize(
    ("arguments", "example"),
    [
        ((), "airproof tidy --write winder.circuit"),
        (("prove",), "airproof prove winder.circuit no_lift_on_low_supply --limit 10"),
        (("tidy",), "airproof tidy --check winder.circuit"),
    ],
)
def test_help_has_an_example_and_the_caution(arguments: tuple[str, ...], example: str) -> None:
    """Each help text fits 80 columns, gives an example and says what a proof is not."""
    result = call(*arguments, "--help")
    assert result.exit_code == 0
    assert example in result.output
    assert CAUTION in " ".join(result.output.split())
    assert max(map(len, result.output.splitlines())) <= 80


def test_version() -> None:
    """`--version` is one line."""
    assert call("--version").output == "airproof 0.1.0\n"


# ---- prove


@pytest.mark.usefixtures("judged")
@pytest.mark.parametrize(
    ("text", "code"),
    [
        (fake("well", "holds", "holds"), 0),
        (fake("well", "holds", "breached", "undecided"), 1),
        (fake("well", "holds", "undecided"), 3),
        (fake("sick", "holds"), 2),
        (fake("well", "raise", "breached"), 2),
        (fake("well", "die", "holds"), 3),
    ],
)
@pytest.mark.parametrize("option", ["--json", "--quiet"])
def test_prove_ends_with_the_code_of_its_result(text: str, code: int, option: str) -> None:
    """The exit code is the same whatever is printed, and JSON is as its schema says."""
    result = call("prove", "-", option, given=text)
    assert result.exit_code == code
    if option == "--json":
        jsonschema.validate(json.loads(result.stdout), schema())


@pytest.mark.usefixtures("judged")
def test_steps_reach_the_engine() -> None:
    """`--steps` is the longest sequence that is searched for."""
    result = call("prove", "-", "--steps", "17", "--quiet", given=fake("well", "undecided"))
    assert result.stdout == "p0: undecided: no breach within 17 steps\n"


@pytest.mark.usefixtures("judged")
def test_only_what_is_asked_for() -> None:
    """Named properties alone are proved, each once, in the order of the text."""
    text = fake("well", "holds", "raise", "breached")
    result = call("prove", "-", "p2", "p0", "p2", "--quiet", given=text)
    assert result.stdout == "p0: holds, any speed\np2: breached, any speed\n"
    assert result.exit_code == 1


@pytest.mark.usefixtures("judged")
def test_a_defect_says_what_to_report() -> None:
    """An error of airproof is called that, without a traceback; other verdicts are kept."""
    result = call("prove", "-", "--quiet", given=fake("well", "raise", "breached"))
    assert "p1: breached, any speed\n" in result.stdout
    assert "This is a defect of airproof, not of your circuit. Please report:" in result.stderr
    assert "KeyError: 'nothing here' (works.py, line " in result.stderr
    assert "Traceback" not in result.output


def test_a_breach_is_found_and_told() -> None:
    """End to end: a breach exits with 1 and is told as a story."""
    result = call("prove", "-", "no_loose_tip", given=TIPPLER + CAN_GRIP + NO_LOOSE_TIP)
    assert result.exit_code == 1
    assert "tippler_man moves lever from rest to tip" in result.stdout
    assert "Breached here, while time passes: lever is tip and clamp < 3 bar." in result.stdout
    assert result.stderr == ""


NO_WEAK_GRIP = """
property no_weak_grip "The clamp is never fed while the main is weak"
    never grip is flowing while main < 3.9 bar
"""


def test_what_must_move_at_once_is_told() -> None:
    """End to end: it holds and exits with 0, and the report says what it counts on, and how."""
    result = call("prove", "-", given=TIPPLER + NO_WEAK_GRIP)
    assert result.exit_code == 0
    assert "no_weak_grip holds only if guard moves at once; see 1" in result.stdout
    assert "1. no_weak_grip: breached if guard is slow" in result.stdout
    assert "Still on the way: guard" in result.stdout
    assert max(map(len, result.stdout.splitlines())) <= 80


def test_what_must_move_at_once_is_in_the_json() -> None:
    """End to end: the device, and the run of the circuit in which it is slow."""
    result = called("prove", "-", "--json", given=TIPPLER + NO_WEAK_GRIP)
    data = json.loads(result.stdout)
    jsonschema.validate(data, schema())
    [entry] = data["properties"]
    assert (entry["verdict"], entry["sequence"]) == ("holds", None)
    [slow] = entry["only_if_at_once"]
    assert (slow["device"], slow["verdict"]) == ("guard", "breached")
    assert slow["sequence"][-1]["state"]["leaving"] == {"guard": "shut"}
    assert entry["in_an_instant"]["verdict"] == "holds"


def test_a_possibility_is_found_in_json() -> None:
    """End to end: what can happen holds, exits with 0, and its run is in the JSON."""
    result = call("prove", "-", "can_grip", "--json", given=TIPPLER + CAN_GRIP + NO_LOOSE_TIP)
    assert result.exit_code == 0
    data = json.loads(result.stdout)
    jsonschema.validate(data, schema())
    [entry] = data["properties"]
    assert (entry["name"], entry["verdict"]) == ("can_grip", "holds")
    assert entry["sequence"][-1]["kind"] == "elapse"
    assert entry["length"] >= 1


def test_a_circuit_that_chatters_is_refused() -> None:
    """End to end: while two relays chase each other nothing holds, exit code 2."""
    chasing = (
        "relay left: picked while right is dropped and lever is tip, dropped otherwise\n"
        "relay right: picked while left is picked, dropped otherwise\n"
    )
    result = call("prove", "-", "--quiet", given=TIPPLER + chasing + CAN_GRIP)
    assert result.exit_code == 2
    assert "can_grip: undecided: the circuit's health is wrong" in result.stdout
    assert "health: with every control still, these never come to rest: " in result.stdout


# ---- calls that are wrong


def test_an_unknown_property_names_the_nearest() -> None:
    """A slip in a property's name is answered with the name that was meant."""
    result = call("prove", "-", "can_gripp", given=TIPPLER + CAN_GRIP)
    assert result.exit_code == 2
    assert result.stderr == "Error: there is no property `can_gripp`; did you mean `can_grip`?\n"


def test_a_property_unlike_any_lists_them() -> None:
    """Where none is near, the properties are listed."""
    result = call("prove", "-", "zzz", given=TIPPLER + CAN_GRIP + NO_LOOSE_TIP)
    assert result.exit_code == 2
    assert "there are `can_grip` and `no_loose_tip`" in result.stderr


def test_nothing_to_prove_is_no_success() -> None:
    """A circuit without properties does not exit as if all held."""
    result = call("prove", "-", given=TIPPLER)
    assert result.exit_code == 2
    assert "- states no property" in result.stderr


@pytest.mark.parametrize(
    "arguments",
    [
        ("prove",),
        ("prove", "-", "--limit", "0"),
        ("prove", "-", "--limit", "nan"),
        ("prove", "-", "--limit", "inf"),
        ("prove", "-", "--steps", "0"),
        ("prove", "-", "--workers", "0"),
        ("prove", "-", "--colour"),
        ("prvoe", "-"),
        ("tidy", "-", "--write"),
        ("tidy", "a", "--write", "--check"),
    ],
)
def test_wrong_calls(arguments: tuple[str, ...]) -> None:
    """A call that makes no sense is refused with exit code 2 and a message."""
    result = call(*arguments, given=TIPPLER + CAN_GRIP)
    assert result.exit_code == 2
    assert "Error: " in result.stderr
    assert result.stdout == ""


@pytest.mark.parametrize("name", ["prove", "tidy"])
@pytest.mark.parametrize(
    "data",
    [b"\xff\xfe\x00", b"supply\x00", b"\x1b[2J", b"circuit", "kein Kreis: \u202e".encode(), b"]"],
)
def test_bad_bytes_are_a_message(name: str, data: bytes, tmp_path: Path) -> None:
    """Whatever is in the file: exit code 2 and a message that names it, nothing on stdout."""
    path = tmp_path / "bad.circuit"
    path.write_bytes(data)
    result = call(name, str(path))
    assert result.exit_code == 2
    assert "bad.circuit" in result.stderr
    assert "defect" not in result.stderr
    assert result.stdout == ""


@pytest.mark.parametrize("name", ["prove", "tidy"])
def test_files_that_are_none(name: str, tmp_path: Path) -> None:
    """A missing file and a folder are messages, not errors of the program."""
    for path in (tmp_path / "none.circuit", tmp_path):
        result = call(name, str(path))
        assert result.exit_code == 2
        assert path.name in result.stderr
        assert "defect" not in result.stderr


@pytest.mark.parametrize("trouble", [ValueError("odd"), RecursionError(), MemoryError()])
def test_no_traceback_ever(trouble: Exception, monkeypatch: pytest.MonkeyPatch) -> None:
    """What nobody foresaw is called a defect of airproof, in plain lines."""

    def fail(*_: object) -> None:
        raise trouble

    monkeypatch.setattr(proving, "chosen", fail)
    result = call("prove", "-", given=TIPPLER + CAN_GRIP)
    assert result.exit_code == 2
    assert "This is a defect of airproof" in result.stderr
    assert type(trouble).__name__ in result.stderr
    assert "Traceback" not in result.output


def test_an_interrupted_start_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C before anything was asked of an engine ends with one word."""

    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(proving, "chosen", interrupt)
    result = call("prove", "-", given=TIPPLER + CAN_GRIP)
    assert (result.exit_code, result.stderr.strip()) == (2, "interrupted")


# ---- tidy

UNTIDY = 'circuit   a "A"\nsupply main:  0 bar..8 bar\n'


def tidied() -> str:
    return call("tidy", "-", given=UNTIDY).stdout


def test_tidy_prints_and_leaves_the_file(tmp_path: Path) -> None:
    """Without options the tidy text goes to standard output, the file stays."""
    path = tmp_path / "a.circuit"
    path.write_text(UNTIDY)
    result = call("tidy", str(path))
    assert result.exit_code == 0
    assert result.stdout == tidied() != UNTIDY
    assert path.read_text() == UNTIDY


def test_tidy_writes_once(tmp_path: Path) -> None:
    """`--write` rewrites the file and says so; a tidy file is not touched again."""
    path = tmp_path / "a.circuit"
    path.write_text(UNTIDY)
    result = call("tidy", "--write", str(path))
    assert (result.exit_code, result.stderr) == (0, f"{path}: tidied\n")
    assert path.read_text() == tidied()
    number = path.stat().st_ino
    assert call("tidy", "--write", str(path)).output == ""
    assert path.stat().st_ino == number


def test_tidy_checks() -> None:
    """`--check` exits with 1 for an untidy text, 0 for a tidy one, and prints no text."""
    untidy = call("tidy", "--check", "-", given=UNTIDY)
    assert (untidy.exit_code, untidy.stdout, untidy.stderr) == (1, "", "-: not tidy\n")
    assert call("tidy", "--check", "--quiet", "-", given=UNTIDY).output == ""
    assert call("tidy", "--check", "-", given=tidied()).exit_code == 0


def test_tidy_that_cannot_write_says_which_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A full disk is a message with the file's name and exit code 2, the file as it was."""

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    path = tmp_path / "a.circuit"
    path.write_text(UNTIDY)
    monkeypatch.setattr(os, "fsync", full)
    result = call("tidy", "--write", str(path))
    assert result.exit_code == 2
    assert f"cannot write {path}, which is as it was" in result.stderr
    assert path.read_text() == UNTIDY


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is forbidden to root")
def test_tidy_in_a_folder_that_is_locked(tmp_path: Path) -> None:
    """In a folder that takes no file the text stays, and the message names it."""
    path = tmp_path / "a.circuit"
    path.write_text(UNTIDY)
    tmp_path.chmod(0o555)
    result = call("tidy", "--write", str(path))
    tmp_path.chmod(0o755)
    assert result.exit_code == 2
    assert str(path) in result.stderr
    assert path.read_text() == UNTIDY


# ---- as a process


def test_a_reader_that_leaves_is_no_trouble() -> None:
    """A broken pipe ends the program without a word."""
    with subprocess.Popen(
        command("tidy", "-"),
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=surroundings(),
    ) as running:
        assert running.stdin
        assert running.stdout
        assert running.stderr
        running.stdout.close()
        running.stdin.write(UNTIDY.encode())
        running.stdin.close()
        assert running.stderr.read() == b""
        assert running.wait(timeout=60) == 2


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
def test_a_full_disk_under_the_output_is_a_message() -> None:
    """Output that cannot be written is never taken for success."""
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            command("tidy", "-"),
            input=UNTIDY.encode(),
            stdout=full,
            stderr=subprocess.PIPE,
            env=surroundings(),
            timeout=60,
        )
    assert done.returncode == 2
    assert b"No space left" in done.stderr
    assert b"Traceback" not in done.stderr
    assert b"Exception ignored" not in done.stderr


def test_a_poor_screen_gets_question_marks() -> None:
    """A title that the output cannot spell does not stop the report."""
    text = TIPPLER.replace("Wagon tippler", "Wagenkipper f\u00fcr K\u00f6ln \u2713") + CAN_GRIP
    setting = (("PYTHONIOENCODING", "ascii"), ("PYTHONUTF8", "0"))
    done = process("prove", "-", given=text.encode(), setting=setting)
    assert done.returncode == 0
    assert b"Wagenkipper f?r K?ln ?" in done.stdout
    assert done.stderr == b""


def test_the_module_can_be_run_too() -> None:
    """`python -m airproof.cli.main` is the same program."""
    done = subprocess.run(
        [sys.executable, "-m", "airproof.cli.main", "--version"],
        capture_output=True,
        env=surroundings(),
        check=True,
    )
    assert done.stdout == b"airproof 0.1.0\n"


def test_errors_can_be_caught_from_python() -> None:
    """Without standalone mode errors come out as exceptions, as click's users expect."""
    with pytest.raises(click.UsageError):
        main.main(["prove"], standalone_mode=False)


FAKED = """\
import functools, sys
from airproof.cli import proving
from airproof.cli.main import entry
from cli.works import judge
proving.gather = functools.partial(proving.gather, work=judge)
entry()
"""


def test_ctrl_c_leaves_the_verdicts_so_far(tmp_path: Path) -> None:
    """SIGINT to the whole group, as a terminal sends it: found stays, the rest is interrupted."""
    path = tmp_path / "slow.circuit"
    path.write_text(fake("well", "breached", "sleep", "sleep"))
    tests = str(Path(__file__).resolve().parents[1])
    paths = (("PYTHONPATH", os.pathsep.join([str(CHECKER), tests])),)
    with subprocess.Popen(
        [sys.executable, "-c", FAKED, "prove", str(path), "--quiet"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=surroundings(paths),
        start_new_session=True,
    ) as running:
        time.sleep(5)  # long enough for the quick jobs on a busy machine
        os.killpg(running.pid, signal.SIGINT)
        out, err = running.communicate(timeout=30)
    assert out.decode().splitlines() == [
        "p0: breached, any speed",
        "p1: undecided: interrupted before it was settled",
        "p2: undecided: interrupted before it was settled",
    ]
    assert err == b""
    assert running.returncode == 1


INTERRUPTED = """\
import sys
from airproof.cli.start import entry


class Pressed:
    def find_spec(self, name, path=None, target=None):
        if name == "airproof.cli.main":
            raise KeyboardInterrupt


sys.meta_path.insert(0, Pressed())
entry()
"""


def test_ctrl_c_while_loading_ends_without_a_traceback() -> None:
    """Before the command line is there it ends as it does later."""
    done = subprocess.run(
        [sys.executable, "-c", INTERRUPTED], capture_output=True, env=surroundings(), check=False
    )
    assert (done.returncode, done.stdout, done.stderr) == (2, b"", b"interrupted\n")


def test_a_closed_standard_output_is_said() -> None:
    """`>&-`: nothing can be written, and that is no defect."""
    script = f"exec {sys.executable} -m airproof --help >&-"
    done = subprocess.run(
        ["sh", "-c", script], capture_output=True, env=surroundings(), check=False
    )
    assert (done.returncode, done.stdout) == (2, b"")
    assert done.stderr == b"airproof: standard output is closed, so there is nowhere to write to\n"
