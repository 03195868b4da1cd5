"""What each proof leans on, in a fitter's words, and which proofs lean on a part."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby
from typing import Any

from airproof.circuit.conditions import Condition
from airproof.circuit.kinds import Circuit, Interlock
from airproof.circuit.properties import KeptRule, SupplyRule
from airproof.evidence.leaning import Lean, Leans
from airproof.evidence.verdict import Verdict
from airproof.report.figures import plain
from airproof.report.words import comparison, condition, rule, ruling, units
from airproof.transition.origins import Kind

INTRODUCTION = (
    "What each proof leans on, beside what the property itself names. Another proof may lean on"
    " other parts; but whoever alters one of these should prove the property again."
)
UNASKED = "what the proof leans on was not found out"
UNFINISHED = "not minimised to the end: it may lean on less"
KINDS: Mapping[Kind, str] = {
    "device": "devices",
    "timer": "timers",
    "control": "controls",
    "interlock": "interlocks",
    "assumption": "assumptions",
    "flow": "flows",
    "volume": "volumes",
    "quantity": "quantities",
    "supply": "supplies",
}


def proofs(verdicts: Iterable[Verdict]) -> Iterator[tuple[str, Leans]]:
    """What is known of each property that is proved for every run."""
    for verdict in verdicts:
        if verdict.leans is not None and verdict.word != "undecided":
            yield verdict.property, verdict.leans


def unasked(verdicts: Iterable[Verdict]) -> list[str]:
    """The properties with a proof of which it was not found out what it leans on."""
    proved = (v for v in verdicts if v.certificate is not None and v.word != "undecided")
    return [verdict.property for verdict in proved if verdict.leans is None]


def told(circuit: Circuit, leans: Leans) -> str:
    """All that one proof leans on, as one sentence."""
    parts = [
        f"{_called(circuit, *key)} ({', '.join(_said(circuit, part) for part in group)})"
        for key, group in groupby(_sorted(leans), key=lambda part: (part.kind, part.name))
    ]
    text = "; ".join(parts) or "nothing but the meaning of what the property names"
    return text if leans.whole else f"{text} ({UNFINISHED})"


def by_part(verdicts: Iterable[Verdict]) -> Mapping[str, tuple[str, ...]]:
    """The properties whose proofs lean on each part, or on a rule that reads it."""
    found: dict[str, list[str]] = {}
    for name, leans in proofs(verdicts):
        for part in leans.names:
            found.setdefault(part, []).append(name)
    return {part: tuple(names) for part, names in sorted(found.items())}


def as_data(circuit: Circuit, verdict: Verdict) -> dict[str, Any] | None:
    """The same as plain data, as the schema of the results describes it."""
    leans = verdict.leans
    if leans is None or verdict.word == "undecided":
        return None
    named = units(circuit)
    return {
        **{word: list(leans.of(kind)) for kind, word in KINDS.items()},
        "settings": [
            {"of": part.name, "comparison": comparison(setting, named)}
            for part in _sorted(leans)
            for setting in part.settings
        ],
        "rules": [_rule(circuit, part) for part in _sorted(leans)],
        "names": list(leans.names),
        "minimised": leans.whole,
    }


def _rule(circuit: Circuit, part: Lean) -> dict[str, Any]:
    left = part.condition
    return {
        "kind": part.kind,
        "name": part.name,
        "rule": part.rule,
        "place": part.place or None,
        "condition": None if left is None else condition(left, units(circuit)),
        "text": _said(circuit, part),
    }


def _sorted(leans: Leans) -> list[Lean]:
    """Kind by kind, the parts of a kind in the order in which they came up."""
    order = list(KINDS)
    first = {(part.kind, part.name): i for i, part in reversed(list(enumerate(leans.parts)))}
    return sorted(leans.parts, key=lambda p: (order.index(p.kind), first[p.kind, p.name]))


def _called(circuit: Circuit, kind: Kind, name: str) -> str:
    """A part by its trade's word and name; an interlock without a name by its title."""
    if kind == "device":
        return f"{circuit.devices[name].kind} {name}"
    if kind == "volume":
        return f"{circuit.volumes[name].kind} {name}"
    title = circuit.interlocks[name].title if kind == "interlock" else ""
    return f'interlock "{title}"' if title and "." in name else f"{kind} {name}"


# ---- one rule of one part


def _said(circuit: Circuit, part: Lean) -> str:
    match part.kind:
        case "device":
            return _of_device(circuit, part)
        case "timer":
            return _of_timer(circuit, part)
        case "flow":
            return _of_flow(circuit, part)
        case "interlock":
            return _of_interlock(circuit, part)
        case "assumption":
            return _of_assumption(circuit, part)
        case "control":
            return _of_control(circuit, part)
    return _of_air(circuit, part)


def _when(circuit: Circuit, tree: Condition | None) -> str:
    return "always" if tree is None else condition(tree, units(circuit))


def _of_device(circuit: Circuit, part: Lean) -> str:
    match part.rule:
        case "enters":
            return f"moves to {part.place} only when {_when(circuit, part.condition)}"
        case "due":
            return f"must move to {part.place} when {_when(circuit, part.condition)}"
        case "never enters":
            return f"has no move to {part.place}"
        case "starts" if part.condition is not None:
            return f"starts {part.place} if {_when(circuit, part.condition)}"
        case "starts":
            return f"starts {' or '.join(circuit.devices[part.name].starts)}"
    return "arrives only after some time on the way"


def _of_timer(circuit: Circuit, part: Lean) -> str:
    when = _when(circuit, part.condition)
    match part.rule:
        case "runs":
            return f"runs only while {when}"
        case "must run":
            return f"runs whenever {when}"
        case "reset":
            return f"stays expired while {when}"
        case "due":
            return f"must be reset unless {when}"
    return "expires only after it has run"


def _of_flow(circuit: Circuit, part: Lean) -> str:
    flow = circuit.flows[part.name]
    match part.rule:
        case "condition":
            return f"open only while {_when(circuit, part.condition)}"
        case "one way":
            return f"no air back from {flow.target} to {flow.source}"
        case "opening":
            return f"opens at {plain(flow.opening)} bar"
    return f"air from {flow.source} to {flow.target} only downhill"


def _of_interlock(circuit: Circuit, part: Lean) -> str:
    return _ruled(circuit, circuit.interlocks[part.name], part)


def _ruled(circuit: Circuit, stated: Interlock | KeptRule, part: Lean) -> str:
    when = _when(circuit, part.condition)
    if part.rule == "due":
        return f"{stated.control} must move to {stated.position} when {when}"
    if part.rule == "forces":
        return f"nothing forces {stated.control} to {stated.position} unless {when}"
    return ruling(stated.rule, stated.control, stated.position, when)


def _of_assumption(circuit: Circuit, part: Lean) -> str:
    stated = circuit.assumptions[part.name].rule
    if isinstance(stated, SupplyRule):
        return rule(stated, units(circuit))
    return _ruled(circuit, stated, part)


def _of_control(circuit: Circuit, part: Lean) -> str:
    control = circuit.controls.get(part.name)
    match part.rule:
        case "order":
            return "moves one place at a time"
        case "sealed":
            return f"is sealed {control.sealed if control else ''}"
        case "once":
            return "moves only once in no time"
        case "starts" if control is not None:
            return f"starts {' or '.join(control.starts)}"
        case "starts":
            return "starts within its stated pressures"
    return "is set within its stated pressures"


def _of_air(circuit: Circuit, part: Lean) -> str:
    """Volumes, supplies and quantities."""
    match part.rule:
        case "tight":
            return "no way in or out for its air but its flows"
        case "size":
            return "its stated size"
        case "never rises" | "never falls":
            return part.rule
        case "rises" | "falls":
            return f"{part.rule} only while {_when(circuit, part.condition)}"
        case "low":
            return f"never below {plain(circuit.supplies[part.name].range.low)} bar"
        case "high":
            return f"never above {plain(circuit.supplies[part.name].range.high)} bar"
    band, unit = circuit.value_starts[part.name], units(circuit).get(part.name, "bar")
    low, high = plain(band.low), plain(band.high)
    return f"starts {low} {unit}" if low == high else f"starts {low} .. {high} {unit}"
