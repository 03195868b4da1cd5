"""Numbers drawn from what was measured: ratios, growth, shares, and whether a figure is met."""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from benchmarks.cases import Case
from benchmarks.contenders import AIRPROOF, VARIANTS
from benchmarks.measuring import LONG, Measured

TWICE, EXTRA = 2.0, 0.3  # never more than twice its time plus so much [s]
FASTER = 5.0  # geometric mean of the fixedpoint engine's time by airproof's
CHAINED = 60.0  # [s] for the largest member of a chained family
QUADRATIC = 2.0
FLAT = (1.25, 0.1)  # "none" allows this ratio and this much [s], which runs differ by anyhow
LEAST = 0.001  # [s]: shorter times are taken for this, so that ratios mean something
HALF = 0.5


@dataclass(frozen=True, slots=True)
class Pair:
    """airproof and another engine on one case."""

    ours: Measured
    theirs: Measured

    @property
    def ratio(self) -> float:
        """Their processor time by ours; what ran out of time has its limit."""
        return max(self.theirs.run.cpu, LEAST) / max(self.ours.run.cpu, LEAST)

    @property
    def excess(self) -> float:
        """Seconds beyond what airproof may take where the other engine answered."""
        return self.ours.run.cpu - (TWICE * self.theirs.run.cpu + EXTRA)

    @property
    def behind(self) -> bool:
        """The other engine answered, and airproof did not, or took longer than it may."""
        return self.theirs.solved and (not self.ours.solved or self.excess > 0)


@dataclass(frozen=True, slots=True)
class Check:
    """One required figure as it was measured."""

    what: str
    met: bool
    measured: str


def by_engine(results: Iterable[Measured]) -> dict[str, list[Measured]]:
    """The results in engines' order of appearance."""
    found: dict[str, list[Measured]] = {}
    for result in results:
        found.setdefault(result.engine, []).append(result)
    return found


def pairs(results: Sequence[Measured], engine: str) -> list[Pair]:
    """Every case on which both airproof and the engine were measured."""
    named = by_engine(results)
    ours = {(r.group, r.case): r for r in named.get(AIRPROOF, [])}
    theirs = [r for r in named.get(engine, []) if (r.group, r.case) in ours]
    return [Pair(ours[r.group, r.case], r) for r in theirs]


def waited(results: Iterable[Measured]) -> float:
    """Wall time by processor time of all runs that took a while and answered; 1 of none."""
    long = [r.run for r in results if r.solved and r.run.cpu >= EXTRA]
    return sum(run.wall for run in long) / sum(run.cpu for run in long) if long else 1.0


def mean(ratios: Iterable[float]) -> float:
    """The geometric mean; 1 of nothing."""
    logs = [math.log(ratio) for ratio in ratios]
    return math.exp(statistics.fmean(logs)) if logs else 1.0


def disagreements(results: Sequence[Measured], cases: Iterable[Case]) -> list[str]:
    """Cases on which two engines, or an engine and what was worked out by hand, differ.

    A breach found on a cut system is the part's, and says nothing of the whole.
    """
    cut = {variant.name for variant in VARIANTS if variant.cut}
    by_hand = {(c.group, c.name): "reached" if c.reached else "never" for c in cases}
    said: dict[tuple[str, str], dict[str, list[str]]] = {}
    for result in results:
        key = result.group, result.case
        if result.engine in cut and result.run.answer == "reached":
            continue
        if result.solved and key in by_hand:
            words = said.setdefault(key, {by_hand[key]: ["by hand"]})
            words.setdefault(result.run.answer, []).append(result.engine)
    return [
        f"{group} {case}: "
        + "; ".join(f"{word}: {', '.join(names)}" for word, names in words.items())
        for (group, case), words in said.items()
        if len(words) > 1
    ]


@dataclass(frozen=True, slots=True)
class Growth:
    """One property of a family under one engine: times [s] by number of units."""

    line: tuple[str, str, str]
    engine: str
    times: Mapping[int, Measured]

    @property
    def solved(self) -> dict[int, float]:
        return {n: max(r.run.cpu, LEAST) for n, r in self.times.items() if r.solved}

    @property
    def exponent(self) -> float | None:
        """The slope of log time over log units; None from fewer than three sizes."""
        points = [(math.log(n), math.log(t)) for n, t in self.solved.items()]
        if len(points) < 3:
            return None
        return statistics.linear_regression(*zip(*points, strict=True)).slope


def growths(results: Iterable[Measured], cases: Iterable[Case]) -> list[Growth]:
    """Every property of every family under every engine."""
    units = {(c.group, c.name): c for c in cases if c.units is not None}
    found: dict[tuple[tuple[str, str, str], str], dict[int, Measured]] = {}
    for result in results:
        case = units.get((result.group, result.case))
        if case is not None and case.units is not None:
            found.setdefault((case.line, result.engine), {})[case.units] = result
    return [Growth(line, engine, times) for (line, engine), times in found.items()]


@dataclass(frozen=True, slots=True)
class Share:
    """A run of airproof, and the seconds of it by part [s]."""

    result: Measured

    @property
    def outside(self) -> float:
        """The share of wall time that was not spent in the solver's checks."""
        parts = self.result.run.parts
        total = sum(parts.values())
        return 1 - parts.get("solver", 0.0) / total if total else 0.0


def shares(results: Iterable[Measured]) -> list[Share]:
    """airproof's answered runs that took long."""
    ours = (r for r in results if r.engine == AIRPROOF and r.solved)
    return [Share(r) for r in ours if r.run.parts]


def against_fixedpoint(results: Sequence[Measured], engine: str) -> list[Check]:
    """The figures against one way of asking the fixedpoint engine."""
    both = pairs(results, engine)
    solved = [p for p in both if p.theirs.solved]
    missed = [p.ours.case for p in solved if not p.ours.solved]
    slow = sorted((p for p in solved if p.behind), key=lambda p: -p.excess)
    faster = mean(p.ratio for p in both)
    worst = "".join(
        f"; {p.ours.case} {p.ours.run.cpu:.2f} s to {p.theirs.run.cpu:.2f} s" for p in slow[:3]
    )
    more = sum(p.ours.solved and not p.theirs.solved for p in both)
    return [
        Check(
            f"everything that {engine} solves is solved",
            not missed,
            f"{len(solved) - len(missed)} of {len(solved)}, and {more} that it does not"
            + "".join(f"; not {name}" for name in missed[:5]),
        ),
        Check(
            f"never more than twice the time of {engine} plus {EXTRA} s",
            not slow,
            f"{len(slow)} of {len(solved)} beyond{worst}",
        ),
        Check(
            f"geometric mean at least {FASTER:g} times faster than {engine}",
            faster >= FASTER,
            f"{faster:.2f} times over {len(both)} cases",
        ),
    ]


def growth_checks(found: Iterable[Growth]) -> list[Check]:
    """The figures on growth, of airproof's lines."""
    ours = [g for g in found if g.engine == AIRPROOF and len(g.times) > 1]
    return [_growth_check(growth) for growth in ours]


def _growth_check(growth: Growth) -> Check:
    shape, bands, prop = growth.line
    least, most = min(growth.times), max(growth.times)
    ends = f"{_time(growth.times[least])} to {_time(growth.times[most])}"
    name = f"{shape}, {'with' if bands == 'bands' else 'without'} bands, {prop}"
    solved = growth.solved
    if shape == "independent":
        ratio, extra = FLAT
        flat = most in solved and solved[most] <= ratio * solved.get(least, 0.0) + extra
        return Check(f"{name}: no growth over {least} .. {most} units", flat, ends)
    slope = growth.exponent
    told = f"{ends}, exponent {'-' if slope is None else f'{slope:.2f}'}"
    quadratic = slope is not None and slope <= QUADRATIC
    met = quadratic and most in solved and solved[most] <= CHAINED
    return Check(f"{name}: at most quadratic, {most} units within {CHAINED:g} s", met, told)


def _time(result: Measured) -> str:
    return f"{result.run.cpu:.2f} s" if result.solved else result.how


def share_check(found: Sequence[Share]) -> Check:
    """The figure on time outside the solver."""
    total = sum(sum(share.result.run.parts.values()) for share in found)
    inside = sum(share.result.run.parts.get("solver", 0.0) for share in found)
    above = sum(share.outside >= HALF for share in found)
    whole = 1 - inside / total if total else 0.0
    return Check(
        f"wall time outside the solver under {HALF:.0%} on runs over {LONG:g} s",
        not above,
        f"{whole:.0%} of all {len(found)} such runs together, {above} of them at or above",
    )


def best_of(results: Sequence[Measured], engines: Sequence[str], name: str) -> list[Measured]:
    """For each case the quickest answer that any of the engines gave."""
    found: dict[tuple[str, str], Measured] = {}
    key: Callable[[Measured], tuple[bool, float]] = lambda r: (not r.solved, r.run.cpu)  # noqa: E731
    for result in results:
        if result.engine in engines:
            had = found.setdefault((result.group, result.case), result)
            found[result.group, result.case] = min(had, result, key=key)
    return [Measured(r.group, r.case, name, r.how, r.run) for r in found.values()]
