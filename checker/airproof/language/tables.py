"""The parser's tables, kept in the user's cache folder so that a run need not work them out."""

from __future__ import annotations

import contextlib
import hashlib
import os
import sys
import tempfile
from pathlib import Path

import lark
from lark import Lark

import airproof


def file_for(grammar: str) -> Path:
    """Where the tables of this grammar are kept, for this lark, this Python and this airproof."""
    facts = (grammar, lark.__version__, sys.version, airproof.__version__)
    key = hashlib.sha256("\n".join(facts).encode()).hexdigest()[:24]
    base = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    return Path(base) / "airproof" / f"tables-{key}"


def read(kept: Path) -> Lark | None:
    """The parser with the tables kept there; None if there are none that can be used.

    Only a file that belongs to this user and that nobody else may write is opened.
    """
    try:
        with kept.open("rb") as file:
            facts = os.fstat(file.fileno())
            owner = getattr(os, "getuid", lambda: facts.st_uid)()
            if facts.st_uid != owner or facts.st_mode & 0o022:
                return None
            return Lark.load(file)
    except Exception:
        return None  # whatever is wrong with it, the tables are worked out anew


def write(kept: Path, parser: Lark) -> Lark:
    """Keeps the parser's tables, whole or not at all; returns the parser."""
    with contextlib.suppress(OSError):
        kept.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=kept.parent, delete=False) as file:
            try:
                parser.save(file)
            except BaseException:
                Path(file.name).unlink()
                raise
        Path(file.name).replace(kept)
    return parser
