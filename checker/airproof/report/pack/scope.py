"""The scope of a pack: what its verdicts say nothing about."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from airproof.circuit.kinds import Circuit
from airproof.evidence.verdict import Verdict
from airproof.report.granted import Granted, Kind
from airproof.report.schematic.labels import spread

_HEADINGS: Mapping[Kind, str] = {
    "assumption": "Assumptions",
    "supply": "Ranges of supplies",
    "control": "Sealed controls",
    "device": "Devices that move at once",
}
_NONE: Mapping[Kind, str] = {
    "assumption": "none is stated",
    "supply": "there is no supply",
    "control": "none",
    "device": "none: every device has a moving time",
}


def kinds_granted(items: Iterable[Granted]) -> list[tuple[str, list[str]]]:
    """What is taken for granted, kind by kind, each kind with at least one line."""
    found: dict[Kind, list[str]] = {kind: [] for kind in _HEADINGS}
    for item in items:
        named = item.kind == "assumption" and item.name and "." not in item.name
        found[item.kind].append(f"{item.name}: {item.text}" if named else item.text)
    devices = [item.removesuffix(" moves at once") for item in found["device"]]
    found["device"] = [", ".join(devices)] if devices else []
    return [(_HEADINGS[kind], lines or [_NONE[kind]]) for kind, lines in found.items()]


def sizes(circuit: Circuit) -> list[str]:
    """What the verdicts make of chokes, times and volumes."""
    stated = [
        f"{name} {spread(volume.size, 'litre')}"
        for name, volume in circuit.volumes.items()
        if volume.size is not None
    ]
    free = [name for name, volume in circuit.volumes.items() if volume.size is None]
    said = ["chokes, conductances, timers and moving times were not used: they may be anything"]
    if stated:
        said.append(f"air is conserved in the volumes with a stated size: {', '.join(stated)}")
    if free:
        said.append(f"volumes without a stated size rise and fall freely: {', '.join(free)}")
    return said


def standings(circuit: Circuit, verdicts: Iterable[Verdict]) -> list[str]:
    """From where the runs were taken that the verdicts are about."""
    return list(_standings(circuit, [circuit.properties[v.property].start for v in verdicts]))


def _standings(circuit: Circuit, starts: list[str | None]) -> Iterator[str]:
    own = starts.count(None)
    if own:
        yield f"as the circuit starts: {_counted(own)}"
    for name in circuit.standings:
        count = starts.count(name)
        if count:
            yield f"from the standing state {name}: {_counted(count)}"
        else:
            yield f"from the standing state {name}: none; no property asks for it"


def _counted(count: int) -> str:
    return "1 property" if count == 1 else f"{count} properties"
