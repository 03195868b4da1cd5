"""The tables of the page of results, in Markdown."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from benchmarks import figures
from benchmarks.cases import GROUPS
from benchmarks.contenders import AIRPROOF, VARIANTS
from benchmarks.figures import Check, Growth, Share
from benchmarks.measuring import LONG, Measured
from benchmarks.results import BEST, Results

_LONGEST = 12  # runs of airproof whose parts are printed


def table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> Iterator[str]:
    yield ""
    yield f"| {' | '.join(heads)} |"
    yield f"|{'---|' * len(heads)}"
    for row in rows:
        yield f"| {' | '.join(row)} |"


def verdicts(checks: Iterable[Check]) -> Iterator[Sequence[str]]:
    for check in checks:
        yield check.what, "met" if check.met else "MISSED", check.measured


def ratios(results: Results) -> Iterator[str]:
    """Geometric means of the other engines' times by airproof's."""
    everyone = [*results.measured, *(results.best if len(VARIANTS) > 1 else [])]
    names = [name for name in figures.by_engine(everyone) if name != AIRPROOF]
    parts = {group: [group] for group in GROUPS}
    parts |= {"families": ["independent", "chained"], "all": list(GROUPS)}
    yield f"## How many times {AIRPROOF}'s time the others take: geometric means"
    rows = ((name, *(_mean(everyone, name, p) for p in parts.values())) for name in names)
    yield from table(("engine", *parts), rows)
    yield ""


def _mean(measured: Sequence[Measured], name: str, groups: Sequence[str]) -> str:
    found = [p for p in figures.pairs(measured, name) if p.ours.group in groups]
    return f"{figures.mean(p.ratio for p in found):.2f} ({len(found)})" if found else ""


def behind(results: Results) -> Iterator[str]:
    """Every case on which a way of asking the fixedpoint engine is too far ahead."""
    found = [p for v in VARIANTS for p in figures.pairs(results.measured, v.name) if p.behind]
    most = f"{figures.TWICE:g} times the fixedpoint engine's time plus {figures.EXTRA} s"
    yield f"## Where {AIRPROOF} takes more than {most}"
    rows = ((p.ours.group, p.ours.case, _cell(p.ours), p.theirs.engine, _cell(p.theirs))
            for p in sorted(found, key=lambda p: -p.excess))  # fmt: skip
    yield from table(("group", "case", AIRPROOF, "beside", "its"), rows)
    yield ""


def group(results: Results, group: str) -> Iterator[str]:
    measured = results.of(group)
    if not measured:
        return
    best = figures.best_of(measured, [v.name for v in VARIANTS], BEST)
    everyone = [*measured, *(best if len(VARIANTS) > 1 else [])]
    yield f"## {group}: {len({r.case for r in measured})} cases"
    yield from table(
        ("engine", "solved", "median s", "sum s", "its time by airproof's: mean", "worst for us"),
        (_summary(everyone, name, found) for name, found in figures.by_engine(everyone).items()),
    )
    yield ""
    if group == "worked":
        yield from _each(measured)


def _summary(measured: Sequence[Measured], name: str, found: list[Measured]) -> Sequence[str]:
    spent = sorted(r.run.cpu for r in found)
    ratios = [p.ratio for p in figures.pairs(measured, name)]
    solved = sum(r.solved for r in found)
    compared = ("", "") if name == AIRPROOF or not ratios else _compared(ratios)
    return (
        name, f"{solved} of {len(found)}", _seconds(spent[len(spent) // 2]),
        _seconds(sum(spent)), *compared,
    )  # fmt: skip


def _compared(ratios: Sequence[float]) -> tuple[str, str]:
    return f"{figures.mean(ratios):.2f}", f"{min(ratios):.2f}"


def _each(measured: Sequence[Measured]) -> Iterator[str]:
    """Every case by every engine."""
    names = list(figures.by_engine(measured))
    cells: dict[str, dict[str, str]] = {}
    for result in measured:
        cells.setdefault(result.case, {})[result.engine] = _cell(result)
    yield from table(
        ("case", *names), ((case, *(row.get(n, "") for n in names)) for case, row in cells.items())
    )
    yield ""


def _cell(result: Measured) -> str:
    if result.solved:
        return _seconds(result.run.cpu)
    short = {"out of time": "out", "not run": "-", "failed": "failed"}
    return short[result.how]


def growth(growths: Sequence[Growth]) -> Iterator[str]:
    if not growths:
        return
    sizes = sorted({n for growth in growths for n in growth.times})
    yield "## Growth: seconds by number of units"
    rows = (_growth_row(growth, sizes) for growth in sorted(growths, key=lambda g: g.line))
    heads = ("family", "property", "engine", *map(str, sizes), "exponent")
    yield from table(heads, rows)
    yield ""


def _growth_row(growth: Growth, sizes: Sequence[int]) -> Sequence[str]:
    shape, bands, prop = growth.line
    cells = [_cell(growth.times[n]) if n in growth.times else "" for n in sizes]
    slope = growth.exponent
    told = f"{shape}, {'bands' if bands == 'bands' else 'no bands'}"
    return told, prop, growth.engine, *cells, "" if slope is None else f"{slope:.2f}"


def shares(shares: Sequence[Share]) -> Iterator[str]:
    yield f"## Where airproof's time goes, on its runs over {LONG:g} s"
    if not shares:
        yield from ("", "No run took that long.", "")
        return
    names = list(dict.fromkeys(part for share in shares for part in share.result.run.parts))
    longest = sorted(shares, key=lambda share: -share.result.run.wall)[:_LONGEST]
    rows = [_share_row(f"{s.result.group} {s.result.case}", s.result.run.parts, names)
            for s in longest]  # fmt: skip
    whole = {n: sum(s.result.run.parts.get(n, 0.0) for s in shares) for n in names}
    rows.append(_share_row(f"all {len(shares)}", whole, names))
    yield from table(("run", "s", *names), rows)
    yield ""


def _share_row(name: str, parts: Mapping[str, float], names: Sequence[str]) -> Sequence[str]:
    total = sum(parts.values()) or 1.0
    return name, _seconds(total), *(f"{parts.get(n, 0.0) / total:.0%}" for n in names)


def _seconds(value: float) -> str:
    return f"{value:.3f}" if value < 0.1 else f"{value:.2f}" if value < 10 else f"{value:.0f}"
