"""Trees to text: a document as its author would write it, without comments."""

from __future__ import annotations

from collections.abc import Iterable

from airproof.language import syntax
from airproof.language.printed_conditions import (
    condition_text,
    extent_text,
    measure_text,
    name_list,
    quoted,
    rule_text,
    sentence_text,
)

CONTINUED = "\n    "


def print_document(document: syntax.Document) -> str:
    """The document as text; parsing it gives the same tree but for its spans."""
    return "".join(f"{print_statement(statement)}\n" for statement in document.statements)


def print_statement(statement: syntax.Statement) -> str:
    """One statement, its continuation lines indented."""
    match statement:
        case syntax.Include():
            return f"include {quoted(statement.path)}"
        case syntax.Observe():
            return f"observe {', '.join(name_list(statement.names))}"
        case syntax.Part():
            return _part(statement)
        case syntax.Circuit():
            head = _with_title(f"circuit {statement.name.text}", statement.title)
            return head + _drawing(" ", statement.drawing)
    return _frame(statement) or _air(statement) or _moving(statement) or _special(statement)


def _with_title(head: str, title: syntax.Title | None) -> str:
    return head if title is None else f"{head} {quoted(title)}"


def _drawing(before: str, drawing: syntax.Drawing | None) -> str:
    if drawing is None:
        return ""
    item = "" if drawing.item is None else f" item {drawing.item}"
    sheet = drawing.sheet.replace("\\", "\\\\").replace('"', '\\"')
    return f'{before}drawing "{sheet}"{item}'


def _part(part: syntax.Part) -> str:
    head = _with_title(f"part {part.name.text}", part.title) + _drawing(" ", part.drawing)
    ports = [f"ports {', '.join(name_list(part.ports))}"] if part.ports else []
    body = [*ports, *(print_statement(statement) for statement in part.body)]
    lines = [f"    {line}" for text in body for line in text.split("\n")]
    return "\n".join([head, *lines, "end part"])


def _frame(statement: syntax.Statement) -> str | None:
    match statement:
        case syntax.Fit():
            binds = (f", {b.port.text} {b.word} {b.target.text}" for b in statement.bindings)
            head = f"fit {statement.part.text} as {statement.name.text}{''.join(binds)}"
        case syntax.Signal():
            head = f"signal {statement.name.text}: {condition_text(statement.condition)}"
        case syntax.State():
            pins = ", ".join(_pin(pin) for pin in statement.pins)
            head = f"state {statement.name.text}: {pins}"
        case syntax.Interlock() | syntax.Assumption():
            return _ruled(statement)
        case syntax.Property():
            return _property(statement)
        case _:
            return None
    return head + _drawing(", ", statement.drawing)


def _pin(pin: syntax.ValuePin | syntax.PositionPin) -> str:
    if isinstance(pin, syntax.ValuePin):
        return f"{pin.name.text} = {measure_text(pin.value)}"
    return f"{pin.name.text} is {pin.position.text}"


def _ruled(statement: syntax.Interlock | syntax.Assumption) -> str:
    word = "interlock" if isinstance(statement, syntax.Interlock) else "assumption"
    head = word if statement.name is None else f"{word} {statement.name.text}"
    head = _with_title(head, statement.title)
    body = CONTINUED + rule_text(statement.rule)
    return head + body + _drawing(CONTINUED, statement.drawing)


def _property(prop: syntax.Property) -> str:
    clauses = [
        None if prop.severity is None else f"severity {prop.severity.text}",
        None if prop.reason is None else f"reason {quoted(prop.reason)}",
        None if prop.hazard is None else f"hazard {quoted(prop.hazard)}",
        _drawing("", prop.drawing),
        sentence_text(prop.sentence),
        "even for an instant" if prop.instant else None,
        None if prop.start is None else f"from {prop.start.text}",
    ]
    return CONTINUED.join(
        [f"property {prop.name.text} {quoted(prop.title)}", *filter(None, clauses)]
    )


def _air(statement: syntax.Statement) -> str | None:
    match statement:
        case syntax.Supply():
            first = extent_text(statement.range)
            clauses = [
                _extent("starts", statement.starts),
                _measure("rises at most", statement.rise),
                _measure("falls at most", statement.fall),
            ]
            kind = "supply"
        case syntax.Volume():
            kind = statement.kind
            first = "" if statement.size is None else extent_text(statement.size)
            clauses = [_extent("starts", statement.starts)]
        case syntax.Quantity():
            kind, first = "quantity", ""
            clauses = [_extent("starts", statement.starts), *map(_change, statement.changes)]
        case syntax.RangeControl():
            kind, first = "control", extent_text(statement.range)
            clauses = [_extent("starts", statement.starts), _name("worked by", statement.worked_by)]
        case _:
            return None
    clauses.append(_drawing("", statement.drawing))
    return _listed(f"{kind} {statement.name.text}:", [first, *clauses], ", ")


def _listed(head: str, clauses: Iterable[str | None], joint: str) -> str:
    return f"{head} {joint.join(clause for clause in clauses if clause)}"


def _change(change: syntax.Change) -> str:
    when = "" if change.condition is None else f" while {condition_text(change.condition)}"
    return f"changes at {extent_text(change.speed)}{when}"


def _extent(word: str, extent: syntax.Extent | None) -> str | None:
    return None if extent is None else f"{word} {extent_text(extent)}"


def _measure(word: str, measure: syntax.Measure | None) -> str | None:
    return None if measure is None else f"{word} {measure_text(measure)}"


def _name(word: str, name: syntax.Name | None) -> str | None:
    return None if name is None else f"{word} {name.text}"


def _starts(starts: tuple[syntax.Name, ...]) -> str | None:
    return f"starts {' or '.join(name_list(starts))}" if starts else None


def _moving(statement: syntax.Statement) -> str | None:
    match statement:
        case syntax.Control():
            return _control(statement)
        case syntax.Device():
            return _device(statement)
        case syntax.Timer():
            runs = f"runs while {condition_text(statement.runs)}"
            expires = f"expires after {extent_text(statement.expires)}"
            clauses = [runs, expires, _drawing("", statement.drawing)]
            return _listed(f"timer {statement.name.text}:", clauses, "; ")
    return None


def _control(control: syntax.Control) -> str:
    clauses = [
        ", ".join(name_list(control.positions)),
        "in that order" if control.ordered else None,
        _starts(control.starts),
        _name("worked by", control.worked_by),
        _measure("in each position for at least", control.dwell),
        _name("sealed", control.sealed),
        _drawing("", control.drawing),
    ]
    return _listed(f"control {control.name.text}:", clauses, "; ")


def _device(device: syntax.Device) -> str:
    clauses = [
        _positions(device),
        _starts(device.starts),
        _extent("moving takes", device.moving),
        None if device.on_the_way is None else f"{device.on_the_way} on the way",
        "latched" if device.latched else None,
        _drawing("", device.drawing),
    ]
    joins = [_joins(one) for one in device.joins]
    moves = [f"moves to {m.to.text} when {condition_text(m.condition)}" for m in device.moves]
    head = f"{device.kind} {device.name.text}:"
    if not clauses[0]:
        return _listed(head, [*joins, *clauses, *moves], "; ")
    return CONTINUED.join([_listed(head, clauses, "; "), *joins, *moves])


def _positions(device: syntax.Device) -> str:
    plain = device.plain
    if plain is None:
        return ", ".join(name_list(device.positions))
    when = condition_text(plain.condition)
    return f"{plain.position.text} while {when}, {plain.otherwise.text} otherwise"


def _joins(joins: syntax.Joins) -> str:
    return f"joins {joins.source.text} {', '.join(map(_branch, joins.branches))}"


def _branch(branch: syntax.Branch) -> str:
    when = f"when {' or '.join(name_list(branch.when))}" if branch.when else "otherwise"
    restriction = _restriction(branch.restriction)
    return f"to {branch.target.text} {when}" + (f", {restriction}" if restriction else "")


def _restriction(restriction: syntax.Restriction | None) -> str | None:
    match restriction:
        case syntax.Choke():
            return f"choke {extent_text(restriction.diameter)}"
        case syntax.Conductance():
            ratio = measure_text(restriction.ratio)
            return f"conductance {extent_text(restriction.conductance)}, ratio {ratio}"
        case syntax.Moving():
            return f"moving {extent_text(restriction.bounds)}"
    return None


_Valve = (
    syntax.DoubleCheckValve
    | syntax.ReliefValve
    | syntax.ReducingValve
    | syntax.SelfLappingValve
    | syntax.QuickExhaustValve
    | syntax.IsolatingCock
)


def _special(statement: syntax.Statement) -> str:
    match statement:
        case syntax.Flow():
            return _flow(statement)
        case syntax.Governor() | syntax.PressureSwitch():
            return _watching(statement)
        case syntax.SpringCylinder():
            return _spring(statement)
        case (
            syntax.DoubleCheckValve()
            | syntax.ReliefValve()
            | syntax.ReducingValve()
            | syntax.SelfLappingValve()
            | syntax.QuickExhaustValve()
            | syntax.IsolatingCock()
        ):
            kind, way, clauses = _valve(statement)
            more = [_restriction(statement.restriction), _drawing("", statement.drawing)]
            return _listed(f"{kind} {statement.name.text}:", [way, *clauses, *more], ", ")
    raise TypeError(f"no such statement: {type(statement).__name__}")


def _valve(statement: _Valve) -> tuple[str, str, list[str | None]]:
    match statement:
        case syntax.DoubleCheckValve():
            feeds = f"{statement.first.text} and {statement.second.text}"
            return "double check valve", f"{feeds} to {statement.target.text}", []
        case syntax.IsolatingCock():
            worked = _name("worked by", statement.worked_by)
            clauses = [_starts(statement.starts), worked, _name("sealed", statement.sealed)]
            return "isolating cock", _between(statement), clauses
        case syntax.ReliefValve():
            opens, shuts = (
                _extent("opens at", statement.opens),
                _extent("shuts at", statement.shuts),
            )
            clauses = [opens, shuts, _extent("moving takes", statement.moving)]
            return "relief valve", _arrow(statement), clauses
        case syntax.ReducingValve():
            return "reducing valve", _arrow(statement), [_extent("set to", statement.setting)]
        case syntax.SelfLappingValve():
            by = "" if statement.tolerance is None else f" +- {measure_text(statement.tolerance)}"
            follows = f"follows {statement.follows.text}{by}"
            exhaust = _name("exhaust", statement.exhaust)
            return "self-lapping valve", _arrow(statement), [exhaust, follows]
        case syntax.QuickExhaustValve():
            return "quick-exhaust valve", _between(statement), [_name("exhaust", statement.exhaust)]


def _between(statement: syntax.IsolatingCock | syntax.QuickExhaustValve) -> str:
    return f"{statement.source.text} to {statement.target.text}"


def _arrow(
    statement: syntax.Flow | syntax.ReliefValve | syntax.ReducingValve | syntax.SelfLappingValve,
) -> str:
    return f"{statement.source.text} -> {statement.target.text}"


def _flow(flow: syntax.Flow) -> str:
    when = "" if flow.condition is None else f" while {condition_text(flow.condition)}"
    opening = "" if flow.opening is None else f" opening at {measure_text(flow.opening)}"
    clauses = [
        _arrow(flow) + when,
        _restriction(flow.restriction),
        f"one way{opening}" if flow.one_way else None,
        _drawing("", flow.drawing),
    ]
    return _listed(f"flow {flow.name.text}:", clauses, ", ")


def _watching(statement: syntax.Governor | syntax.PressureSwitch) -> str:
    if isinstance(statement, syntax.Governor):
        kind = "governor"
        edges = [_extent("starts at", statement.starts_at), _extent("stops at", statement.stops_at)]
    else:
        kind = "pressure switch"
        edges = [_extent("closes at", statement.closes), _extent("opens at", statement.opens)]
    clauses = [
        f"on {statement.watches.text}",
        *edges,
        _starts(statement.starts),
        _extent("moving takes", statement.moving),
        _drawing("", statement.drawing),
    ]
    return _listed(f"{kind} {statement.name.text}:", clauses, ", ")


def _spring(cylinder: syntax.SpringCylinder) -> str:
    clauses = [
        "" if cylinder.size is None else extent_text(cylinder.size),
        _extent("starts", cylinder.starts),
        _extent("on below", cylinder.on_below),
        _extent("off above", cylinder.off_above),
        _drawing("", cylinder.drawing),
    ]
    return _listed(f"spring-applied cylinder {cylinder.name.text}:", clauses, ", ")
