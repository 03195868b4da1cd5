"""Finds the data folders `grammar` and `models`, packaged or in the checkout."""

from pathlib import Path

_HERE = Path(__file__).resolve().parent


def folder(name: str) -> Path:
    """The data folder of this name."""
    packaged = _HERE / "_data" / name
    return packaged if packaged.is_dir() else _HERE.parents[1] / name
