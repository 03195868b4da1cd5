"""What is wrong with a circuit itself, whatever is asked of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from airproof.circuit.kinds import Circuit
from airproof.circuit.readings import Inner
from airproof.circuit.tables import tables_of
from airproof.evidence.sequence import Sequence as Steps

Code = Literal[
    "no start",  # nothing satisfies the stated starts
    "chatter",  # devices that never come to rest, every control still
    "stopped time",  # a control is due and may not move
    "race",  # a loop in no time that can be left
    "position not reached",
    "flow not open",
    "standing state not reached",
    "standing state excluded",
    "not examined",  # data: what the limit cut off
]


@dataclass(frozen=True, slots=True)
class Finding:
    """One health finding; an error withholds every `holds`.

    names: the devices, controls, flows or `device is position` pairs concerned
    sequence: a run that gets there, where one was found
    proved:   what is not reached is reached by no run; else none was found
    """

    weight: Literal["error", "warning"]
    code: Code
    names: tuple[str, ...]
    sequence: Steps | None = None
    detail: str | None = None
    proved: bool = False


def still_unreached(
    circuit: Circuit, findings: Iterable[Finding], sequences: Sequence[Steps]
) -> tuple[Finding, ...]:
    """The findings without those that one of the sequences of the circuit disproves."""
    stands = {
        f"{name} is {place}"
        for sequence in sequences
        for state in (sequence.start, *(step.after for step in sequence.steps))
        for name, place in state.positions.items()
        if name not in state.leaving
    }
    tables = tables_of(circuit)
    opened = {
        flow.name
        for sequence in sequences
        for before, step in sequence.pairs()
        if step.kind == "elapse"
        for inner in (Inner(tables, before, step.after),)
        for flow in circuit.flows.values()
        if inner.flow_condition(flow)[0]
    }
    reached = {"position not reached": stands, "flow not open": opened}
    return tuple(f for f in findings if not set(f.names) & reached.get(f.code, set()))
