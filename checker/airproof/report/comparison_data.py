"""The result of `compare` as JSON; `comparison.schema.json` beside this file describes it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from airproof import __version__
from airproof.evidence.verdict import Verdict
from airproof.language.changing.nodes import Change
from airproof.report.comparison import Comparison, Entry, Stage
from airproof.report.named import renamed_data
from airproof.report.results import as_data, schema
from airproof.report.seen import seen_data


def comparison_schema() -> dict[str, Any]:
    """The JSON Schema that every output of `comparison_json` satisfies, that of `prove` inside."""
    text = Path(__file__).with_name("comparison.schema.json").read_text(encoding="utf-8")
    loaded: dict[str, Any] = json.loads(text)
    results = schema()
    inner = {key: value for key, value in results.items() if key not in ("$schema", "$id", "$defs")}
    loaded["$defs"] = {**results["$defs"], **loaded["$defs"], "results": inner}
    return loaded


def comparison_json(compared: Comparison) -> str:
    """The whole result as one JSON object, keys in a fixed order."""
    return json.dumps(comparison_data(compared), indent=2, ensure_ascii=False)


def comparison_data(compared: Comparison) -> dict[str, Any]:
    """The whole result as plain data, as the schema describes it."""
    return {
        "airproof": __version__,
        "changes": [_change(change, compared.derived) for change in compared.changes],
        "renamed": renamed_data(compared.renaming),
        "properties": [_entry(entry) for entry in compared.entries()],
        "reach": [
            {
                "change": word,
                "what": code.removesuffix(" not reached").removesuffix(" not open"),
                "name": name,
                "proved": proved,
            }
            for word, code, name, proved in compared.reach()
        ],
        "watched": None
        if compared.apart is None
        else seen_data(compared.apart, compared.before.circuit, compared.after.circuit),
        "stages": None
        if compared.stages is None
        else [_stage(compared, stage) for stage in compared.stages],
        "subsets": [_stage(compared, stage) for stage in compared.subsets],
        "smallest": {
            name: [list(stage.changes) for stage in stages]
            for name, stages in compared.smallest().items()
        },
        "fewer_ruled_out": {name: compared.fewer(name).ruled_out for name in compared.smallest()},
        "every_set_tried": not compared.untried,
        "text": compared.text,
        "asked_with_slow_devices": compared.slowly,
        "before": as_data(compared.before),
        "after": as_data(compared.after),
    }


def _change(change: Change, derived: str | None) -> dict[str, Any]:
    return {
        "file": None if derived is not None else change.path,
        "title": change.title,
        "reason": change.reason,
        "steps": [{"number": step.number, "text": step.text} for step in change.steps],
    }


def _entry(entry: Entry) -> dict[str, Any]:
    return {
        "name": entry.name,
        "name_before": entry.called,
        "title": entry.title,
        "outcome": entry.outcome,
        "before": _word(entry.before),
        "after": _word(entry.after),
        "by": entry.way,
        "same_part": entry.same,
        "meaning": [{"kind": shift.kind, "name": shift.name} for shift in entry.shifts],
        "withdrawn_because": entry.reason,
        "asked_by": entry.asked_by,
    }


def _word(verdict: Verdict | None) -> dict[str, Any] | None:
    if verdict is None:
        return None
    quick = [one.device for one in verdict.retried if one.device and one.word == "breached"]
    instant = any(one.device is None and one.word == "breached" for one in verdict.retried)
    return {
        "verdict": verdict.word,
        "strength": verdict.strength,
        "only_if_at_once": quick,
        "fails_in_an_instant": instant,
    }


def _stage(compared: Comparison, stage: Stage) -> dict[str, Any]:
    seen = None
    if stage.apart is not None and stage.results is not None:
        seen = seen_data(stage.apart, compared.before.circuit, stage.results.circuit)
    return {
        "changes": list(stage.changes),
        "step": None if stage.step is None else stage.step.number,
        "problem": stage.problem,
        "newly_breached": list(compared.new_at(stage)),
        "withdrawn_by_then": list(stage.unasked),
        "cannot_be_asked": list(stage.lost),
        "asked_as_before_and_after": list(stage.kept),
        "asked_as_before": list(stage.held),
        "asks_something_else": list(stage.other),
        "speaks_of_what_is_bent": [
            {"property": name, "thing": thing} for name, thing in stage.bent
        ],
        "watched": seen,
        "results": None if stage.results is None else as_data(stage.results),
    }
