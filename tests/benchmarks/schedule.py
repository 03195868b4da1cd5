"""In which order what is measured, how long it may take, and what is kept between runs."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path

from benchmarks.cases import Case, loaded
from benchmarks.contenders import AIRPROOF, VARIANTS, Contender
from benchmarks.measuring import Measured, Run, measure, not_run

OURS = 60.0  # [s] for airproof, whatever the limit of the others
OTHERS = 20.0  # [s] for the fixedpoint engine otherwise than as it comes
PLAIN = 5.0  # [s] for the engines that no required figure is about
TABLE = 1.0  # [s] for those on the tiny table
COMPARED = 0.25  # [s] for an engine that could answer only if what is known by hand were wrong


@dataclass(slots=True)
class Kept:
    """Results of earlier runs in a file, one a line, so that a run can be taken up again.

    again: engines of which no earlier result is taken
    told:  nothing more is measured
    known: by group, case and engine the last result and its limit [s]
    """

    path: Path | None
    again: frozenset[str] = frozenset()
    told: bool = False
    known: dict[tuple[str, str, str], tuple[float, Measured]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.path and self.path.exists():
            for line in self.path.read_text(encoding="utf-8").splitlines():
                data = json.loads(line)
                result = Measured(**data["result"] | {"run": Run(**data["result"]["run"])})
                if result.engine not in self.again:
                    self.known[_key(result)] = data["limit"], result

    def look(self, case: Case, engine: str, limit: float) -> Measured | None:
        """What a run with this limit [s] comes to, if an earlier one shows it."""
        had, result = self.known.get((case.group, case.name, engine), (0.0, None))
        if self.told:
            return result
        if result is None or not result.solved:
            return result if had >= limit else None
        return result if result.run.cpu <= limit else None

    def add(self, result: Measured, limit: float) -> None:
        if self.path:
            with self.path.open("a", encoding="utf-8") as file:
                file.write(json.dumps({"limit": limit, "result": asdict(result)}) + "\n")


def _key(result: Measured) -> tuple[str, str, str]:
    return result.group, result.case, result.engine


def limit_of(case: Case, contender: Contender, limit: float) -> float:
    """Processor time for one engine on one case [s]: what it counts as if it runs out of it."""
    if contender.name == AIRPROOF:
        return OURS
    if contender.name == VARIANTS[0].name:
        return limit
    if contender.name in {v.name for v in VARIANTS}:
        return min(limit, OTHERS)
    if not contender.proves and not case.reached:
        return min(limit, COMPARED)
    return min(limit, TABLE if case.group == "table" else PLAIN)


def measured(
    cases: Sequence[Case],
    contenders: Sequence[Contender],
    limit: float,
    kept: Kept,
    tell: Callable[[Measured], None],
) -> Iterator[Measured]:
    """Every engine on every case: case by case, so that a slower hour is slow for all alike."""
    lost: set[tuple[tuple[str, str, str], str]] = set()
    for number, case in enumerate(cases):
        for contender in _turned(contenders, number):
            if not contender.fits(loaded(case.text)):
                continue
            seconds = limit_of(case, contender, limit)
            result = kept.look(case, contender.name, seconds)
            if result is None and kept.told:
                continue
            if result is None:
                smaller = (case.line, contender.name) in lost
                result = _result(case, contender, seconds, smaller=smaller)
                kept.add(result, seconds)
            if case.units is not None and not result.solved:
                lost.add((case.line, contender.name))
            tell(result)
            yield result


def _result(case: Case, contender: Contender, seconds: float, *, smaller: bool) -> Measured:
    if smaller:
        return not_run(case, contender.name, seconds, "a smaller member ran out of time")
    return measure(case, contender, seconds)


def _turned(contenders: Iterable[Contender], number: int) -> list[Contender]:
    """The engines, a different one first each time."""
    everyone = list(contenders)
    first = number % len(everyone)
    return [*everyone[first:], *everyone[:first]]
