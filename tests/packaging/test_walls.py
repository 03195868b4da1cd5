"""The rooms of the package and who may import whom."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "checker" / "airproof"
ROOMS = (
    "base",
    "air",
    "circuit",
    "language",
    "simulation",
    "transition",
    "evidence",
    "engines",
    "certify",
    "analyses",
    "report",
    "cli",
)
LIBRARIES = {
    "lark": {"language"},
    "z3": {"transition", "engines", "certify"},
    "click": {"cli"},
    "graphlay": {"report"},
    "vcd": {"report"},
    "jinja2": {"report"},
    "tomlkit": {"report"},
    "filelock": {"cli"},
}
WALLS = {("certify", "engines"), ("transition", "language"), ("engines", "language")}
ROOM_FILES = sorted(p for p in PACKAGE.rglob("*.py") if len(p.relative_to(PACKAGE).parts) > 1)


def imported(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            yield node.module or ""


def test_there_are_rooms_to_look_at() -> None:
    """The glob below finds the package."""
    assert len(ROOM_FILES) > 20


@pytest.mark.parametrize("path", ROOM_FILES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_a_room_imports_itself_and_lower_rooms(path: Path) -> None:
    """No import goes upwards or through a wall."""
    room = path.relative_to(PACKAGE).parts[0]
    for name in imported(path):
        parts = name.split(".")
        if parts[0] == "airproof" and len(parts) > 1 and parts[1] in ROOMS:
            assert ROOMS.index(parts[1]) <= ROOMS.index(room), f"{room} imports {name}"
            assert (room, parts[1]) not in WALLS, f"{room} imports {name}"
        if parts[0] in LIBRARIES:
            assert room in LIBRARIES[parts[0]], f"{room} speaks {parts[0]}"


def test_only_known_rooms_exist() -> None:
    """Every folder of the package is a room of the design."""
    folders = {p.name for p in PACKAGE.iterdir() if p.is_dir() and not p.name.startswith("_")}
    assert folders <= set(ROOMS)
