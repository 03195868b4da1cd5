"""Runs the benchmark from the checkout: `python tests/benchmarks/run.py --help`."""

from __future__ import annotations

import sys
from pathlib import Path

if __name__ == "__main__":
    here = Path(__file__).resolve()
    sys.path[:0] = [str(here.parents[1]), str(here.parents[2] / "checker")]
    from benchmarks.main import main

    sys.exit(main())
