"""The parser's tables are kept between runs, and never in the way."""

from __future__ import annotations

from pathlib import Path

import pytest
from lark import Lark

from airproof.language import tables

GRAMMAR = 'start: "a"+'


def test_kept_tables_parse_alike(tmp_path: Path) -> None:
    """What is read back parses what the parser parsed that was kept."""
    kept = tmp_path / "cache" / "tables"
    tables.write(kept, Lark(GRAMMAR, parser="lalr"))
    again = tables.read(kept)
    assert again is not None
    assert again.parse("aaa") == Lark(GRAMMAR, parser="lalr").parse("aaa")


@pytest.mark.parametrize("content", [b"", b"nonsense", b"\x80\x04K\x01."])
def test_spoilt_tables_are_worked_out_anew(tmp_path: Path, content: bytes) -> None:
    """A file that is no table is as good as none."""
    kept = tmp_path / "tables"
    kept.write_bytes(content)
    assert tables.read(kept) is None


def test_a_file_that_others_may_write_is_not_opened(tmp_path: Path) -> None:
    """Tables are code to their reader, so a file open to others is not trusted."""
    kept = tmp_path / "tables"
    tables.write(kept, Lark(GRAMMAR, parser="lalr"))
    kept.chmod(0o666)
    assert tables.read(kept) is None


def test_no_folder_no_harm(tmp_path: Path) -> None:
    """Where nothing can be kept, the parser comes back all the same."""
    blocked = tmp_path / "file"
    blocked.write_text("")
    parser = Lark(GRAMMAR, parser="lalr")
    assert tables.write(blocked / "below" / "tables", parser) is parser


def test_another_grammar_has_other_tables() -> None:
    """A changed grammar never meets old tables."""
    assert tables.file_for(GRAMMAR) != tables.file_for(GRAMMAR + " ")
