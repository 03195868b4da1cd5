"""What the README shows is what the program does."""

from __future__ import annotations

import re
from pathlib import Path

from click.testing import CliRunner

from airproof.cli.main import main

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def fenced(word: str) -> list[str]:
    """The README's code blocks of this kind."""
    return re.findall(rf"```{word}\n(.*?)```", README, re.DOTALL)


def run(text: str, folder: Path) -> tuple[int, str]:
    file = folder / "hoist.circuit"
    file.write_text(text, encoding="utf-8")
    result = CliRunner().invoke(main, ["prove", str(file)])
    return result.exit_code, result.output


def test_the_walk_says_what_the_program_says(tmp_path: Path) -> None:
    """Verdict table and story stand in the program's output, word for word."""
    (text,) = fenced("circuit")
    code, said = run(text, tmp_path)
    assert code == 1
    table, story, _ = fenced("text")
    assert table.split("\n", 1)[1] in said
    assert story in said


def test_the_mended_line_makes_the_property_hold(tmp_path: Path) -> None:
    """With the README's mended line nothing is breached, and its proofs lean on what it says."""
    (text,), (line,) = fenced("circuit"), fenced("circuit-line")
    mended = re.sub(r"(?m)^flow feed:.*\n", line, text)
    code, said = run(mended, tmp_path)
    assert code == 0
    assert fenced("text-mended")[0] in said


def test_the_slip_is_answered_as_shown(tmp_path: Path) -> None:
    """Both problems of the misspelt text are told as in the README, but for the folder."""
    (text,) = fenced("circuit")
    wrong = text.replace("lever is lift and", "lever is left and").replace("4.6 bar", "4.6")
    code, said = run(wrong, tmp_path)
    assert code == 2
    shown = fenced("text")[2].split("\n", 1)[1]
    assert shown in said.replace(f"{tmp_path}/", "")


def test_files_named_exist() -> None:
    """Every relative link of the README and the contributor's guide leads somewhere."""
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    links = re.findall(r"\]\(([^)#:]+)\)", README + guide)
    assert links
    assert all((ROOT / link).exists() for link in links)
