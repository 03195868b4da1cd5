"""A change judged from what is known of the circuit before it, beside proving it from nothing.

    python tests/benchmarks/carrying.py models/changes/winder_lockout_spring.change

Both in one process, one property after the other, health included.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TypeVar

from airproof.analyses.carrying import carried
from airproof.certify.check import certified
from airproof.circuit.kinds import Circuit
from airproof.engines.budget import Budget
from airproof.engines.health import examine
from airproof.engines.strategy import prove
from airproof.evidence.verdict import Verdict
from airproof.language import load
from airproof.language.changing.applying import applied, changed, original
from airproof.language.changing.reading import parse_change

SECONDS = 60.0  # for each property


T = TypeVar("T")


def timed(what: Callable[[], T]) -> tuple[T, float]:
    """Its result and the seconds it took."""
    began = time.perf_counter()
    return what(), time.perf_counter() - began


def proved(circuit: Circuit, name: str) -> Verdict:
    return certified(circuit, prove(circuit, name, Budget(seconds=SECONDS)), 20.0)


def main(path: Path) -> None:
    """Prints a line for each property, then both sums."""
    change = parse_change(path.read_text("utf-8"), str(path))
    worked = path.parent.parent / "worked" / change.circuit.text
    first = original(load(worked), str(worked.parent))
    old, new = load(worked).circuit, changed(first, applied(first, [change], {}), {}).circuit
    health = timed(partial(examine, new, Budget(seconds=SECONDS)))[1]
    sums = [health, health]
    for name in new.properties:
        claim = proved(old, name)
        anew, alone = timed(partial(proved, new, name))
        found, along = timed(partial(carried, new, old, claim, Budget(seconds=20.0)))
        if found is None:
            along += alone
        way = "anew" if found is None else found.way
        sums = [sums[0] + alone, sums[1] + along]
        print(f"{name:20} {anew.word:10} {alone:7.1f} s {along:7.1f} s  {way}", flush=True)
    print(f"{'health':20} {'':10} {health:7.1f} s {health:7.1f} s")
    print(f"{'all':20} {'':10} {sums[0]:7.1f} s {sums[1]:7.1f} s  {sums[1] / sums[0]:.2f}")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
