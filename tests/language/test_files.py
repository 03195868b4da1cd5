"""Reading files: includes, what may not be read, and the fingerprint of the texts."""

from __future__ import annotations

import io
import os
import sys
from pathlib import Path

import pytest

from airproof.base.diagnostics import Problem, Rejected
from airproof.language import load, load_text

MAIN = 'circuit small "Small"\nsupply main: 7 bar\ninclude "more.circuit"\n'
MORE = "reservoir tank: starts 0 bar\nflow fill: main -> tank\n"


def rejected(path: Path | str) -> Problem:
    """The one problem of a file."""
    with pytest.raises(Rejected) as caught:
        load(path)
    (problem,) = caught.value.problems
    assert problem.message
    return problem


def put(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def test_include_beside_and_below(tmp_path: Path) -> None:
    """Files beside and below are read once, however often they are included."""
    put(tmp_path, "more.circuit", 'include "below/deep.circuit"\n' + MORE)
    put(tmp_path, "below/deep.circuit", 'pipe line: starts 0 bar\ninclude "end.circuit"\n')
    put(tmp_path, "below/end.circuit", "pipe tail: starts 0 bar\n")
    text = MAIN + 'include "below/end.circuit"\ninclude "./more.circuit"\n'
    loaded = load(put(tmp_path, "a.circuit", text))
    assert sorted(loaded.circuit.volumes) == ["line", "tail", "tank"]
    span = loaded.span_of("tail")
    assert span is not None
    assert (Path(span.path), span.line) == (tmp_path / "below" / "end.circuit", 1)


def test_fingerprint_covers_includes(tmp_path: Path) -> None:
    """A change in an included text changes the fingerprint; line ends do not."""
    main = put(tmp_path, "a.circuit", MAIN)
    more = put(tmp_path, "more.circuit", MORE)
    first = load(main).text_fingerprint
    more.write_bytes(MORE.replace("\n", "\r\n").encode())
    assert load(main).text_fingerprint == first
    more.write_text(MORE + "# later\n", encoding="utf-8")
    assert load(main).text_fingerprint != first
    assert len(first) == 64


def test_standard_input(monkeypatch: pytest.MonkeyPatch) -> None:
    """`-` reads standard input."""
    text = b'circuit small "Small"\nsupply main: 7 bar\n'
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(text)))
    assert load("-").circuit.name == "small"


@pytest.mark.parametrize(
    ("name", "code"), [("absent", "no_file"), ("folder", "is_folder"), ("pipe", "not_a_file")]
)
def test_no_file(tmp_path: Path, name: str, code: str) -> None:
    """What is not there, a folder and a named pipe are refused at once."""
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "pipe")
    assert rejected(tmp_path / name).code == code


def test_unreadable(tmp_path: Path) -> None:
    """A name that no system takes cannot be read."""
    assert rejected(tmp_path / ("x" * 5000)).code == "unreadable"


@pytest.mark.parametrize("data", [b"circuit a\0b\n", b"\xff\xfe\x00c", bytes(range(256))])
def test_binary(tmp_path: Path, data: bytes) -> None:
    """What is not text is refused as such."""
    path = tmp_path / "a.circuit"
    path.write_bytes(data)
    assert rejected(path).code == "file_not_text"


def test_too_large(tmp_path: Path) -> None:
    """A text of more than 250 kB is not read."""
    assert rejected(put(tmp_path, "a.circuit", "#" * 250_001)).code == "file_too_large"


@pytest.mark.parametrize("start", ["a.circuit", "more.circuit"])
def test_include_loop(tmp_path: Path, start: str) -> None:
    """Files that include one another, and one that includes itself, are refused."""
    put(tmp_path, "a.circuit", MAIN)
    put(tmp_path, "more.circuit", 'include "more.circuit"\n')
    put(tmp_path, "other.circuit", 'include "a.circuit"\n')
    assert rejected(tmp_path / start).code == "include_loop"
    put(tmp_path, "more.circuit", 'include "other.circuit"\n')
    assert "more.circuit` -> `" in rejected(tmp_path / start).message


@pytest.mark.parametrize(
    "written", ["../a.circuit", "x/../../a.circuit", "/etc/hostname", "C:\\a.circuit", "", ".."]
)
def test_include_outside(tmp_path: Path, written: str) -> None:
    """No include leads out of the circuit's folder."""
    put(tmp_path, "a.circuit", MORE)
    text = MAIN.replace("more.circuit", written.replace("\\", "\\\\"))
    assert rejected(put(tmp_path, "in/b.circuit", text)).code == "include_outside"


def test_include_through_a_link(tmp_path: Path) -> None:
    """A link is not followed, whether file or folder."""
    put(tmp_path, "outside/more.circuit", MORE)
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "more.circuit").symlink_to(tmp_path / "outside" / "more.circuit")
    assert rejected(put(tmp_path, "in/b.circuit", MAIN)).code == "include_link"
    (tmp_path / "in" / "way").symlink_to(tmp_path / "outside")
    text = MAIN.replace("more", "way/more")
    assert rejected(put(tmp_path, "in/c.circuit", text)).code == "include_link"


def test_included_text_describes_no_circuit(tmp_path: Path) -> None:
    """`circuit` belongs to the text that includes."""
    put(tmp_path, "more.circuit", 'circuit other "Other"\n' + MORE)
    assert rejected(put(tmp_path, "a.circuit", MAIN)).code == "circuit_in_include"


def test_too_many_includes(tmp_path: Path) -> None:
    """A chain of files that never ends is cut short."""
    for number in range(120):
        put(tmp_path, f"f{number}.circuit", f'include "f{number + 1}.circuit"\n')
    text = MAIN.replace("more", "f0")
    assert rejected(put(tmp_path, "a.circuit", text)).code == "too_many_includes"


def test_included_folder(tmp_path: Path) -> None:
    """Including a folder is refused where the include stands."""
    (tmp_path / "more.circuit").mkdir()
    problem = rejected(put(tmp_path, "a.circuit", MAIN))
    assert problem.code == "is_folder"
    assert problem.span is not None
    assert problem.span.line == 3


def test_a_text_without_a_folder_includes_from_the_library_only() -> None:
    """Nothing beside the present folder is read for a bare text."""
    with pytest.raises(Rejected) as caught:
        load_text('circuit small "Small"\ninclude "pyproject.toml"\n')
    assert [problem.code for problem in caught.value.problems] == ["include_missing"]
