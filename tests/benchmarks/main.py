"""The command: what is measured, told as it goes, and written down."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from benchmarks import figures
from benchmarks.cases import GROUPS, cases
from benchmarks.contenders import contenders
from benchmarks.measuring import Measured
from benchmarks.page import page
from benchmarks.results import Results
from benchmarks.schedule import Kept, measured

PAGE = Path(__file__).parent / "RESULTS.md"
LIMIT = 60.0


def main(given: Sequence[str] | None = None) -> int:
    """Exit code 1 if two engines disagree, else 0, whether figures are met or missed."""
    options = _parser().parse_args(given)
    chosen = cases(tuple(options.only or GROUPS), quick=options.quick)
    chosen = [case for case in chosen if options.match in f"{case.group} {case.name}"]
    everyone = contenders()
    engines = [everyone[name] for name in options.engines or everyone]
    kept = Kept(options.keep, frozenset(options.again or ()), options.told)
    found = list(measured(chosen, engines, options.limit, kept, _tell))
    order = list(everyone)
    found.sort(key=lambda result: order.index(result.engine))
    results = Results(chosen, found, options.limit)
    for check in results.checks:
        print(f"{'met   ' if check.met else 'MISSED'}  {check.what}: {check.measured}")
    wrong = figures.disagreements(found, chosen)
    for line in wrong:
        print(f"!!! DISAGREEMENT !!! {line}", file=sys.stderr)
    if options.page:
        before = options.page.read_text(encoding="utf-8") if options.page.exists() else ""
        options.page.write_text(page(results, before), encoding="utf-8")
    return 1 if wrong else 0


def _tell(result: Measured) -> None:
    why = f" ({result.run.failure})" if result.run.failure else ""
    said = result.run.answer if result.solved else result.how + why
    told = f"{result.group:12} {result.case:44} {result.engine:12}"
    print(f"{told} {result.run.cpu:8.3f} s  wall {result.run.wall:8.3f} s  {said}", flush=True)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="run.py",
        description="Compares airproof with other engines on the same transition systems, one run"
        " at a time, and writes tests/benchmarks/RESULTS.md. Leave the machine alone meanwhile.",
        epilog="A whole run takes up to an hour, nearly all of it time limits of the fixedpoint"
        " engine; a quick one with --limit 20 about 8 minutes.",
    )
    parser.add_argument(
        "--only", action="append", choices=GROUPS, metavar="GROUP",
        help=f"a group of cases ({', '.join(GROUPS)}); may be given more than once",
    )  # fmt: skip
    parser.add_argument("--match", default="", metavar="TEXT", help="only cases whose name has it")
    parser.add_argument(
        "--engines", action="append", choices=tuple(contenders()), metavar="ENGINE",
        help=f"an engine ({', '.join(contenders())}); may be given more than once",
    )  # fmt: skip
    parser.add_argument(
        "--limit", type=float, default=LIMIT, metavar="SECONDS",
        help="processor time for the fixedpoint engine on one case [%(default)s]",
    )  # fmt: skip
    parser.add_argument("--quick", action="store_true", help="a part of the cases of every group")
    parser.add_argument(
        "--keep", type=Path, metavar="FILE",
        help="keep what was measured there, and do not measure again what it has",
    )  # fmt: skip
    parser.add_argument(
        "--again", action="append", choices=tuple(contenders()), metavar="ENGINE",
        help="measure this engine anew, whatever was kept of it",
    )  # fmt: skip
    parser.add_argument("--told", action="store_true", help="measure nothing: write what was kept")
    parser.add_argument(
        "--page", type=Path, default=PAGE, metavar="FILE", help="the page to write [RESULTS.md]"
    )
    return parser
