"""How far right each place of air stands: by its distance from the supplies."""

from __future__ import annotations

from collections.abc import Iterable

from airproof.circuit.kinds import ATMOSPHERE, Circuit

Rank = tuple[int, int]  # steps from a supply, then the order of the text


def ranks(circuit: Circuit) -> dict[str, Rank]:
    """Each supply and volume with its rank; no two are alike."""
    places = [*circuit.supplies, *circuit.volumes]
    depths = dict.fromkeys(circuit.supplies, 0)
    forward = [(flow.source, flow.target) for flow in circuit.flows.values()]
    _spread(depths, circuit.supplies, forward)
    for place in places:  # what no supply reaches begins a chain of its own
        if place not in depths:
            depths[place] = 0
            _spread(depths, [place], [*forward, *((end, start) for start, end in forward)])
    return {place: (depths[place], number) for number, place in enumerate(places)}


def _spread(depths: dict[str, int], begin: Iterable[str], steps: list[tuple[str, str]]) -> None:
    """Gives each place that can be reached its number of steps."""
    edge = list(begin)
    while edge:
        reached: list[str] = []
        for start, end in steps:
            if start in edge and end not in depths and end != ATMOSPHERE and start != ATMOSPHERE:
                depths[end] = depths[start] + 1
                reached.append(end)
        edge = reached
