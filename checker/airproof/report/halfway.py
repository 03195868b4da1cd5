"""Half-fitted circuits in words, and on a terminal after each step."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import PurePath

from rich.console import RenderableType
from rich.text import Text

from airproof.report.comparison import Comparison, Stage
from airproof.report.findings import found
from airproof.report.granted import granted, narrower_starts
from airproof.report.results import Results
from airproof.report.seen import seen_briefly
from airproof.report.terminal import hanging, indented, outcome, shown


def staged(compared: Comparison) -> Iterator[RenderableType]:
    """What is newly breached after each step, and what a watcher could see of it."""
    if compared.stages is None:
        return
    yield Text("\nHalf-fitted, after each step", "bold")
    for stage in compared.stages:
        text = f"{stage_name(compared, stage)}: {stage_outcome(compared, stage)}"
        yield indented(hanging("- ", Text(shown(text))))
        if stage.problem is not None:
            yield from (indented(Text(shown(f"    {row}"))) for row in stage.problem.split("\n"))
        for line in seen_briefly(stage.apart) if stage.apart else ():
            yield indented(indented(hanging("- ", Text(shown(line)))))
    if not compared.stages:
        yield indented(Text("there is one step only, so nothing lies in between"))


def stage_name(compared: Comparison, stage: Stage) -> str:
    """Which stage it is, as a person would say."""
    if stage.step is None:
        return f"with {files_of(stage)}"
    several = len(compared.changes) > 1
    where = f" of {PurePath(stage.changes[0]).name}" if several else ""
    return f"after step {stage.step.number}{where}"


def files_of(stage: Stage) -> str:
    """The names of the changes made at a stage."""
    names = [PurePath(path).name for path in stage.changes]
    return " and ".join(filter(None, [", ".join(names[:-1]), names[-1]]))


def stage_outcome(compared: Comparison, stage: Stage) -> str:
    """What is otherwise at a stage than before the change."""
    if stage.results is None:
        return "it cannot be judged, for then there is no whole circuit"
    new = compared.new_at(stage)
    errors = [found(one) for one in stage.results.findings if one.weight == "error"]
    known = compared.known_at(stage)
    lost = [
        f"{verdict.property} ({outcome(verdict)})"
        for verdict in stage.results.verdicts
        if verdict.word == "undecided" and known.get(verdict.property) == "holds"
    ]
    said = [f"breaches {', '.join(new)}"] if new else []
    said += [f"health: {', '.join(errors)}"] if errors else []
    said += [f"not shown any more: {', '.join(lost)}"] if lost else []
    said = said or ["nothing is newly breached"]
    said += [f"withdrawn by then: {', '.join(stage.unasked)}"] if stage.unasked else []
    said += [f"cannot be asked then: {', '.join(stage.lost)}"] if stage.lost else []
    if stage.kept:
        names = ", ".join(stage.kept)
        said.append(f"asks otherwise for a while, asked as before and after besides: {names}")
    if stage.held:
        names = ", ".join(stage.held)
        said.append(f"asks otherwise than before and than after, asked as before besides: {names}")
    if stage.other:
        said.append(f"asks something else than before: {', '.join(stage.other)}")
    for thing, askers in _bent(stage).items():
        said.append(f"{thing} is otherwise than before and than after ({', '.join(askers)})")
    if besides := _besides(compared, stage.results):
        said.append(f"takes for granted besides: {'; '.join(besides)}")
    return "; ".join(said)


def _bent(stage: Stage) -> dict[str, list[str]]:
    """What is bent for a while, each with the properties that speak of it."""
    found: dict[str, list[str]] = {}
    for name, thing in stage.bent:
        found.setdefault(thing, []).append(name)
    return found


def _besides(compared: Comparison, results: Results) -> list[str]:
    """What the stage takes for granted and neither end does, and starts that both leave open.

    Also what each end takes for granted in part only: together it is more than either does.
    """
    ends = (compared.before.circuit, compared.after.circuit)
    before, after = ({(x.text, x.what) for x in granted(end)} for end in ends)
    here = [(x.kind, (x.text, x.what)) for x in granted(results.circuit)]
    said = [one[0] for _, one in here if one not in before | after]
    parts = [
        [one[0] for kind, one in here if kind != "device" and one in end and one not in other]
        for end, other in ((before, after), (after, before))
    ]
    if all(parts):
        said.append(f"together what each end does in part: {'; '.join([*parts[0], *parts[1]])}")
    return [*said, *narrower_starts(results.circuit, *ends)]
