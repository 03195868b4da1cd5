"""What a pack was made from, so that two packs can be told apart."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path

import airproof
from airproof.circuit.kinds import Circuit
from airproof.report.words import sentence, units
from airproof.resources import folder

_PROGRAM = frozenset([".py", ".json", ".j2", ".css", ".js"])


def of_properties(circuit: Circuit) -> str:
    """SHA-256 over what each property asks, from where and how, in the order of the text."""
    named = units(circuit)
    return _digest(
        part
        for one in circuit.properties.values()
        for part in (
            one.name,
            sentence(one.sentence, named),
            one.start or "",
            "even for an instant" if one.even_for_an_instant else "",
        )
    )


def of_tool() -> str:
    """SHA-256 over the program and its grammar, as they are installed."""
    package = Path(airproof.__file__).parent
    places = [package, folder("grammar")]
    found = [
        (path.relative_to(place).as_posix(), path)
        for place in places
        for path in sorted(place.rglob("*"))
        if path.is_file()
        and (path.suffix in _PROGRAM or place != package)
        and "_data" not in path.relative_to(place).parts
    ]
    return _digest(part for name, path in found for part in (name, path.read_bytes().hex()))


def _digest(parts: Iterable[str]) -> str:
    digest = hashlib.sha256()
    for part in parts:
        data = part.encode("utf-8")
        digest.update(f"{len(data)}\n".encode())
        digest.update(data)
    return digest.hexdigest()
