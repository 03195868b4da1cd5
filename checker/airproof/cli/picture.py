"""`draw`: the circuit's picture as it starts or in one of its standing states."""

from __future__ import annotations

from collections.abc import Sequence

from airproof.base.diagnostics import listed, nearest
from airproof.circuit.kinds import Circuit
from airproof.cli.shell import Refused
from airproof.report import schematic


def picture(circuit: Circuit, standing: str | None, file: str) -> str:
    """The SVG text.

    Raises Refused if the circuit has no standing state of that name.
    """
    if standing is not None and standing not in circuit.standings:
        raise Refused(_unknown(standing, list(circuit.standings), file))
    return schematic.draw(schematic.plan(circuit), standing=standing)


def _unknown(name: str, known: Sequence[str], file: str) -> str:
    if not known:
        return f"{file} has no standing state, so there is none called `{name}`"
    likely = nearest(name, known)
    hint = f"did you mean `{likely}`?" if likely else f"{file} has {listed(known, 'and')}"
    return f"there is no standing state `{name}`; {hint}"
