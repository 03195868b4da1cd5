"""What is wrong with a circuit whatever is asked of it."""

from __future__ import annotations

from collections.abc import Iterator

from airproof.circuit.kinds import Circuit, Standing
from airproof.engines.budget import Budget
from airproof.engines.pursuit import Pursuit
from airproof.engines.quick import OutOfBudget
from airproof.engines.races import Races
from airproof.engines.reaching import Reach
from airproof.engines.soundness import Soundness, not_proved
from airproof.engines.thinning import thinned
from airproof.evidence.health import Code, Finding
from airproof.transition.encode import layout_of
from airproof.transition.probes import pinned
from airproof.transition.watching import Watch, watched


def examine(circuit: Circuit, budget: Budget) -> tuple[Finding, ...]:
    """Chatter, stopped time, races, starts and standing states that cannot be; errors first.

    No error and nothing `not examined`: proved, for every run of any length,
    that time can always go on (`soundness`).  Races are only searched for.
    """
    found: dict[tuple[Code, tuple[str, ...]], Finding] = {}
    try:
        for finding in _found(circuit, budget):
            found.setdefault((finding.code, finding.names), finding)
    except OutOfBudget as stop:
        found["not examined", ()] = not_proved(stop.why)
    return tuple(sorted(found.values(), key=lambda finding: finding.weight != "error"))


def unreached(circuit: Circuit, budget: Budget) -> tuple[Finding, ...]:
    """Positions, flows and standing states that no run reaches, or none that was looked at."""
    return Reach(circuit, budget).findings()


def _found(circuit: Circuit, budget: Budget) -> Iterator[Finding]:
    whole = Soundness(circuit, budget)
    starts = [name for name in (None, *circuit.standings) if whole.begins(name)]
    if None not in starts:
        yield Finding("error", "no start", ())
    yield from _excluded(whole, starts)
    yield from thinned(circuit, budget)
    suspects = whole.suspects()
    for start in starts:
        yield from whole.findings(start, suspects)
    races = Races(whole, budget)
    for start in starts:
        yield from races.findings(start)


def _excluded(whole: Soundness, starts: list[str | None]) -> Iterator[Finding]:
    """Standing states with no state in them, or none that facts or rules let a run come to."""
    for name, standing in whole.circuit.standings.items():
        if name not in starts or (None in starts and _out_of_reach(whole, standing)):
            yield Finding("error", "standing state excluded", (name,))


def _out_of_reach(whole: Soundness, standing: Standing) -> bool:
    """What is known of every run excludes it, or no step leads there from anywhere else."""
    system = whole.system(None)
    watch = Watch(lambda at: pinned(at, standing), {}, {})
    layout = layout_of(system, whole.circuit)
    there = watched(system, layout, watch, whole.known(None))
    return Pursuit(whole.circuit, there, whole.budget).pursue(()).comes == "no"
