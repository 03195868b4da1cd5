"""What airproof's time goes into: timers round the solver's calls and the program's own stages."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from types import ModuleType
from typing import Any

import z3
from z3 import z3core

from airproof.certify.check import certified
from airproof.certify.obligations import obligations
from airproof.transition.encode import encode

CALLS: Mapping[str, tuple[str, ...]] = {
    "solver": ("Z3_solver_check", "Z3_solver_check_assumptions", "Z3_solver_get_consequences"),
    "models": ("Z3_solver_get_model", "Z3_model_eval"),
    "handing over": (
        "Z3_substitute",
        "Z3_simplify",
        "Z3_solver_assert",
        "Z3_solver_push",
        "Z3_solver_pop",
        "Z3_solver_from_string",
        "Z3_parse_smtlib2_string",
    ),
    "building terms": tuple(name for name in dir(z3core) if name.startswith("Z3_mk_")),
}
STAGES: Mapping[str, tuple[Callable[..., Any], ...]] = {
    "encoding": (encode,),
    "certifying": (obligations, certified),
}
REST = "other Python"


@dataclass(slots=True)
class Clock:
    """Seconds by part; while a part runs, the one around it stands still.

    seconds: wall time so far [s]
    within:  the parts that have begun and not ended, innermost last
    since:   when the innermost began or went on [s]
    """

    seconds: dict[str, float] = field(default_factory=dict)
    within: list[str] = field(default_factory=lambda: [REST])
    since: float = field(default_factory=time.perf_counter)

    def _turn(self) -> None:
        now, part = time.perf_counter(), self.within[-1]
        self.seconds[part] = self.seconds.get(part, 0.0) + now - self.since
        self.since = now

    def timed(self, part: str, call: Callable[..., Any]) -> Callable[..., Any]:
        """The call, its time counted as that part's."""

        def clocked(*given: Any, **named: Any) -> Any:
            self._turn()
            self.within.append(part)
            try:
                return call(*given, **named)
            finally:
                self._turn()
                self.within.pop()

        return clocked

    def stopped(self) -> dict[str, float]:
        """All parts so far [s]."""
        self._turn()
        return dict(self.seconds)


@contextmanager
def clocked() -> Iterator[Clock]:
    """Timers in place for as long as this lasts; they add about a microsecond to each call."""
    clock = Clock()
    replaced: list[tuple[ModuleType, str, Any]] = []
    for part, module, name in _watched():
        original = getattr(module, name, None)
        if original is not None:
            replaced.append((module, name, original))
            setattr(module, name, clock.timed(part, original))
    try:
        yield clock
    finally:
        for module, name, original in replaced:
            setattr(module, name, original)


def _watched() -> Iterator[tuple[str, ModuleType, str]]:
    """Part, module and name of everything that is timed, wherever it was imported to."""
    for part, names in CALLS.items():
        for name in names:
            yield from ((part, module, name) for module in (z3core, z3.z3))
    ours = [m for n, m in sys.modules.items() if n.startswith(("airproof.", "benchmarks."))]
    for part, stages in STAGES.items():
        for stage in stages:
            name = stage.__name__
            yield from ((part, m, name) for m in ours if getattr(m, name, None) is stage)
