"""Planted defects: what they are, and how one is put into a copy of the program."""

from __future__ import annotations

import os
import shutil
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

CHECKOUT = Path(__file__).parents[2]
FOLDER = Path(__file__).parent / "defects"
COPIED = ("checker", "tests", "grammar", "models", "pyproject.toml")
PACKAGE = Path("checker") / "airproof"
ENGINES = "tests/test_table_engines.py"
ROW_TESTS = ("test_verdicts_and_lengths", "test_search_alone_agrees", "test_health")


class DefectError(Exception):
    """A planted defect does not fit the program as it is."""


@dataclass(frozen=True, slots=True)
class Defect:
    """One change that makes the program wrong.

    file:    below checker/airproof; `text` occurs in it once and is replaced by `instead`
    breaks:  what is wrong then
    tests:   tests that are expected to catch it, the cheapest first
    default: tests that are asked after these, the same for the whole table
    same:    why the changed program says the same all the same; None if it does not
    """

    name: str
    file: str
    text: str
    instead: str
    breaks: str
    tests: tuple[str, ...]
    default: tuple[str, ...]
    same: str | None = None

    @property
    def path(self) -> Path:
        """The file to change, from the checkout's root."""
        return PACKAGE / self.file

    @property
    def asked(self) -> list[tuple[str, ...]]:
        """What pytest is asked to run: one run after the other, the second if the first passes."""
        first, then = tuple(_expanded(self.tests)), tuple(_expanded(self.default))
        return [first, then] if first else [then]

    def planted(self, source: str) -> str:
        """The source with the defect in it; raises DefectError if its text is not there once."""
        if (count := source.count(self.text)) != 1:
            raise DefectError(f"{self.name}: its text occurs {count} times in {self.file}")
        return source.replace(self.text, self.instead)


def defects() -> tuple[Defect, ...]:
    """Every planted defect, table by table; raises DefectError on a key that is not known."""
    return tuple(one for path in sorted(FOLDER.glob("*.toml")) for one in _table(path))


def _table(path: Path) -> Iterator[Defect]:
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    default = tuple(data["default"])
    for entry in data["defect"]:
        tests = tuple(entry.pop("tests", ()))
        try:
            yield Defect(**entry, tests=tests, default=default)
        except TypeError as problem:
            raise DefectError(f"{path.name}: {entry.get('name')}: {problem}") from None


def _expanded(asked: tuple[str, ...]) -> Iterator[str]:
    """`table/050` stands for the tests of that row; everything else is pytest's own word."""
    for word in asked:
        if word.startswith("table/"):
            yield from _row(word.removeprefix("table/"))
        else:
            yield word


def _row(number: str) -> Iterator[str]:
    paths = list((CHECKOUT / "tests" / "table").glob(f"{number}_*.circuit"))
    if len(paths) != 1:
        raise DefectError(f"table/{number} is {len(paths)} rows")
    yield from (f"{ENGINES}::{test}[{paths[0].stem}]" for test in ROW_TESTS)


# ---- copies


def copy_to(folder: Path) -> None:
    """A copy of the program and its tests, without what earlier runs left behind."""
    for name in COPIED:
        source = CHECKOUT / name
        if source.is_dir():
            ignored = shutil.ignore_patterns("__pycache__", ".hypothesis")
            shutil.copytree(source, folder / name, ignore=ignored)
        else:
            shutil.copy2(source, folder / name)


@contextmanager
def planted(defect: Defect, copy: Path) -> Iterator[None]:
    """The copy with the defect in it, and as it was afterwards."""
    path = copy / defect.path
    sound = path.read_text(encoding="utf-8")
    changed = defect.planted(sound)
    _put(path, changed)
    try:
        yield
    finally:
        _put(path, sound)


def _put(path: Path, source: str) -> None:
    """Writes the file, so that no compiled form of what it was can be taken for it."""
    path.write_text(source, encoding="utf-8")
    for compiled in path.parent.glob(f"__pycache__/{path.stem}.*.pyc"):
        compiled.unlink()


def environment() -> dict[str, str]:
    """For tests in a copy: random comparisons are short, and nothing slows a start down."""
    ours = {
        "AIRPROOF_STEPS": "4000",
        "AIRPROOF_CIRCUITS": "200",
        "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1",
    }
    return {**{k: v for k, v in os.environ.items() if k != "PYTHONPATH"}, **ours}
