"""The page of results: tables in Markdown, the machine, and the reading that a person wrote."""

from __future__ import annotations

import os
import platform
from datetime import date
from pathlib import Path

import z3

from benchmarks import figures, tables
from benchmarks.cases import GROUPS
from benchmarks.contenders import AIRPROOF, VARIANTS
from benchmarks.results import Results

READING = "## What it shows"


def page(results: Results, before: str) -> str:
    """The whole page; what a person wrote under the last heading of the page before is kept."""
    _, heading, reading = before.partition(READING)
    kept = reading.strip() if heading else "To be written."
    parts = [
        "# How fast, beside other engines",
        _about(results),
        "## Required figures",
        *tables.table(("figure", "", "measured"), tables.verdicts(results.checks)),
        "",
        *tables.ratios(results),
        *tables.behind(results),
        *(line for group in GROUPS for line in tables.group(results, group)),
        *tables.growth(results.growths),
        *tables.shares(figures.shares(results.measured)),
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
of processor time, user and system. Other work ran on the same cores: {_waited(results)} times
their processor time passed while the runs of over {figures.EXTRA:g} s were made, and processor
time itself grows when caches are shared, so ratios under 1.5 mean little. Reading the text and
importing count for nobody, encoding for everybody. Under {AIRPROOF} stands its whole way: facts,
search, frames, and the certificate discharged anew or the sequence found made shorter, calmer and
rounder, and replayed.

A run out of time ("out") counts as its limit; where a smaller member of a family ran out of time
the larger ones are not run ("-": a smaller one ran out) and count as the limit too. Limits of
those that ran out: {_limits(results)}. An unrolling without a breach to find never ends, and gets
no more than is needed to see that it does not err.

{asked}
- `induction`: induction over as many steps as it takes, on the program's own unrolling
- `unrolling`: the unrolling alone, one step more at a time; it can only find breaches
- `explicit`: counting states, where nothing in a circuit has a value and no air moves
"""


def _waited(results: Results) -> str:
    return f"{figures.waited(results.measured):.1f}"


def _limits(results: Results) -> str:
    """By engine, what its runs out of time were given."""
    found: dict[str, set[float]] = {}
    for result in results.measured:
        if not result.solved:
            found.setdefault(result.engine, set()).add(result.run.cpu)
    told = (
        f"`{name}` {', '.join(f'{limit:g}' for limit in sorted(limits))} s"
        for name, limits in found.items()
    )
    return "; ".join(told) or "none"


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
