"""The wheel carries everything the program needs away from the checkout."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TINY = """circuit tiny "A lever"
control lever: off, on; starts off
property never_on "The lever is never on"
    never lever is on
"""


def _run(*command: str, cwd: Path, path: Path | None = None) -> subprocess.CompletedProcess[str]:
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONPATH"}
    if path is not None:
        environment["PYTHONPATH"] = str(path)
    return subprocess.run(
        command, cwd=cwd, env=environment, capture_output=True, text=True, timeout=300
    )


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the wheel's content and nothing of the checkout."""
    folder = tmp_path_factory.mktemp("wheel")
    built = _run(
        sys.executable, "-m", "build", "--wheel", "--outdir", str(folder), str(ROOT), cwd=folder
    )
    assert built.returncode == 0, built.stdout + built.stderr
    (wheel,) = folder.glob("*.whl")
    target = folder / "site"
    placed = _run(
        *(sys.executable, "-m", "pip", "install", "--quiet", "--no-deps"),
        *("--target", str(target), str(wheel)),
        cwd=folder,
    )
    assert placed.returncode == 0, placed.stderr
    return target


def test_the_wheel_proves_from_another_folder(installed: Path, tmp_path: Path) -> None:
    """Run from elsewhere, the installed program finds its grammar and gives a verdict."""
    (tmp_path / "tiny.circuit").write_text(TINY, encoding="utf-8")
    where = _run(
        *(sys.executable, "-P", "-c", "import airproof; print(airproof.__file__)"),
        cwd=tmp_path,
        path=installed,
    )
    assert Path(where.stdout.strip()).is_relative_to(installed)
    run = _run(
        *(sys.executable, "-P", "-m", "airproof", "prove", "tiny.circuit"),
        cwd=tmp_path,
        path=installed,
    )
    assert run.returncode == 1, run.stdout + run.stderr
    assert "breached" in run.stdout


def test_the_wheel_carries_grammar_and_models(installed: Path) -> None:
    """Grammar, language reference and worked circuits travel with the package."""
    data = installed / "airproof" / "_data"
    assert (data / "grammar" / "circuit.lark").is_file()
    assert (data / "grammar" / "LANGUAGE.md").is_file()
    assert list((data / "models" / "worked").glob("*.circuit"))
