"""Rewriting a file whole or not at all, and the line that is written over."""

from __future__ import annotations

import errno
import io
import os
import stat
import tempfile
from pathlib import Path

import pytest

from airproof.cli.files import rewrite
from airproof.cli.progress import Ticker
from airproof.cli.shell import Refused
from airproof.evidence.verdict import Verdict


@pytest.fixture
def text(tmp_path: Path) -> Path:
    path = tmp_path / "a.circuit"
    path.write_text("before\n")
    return path


def test_a_file_is_replaced_whole(text: Path) -> None:
    """The new text is there, with the old permissions, and nothing else is left in the folder."""
    text.chmod(0o640)
    rewrite(str(text), "after é\n")
    assert text.read_bytes() == "after é\n".encode()
    assert stat.S_IMODE(text.stat().st_mode) == 0o640
    assert [path.name for path in text.parent.iterdir()] == ["a.circuit"]


def test_a_link_stays_a_link(text: Path) -> None:
    """Through a link the file it leads to is rewritten."""
    link = text.parent / "link"
    link.symlink_to(text)
    rewrite(str(link), "after\n")
    assert link.is_symlink()
    assert text.read_text() == "after\n"


def test_a_full_disk_leaves_the_file_as_it_was(text: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No space: a message that names the file, the old text kept, no temporary file left."""

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(Refused, match=r"cannot write .*a.circuit, which is as it was: No space"):
        rewrite(str(text), "after\n")
    assert text.read_text() == "before\n"
    assert [path.name for path in text.parent.iterdir()] == ["a.circuit"]


def test_a_folder_that_takes_no_file(text: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no temporary file can be made the message names the file, which is as it was."""

    def refuse(**_: object) -> None:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(text.parent))

    monkeypatch.setattr(tempfile, "mkstemp", refuse)
    with pytest.raises(
        Refused, match=r"cannot write .*a.circuit, which is as it was: .*Permission"
    ):
        rewrite(str(text), "after\n")
    assert text.read_text() == "before\n"


def test_a_protected_file_is_not_replaced(text: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that may not be written stays, though its folder would let it be replaced."""
    monkeypatch.setattr(os, "access", lambda *_: False)
    with pytest.raises(Refused, match="write-protected"):
        rewrite(str(text), "after\n")
    assert text.read_text() == "before\n"


def test_progress_is_written_over() -> None:
    """A shorter line blots out the longer one before it; a verdict stays."""
    stream = io.StringIO()
    ticker = Ticker(stream, 20)
    ticker.depth("a_rather_long_property_name", 3)
    ticker.depth("b", 4)
    ticker.verdict(Verdict("b", "holds", "any speed", seconds=0.31))
    ticker.depth("", 5)
    ticker.further("1 of 9 done")
    ticker.clear()
    assert stream.getvalue() == (
        "\ra_rather_long_prope"
        "\rb: depth 4         "
        "\r          \rb: holds, any speed (0.3 s)\n"
        "\rhealth: depth 5"
        "\r1 of 9 done    "
        "\r           \r"
    )
