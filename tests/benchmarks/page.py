"""The page of results: tables in Markdown, the machine, and the reading that a person wrote."""

from __future__ import annotations

import os
import platform
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import z3

from benchmarks import figures
from benchmarks.cases import GROUPS, Case
from benchmarks.contenders import AIRPROOF, VARIANTS
from benchmarks.figures import Check, Growth, Share
from benchmarks.measuring import LONG, Measured
from benchmarks.schedule import COMPARED, OTHERS, PLAIN, TABLE

READING = "## What it shows"
BEST = "fixedpoint, best of all"
_LONGEST = 12  # runs of airproof whose parts are printed


@dataclass(frozen=True, slots=True)
class Results:
    """Everything measured, the cases it was measured on, and the limit [s]."""

    cases: Sequence[Case]
    measured: Sequence[Measured]
    limit: float

    def of(self, group: str) -> list[Measured]:
        return [r for r in self.measured if r.group == group]

    @property
    def growths(self) -> list[Growth]:
        return figures.growths(self.measured, self.cases)

    @property
    def checks(self) -> list[Check]:
        """Every required figure."""
        found = [
            check
            for variant in VARIANTS
            if any(r.engine == variant.name for r in self.measured)
            for check in figures.against_fixedpoint(self.measured, variant.name)
        ]
        best = [*self.measured, *self.best]
        found += figures.against_fixedpoint(best, BEST) if len(VARIANTS) > 1 else []
        found += figures.growth_checks(self.growths)
        return [*found, figures.share_check(figures.shares(self.measured))]

    @property
    def best(self) -> list[Measured]:
        return figures.best_of(self.measured, [v.name for v in VARIANTS], BEST)


def page(results: Results, before: str) -> str:
    """The whole page; what a person wrote under the last heading of the page before is kept."""
    _, heading, reading = before.partition(READING)
    kept = reading.strip() if heading else "To be written."
    parts = [
        "# How fast, beside other engines",
        _about(results),
        "## Required figures",
        *_table(("figure", "", "measured"), _verdicts(results.checks)),
        "",
        *_ratios(results),
        *_behind(results),
        *(line for group in GROUPS for line in _group(results, group)),
        *_growth(results.growths),
        *_shares(figures.shares(results.measured)),
        READING,
        "",
        kept,
        "",
    ]
    return "\n".join(parts)


def _about(results: Results) -> str:
    asked = "\n".join(f"- `{v.name}`: {v.told}" for v in VARIANTS)
    return f"""
Written by `python tests/benchmarks/run.py` on {date.today().isoformat()}; all but the last section
is replaced by each run. {machine()}

Every engine gets the same transition systems (`transition.encode`), each engine and case in a
process of its own, one after the other, a different engine first at each case. Times are seconds
of processor time, user and system; the limit is {results.limit:g} s of it. Other work ran on the
same cores: {figures.waited(results.measured):.1f} times their processor time passed while runs of
over {figures.EXTRA:g} s were made, and processor time itself grows when caches are shared.
Reading the text and importing count for nobody, encoding for everybody. Under {AIRPROOF} stands
its whole way: facts, search, frames, and the certificate discharged anew or the sequence replayed.
A run out of time ("out") counts as its limit; where a smaller member of a family ran out of time
the larger ones are not run ("-") and count as the limit. Limits never above the following, so that
a run ends: {OTHERS:g} s for the second and later ways of asking the fixedpoint engine, {PLAIN:g} s
({TABLE:g} s on the table) for the plain engines, {COMPARED:g} s for the unrolling alone where
there is no breach to find.

{asked}
- `induction`: induction over as many steps as it takes, on the program's own unrolling
- `unrolling`: the unrolling alone, one step more at a time; it can only find breaches
- `explicit`: counting states, where nothing in a circuit has a value and no air moves
"""


def machine() -> str:
    """The machine in one line; no name, no place."""
    return (
        f"Machine: {os.cpu_count()} cores, {_field('/proc/cpuinfo', 'model name')}, "
        f"{_gibibytes()} GiB of memory; Python {platform.python_version()}, "
        f"z3 {z3.get_version_string()}."
    )


def _field(path: str, name: str) -> str:
    file = Path(path)
    if not file.exists():
        return "processor unknown"
    lines = (line.partition(":") for line in file.read_text(encoding="utf-8").splitlines())
    return next((value.strip() for key, _, value in lines if key.strip() == name), "unknown")


def _gibibytes() -> int:
    return round(os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30)


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> Iterator[str]:
    yield ""
    yield f"| {' | '.join(heads)} |"
    yield f"|{'---|' * len(heads)}"
    for row in rows:
        yield f"| {' | '.join(row)} |"


def _verdicts(checks: Iterable[Check]) -> Iterator[Sequence[str]]:
    for check in checks:
        yield check.what, "met" if check.met else "MISSED", check.measured


def _ratios(results: Results) -> Iterator[str]:
    """Geometric means of the other engines' times by airproof's."""
    everyone = [*results.measured, *(results.best if len(VARIANTS) > 1 else [])]
    names = [name for name in figures.by_engine(everyone) if name != AIRPROOF]
    parts = {group: [group] for group in GROUPS}
    parts |= {"families": ["independent", "chained"], "all": list(GROUPS)}
    yield f"## How many times {AIRPROOF}'s time the others take: geometric means"
    rows = ((name, *(_mean(everyone, name, p) for p in parts.values())) for name in names)
    yield from _table(("engine", *parts), rows)
    yield ""


def _mean(measured: Sequence[Measured], name: str, groups: Sequence[str]) -> str:
    found = [p for p in figures.pairs(measured, name) if p.ours.group in groups]
    return f"{figures.mean(p.ratio for p in found):.2f} ({len(found)})" if found else ""


def _behind(results: Results) -> Iterator[str]:
    """Every case on which a way of asking the fixedpoint engine is too far ahead."""
    found = [p for v in VARIANTS for p in figures.pairs(results.measured, v.name) if p.behind]
    yield f"## Where {AIRPROOF} takes more than {figures.TWICE:g} times its time and {figures.EXTRA} s"
    rows = ((p.ours.group, p.ours.case, _cell(p.ours), p.theirs.engine, _cell(p.theirs))
            for p in sorted(found, key=lambda p: -p.excess))  # fmt: skip
    yield from _table(("group", "case", AIRPROOF, "beside", "its"), rows)
    yield ""


def _group(results: Results, group: str) -> Iterator[str]:
    measured = results.of(group)
    if not measured:
        return
    best = figures.best_of(measured, [v.name for v in VARIANTS], BEST)
    everyone = [*measured, *(best if len(VARIANTS) > 1 else [])]
    yield f"## {group}: {len({r.case for r in measured})} cases"
    yield from _table(
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
    compared = ("", "") if name == AIRPROOF else _compared(ratios)
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
    yield from _table(
        ("case", *names), ((case, *(row.get(n, "") for n in names)) for case, row in cells.items())
    )
    yield ""


def _cell(result: Measured) -> str:
    if result.solved:
        return _seconds(result.run.cpu)
    short = {"out of time": "out", "not run": "-", "failed": "failed"}
    return short[result.how]


def _growth(growths: Sequence[Growth]) -> Iterator[str]:
    if not growths:
        return
    sizes = sorted({n for growth in growths for n in growth.times})
    yield "## Growth: seconds by number of units"
    rows = (_growth_row(growth, sizes) for growth in sorted(growths, key=lambda g: g.line))
    heads = ("family", "property", "engine", *map(str, sizes), "exponent")
    yield from _table(heads, rows)
    yield ""


def _growth_row(growth: Growth, sizes: Sequence[int]) -> Sequence[str]:
    shape, bands, prop = growth.line
    cells = [_cell(growth.times[n]) if n in growth.times else "" for n in sizes]
    slope = growth.exponent
    told = f"{shape}, {'bands' if bands == 'bands' else 'no bands'}"
    return told, prop, growth.engine, *cells, "" if slope is None else f"{slope:.2f}"


def _shares(shares: Sequence[Share]) -> Iterator[str]:
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
    yield from _table(("run", "s", *names), rows)
    yield ""


def _share_row(name: str, parts: Mapping[str, float], names: Sequence[str]) -> Sequence[str]:
    total = sum(parts.values()) or 1.0
    return name, _seconds(total), *(f"{parts.get(n, 0.0) / total:.0%}" for n in names)


def _seconds(value: float) -> str:
    return f"{value:.3f}" if value < 0.1 else f"{value:.2f}" if value < 10 else f"{value:.0f}"
