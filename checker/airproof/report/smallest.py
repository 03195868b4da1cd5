"""Some of several changes: what they do, and the smallest sets that breach something."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rich.console import RenderableType
from rich.text import Text

from airproof.report.comparison import Comparison, Fewer, Open
from airproof.report.halfway import files_of, stage_name, stage_outcome
from airproof.report.terminal import hanging, indented, shown

UNTRIED = "of the changes only each by itself and all together were tried"
_WHY: Mapping[Open, str] = {
    "undecided": "undecided",
    "cannot be judged": "not to be judged",
    "not asked": "not asked",
}


def some_changes(compared: Comparison) -> Iterator[RenderableType]:
    """On a terminal."""
    if not compared.subsets:
        return
    yield Text("\nSome of the changes", "bold")
    for stage in compared.subsets[:-1]:
        text = f"{stage_name(compared, stage)} alone: {stage_outcome(compared, stage)}"
        yield indented(hanging("- ", Text(shown(text))))
        if stage.problem is not None:
            yield from (indented(Text(shown(f"    {row}"))) for row in stage.problem.split("\n"))
    for line in smallest_lines(compared):
        yield indented(hanging("- ", Text(shown(line))))


def smallest_lines(compared: Comparison) -> Iterator[str]:
    """For each property that some of the changes breach, which do; then what was not tried."""
    for name, stages in compared.smallest().items():
        fewer = compared.fewer(name)
        sets = "; or by ".join(files_of(stage) for stage in stages)
        if fewer.ruled_out:
            yield f"{name} is breached by no fewer than {sets}"
            continue
        if fewer.untried:
            said = "all of them together; which of them are enough was not tried"
        else:
            said = f"{sets}; whether fewer are enough is not known"
        yield f"{name} is breached by {': '.join(filter(None, [said, _told(fewer)]))}"
    if compared.untried:
        yield UNTRIED


def _told(fewer: Fewer) -> str:
    """Of which fewer changes nothing is known, and why."""
    found: dict[Open, list[str]] = {}
    for stage, why in fewer.open:
        where = "before the change" if stage is None else f"with {files_of(stage)}"
        found.setdefault(why, []).append(where)
    return ", ".join(f"it is {_WHY[why]} {', '.join(places)}" for why, places in found.items())
