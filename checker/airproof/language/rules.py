"""Interlocks, assumptions, standing states and what a fit binds."""

from __future__ import annotations

from collections.abc import Iterator

from airproof.circuit.conditions import Compare
from airproof.circuit.kinds import ATMOSPHERE, Interlock, Standing
from airproof.circuit.properties import Assumption, KeptRule, SupplyRule
from airproof.language import syntax
from airproof.language.bands import pressure_of
from airproof.language.draft import Here
from airproof.language.forms import check_dimension
from airproof.language.names import Entry


def interlock(here: Here, statement: syntax.Interlock) -> None:
    """A rule on a control; a nameless one is called after its place among the interlocks."""
    if statement.name is not None:
        name = here.name(statement.name)
    else:
        number = 1 + len(here.draft.interlocks)
        name = f"{here.scope.prefix}interlock.{number}"
    found = _ruled(here, statement.rule)
    condition = here.condition(statement.rule.condition)
    here.draft.spans.setdefault(name, statement.span)
    if found:
        title = statement.title.text if statement.title else ""
        kind = statement.rule.kind
        made = Interlock(name, title, found.name, kind, statement.rule.position.text, condition)
        here.draft.interlocks[name] = made


def _ruled(here: Here, rule: syntax.Rule) -> Entry | None:
    """The control of a rule, if it has the position."""
    entry = here.table.find(rule.control, here.scope, "control")
    if entry is None or not here.conditions().has_position(entry, rule.position):
        return None
    return entry


def assumption(here: Here, statement: syntax.Assumption) -> None:
    """What people keep of controls, or what is taken for granted of supplies."""
    name = here.name(statement.name)
    title = statement.title.text if statement.title else ""
    rule: KeptRule | SupplyRule | None
    if isinstance(statement.rule, syntax.AlwaysRule):
        rule = _supply_rule(here, statement.rule)
    else:
        rule = _kept_rule(here, statement.rule)
    if rule is not None:
        here.draft.assumptions[name] = Assumption(name, title, rule)


def _kept_rule(here: Here, rule: syntax.Rule) -> KeptRule | None:
    found = _ruled(here, rule)
    condition = here.condition(rule.condition)
    if rule.kind == "forced":
        here.problems.add("forced_assumption", rule.span, name=rule.control.text)
        return None
    return KeptRule(found.name, rule.kind, rule.position.text, condition) if found else None


def _supply_rule(here: Here, rule: syntax.AlwaysRule) -> SupplyRule | None:
    before = len(here.problems)
    comparisons = []
    for part in _members(rule.condition):
        if not isinstance(part, syntax.Comparison | syntax.Offset):
            here.problems.add("assumes_other", part.span)
            continue
        condition = here.condition(part, exact=True)
        if isinstance(condition, Compare):
            comparisons.append(condition)
        _check_supplies(here, part)
    return SupplyRule(tuple(comparisons)) if len(here.problems) == before else None


def _members(condition: syntax.Condition) -> Iterator[syntax.Condition]:
    if isinstance(condition, syntax.All):
        for part in condition.parts:
            yield from _members(part)
    else:
        yield condition


def _check_supplies(here: Here, part: syntax.Comparison | syntax.Offset) -> None:
    for term in (*part.left.parts, *part.right.parts):
        if isinstance(term, syntax.Term) and here.name(term.name) != ATMOSPHERE:
            entry = here.table.get(here.name(term.name))
            if entry is not None and "supply" not in entry.uses and "value" in entry.uses:
                data = {"name": term.name.text, "word": entry.word}
                here.problems.add("assumes_volume", term.span, **data)


# ---- what is watched


def observe(here: Here, statement: syntax.Observe) -> None:
    """`observe brake, lockout`: the device, the value or both that each name stands for."""
    for name in statement.names:
        entry = here.table.find(name, here.scope, "watched")
        if entry is not None:
            found = [entry.stands, entry.name if "value" in entry.uses else ""]
            here.draft.observed.update(dict.fromkeys(one for one in found if one))


# ---- standing states


def state(here: Here, statement: syntax.State) -> None:
    """`state charged: main = 7 bar, lever is brake`."""
    name = here.name(statement.name)
    made = Standing(name, {}, {})
    positions: dict[str, str] = {}
    seen: set[str] = set()
    values = dict(made.values)
    for pin in statement.pins:
        if isinstance(pin, syntax.ValuePin):
            pinned = _value_pin(here, pin)
            if pinned is not None:
                values[pinned] = pin.value.value
        else:
            pinned = _position_pin(here, pin)
            if pinned is not None:
                positions[pinned] = pin.position.text
        if pinned is not None and pinned in seen:
            here.problems.add("pinned_twice", pin.span, name=pin.name.text)
        seen.add(pinned or "")
    here.draft.standings[name] = Standing(name, positions, values)


def _value_pin(here: Here, pin: syntax.ValuePin) -> str | None:
    entry = here.table.find(pin.name, here.scope, "value")
    if entry is None:
        return None
    name = pin.name.text
    if entry.word == "quantity":
        if entry.dimension is not None:
            check_dimension(here.problems, pin.value, entry.dimension, name)
    elif pressure_of(pin.value, here.problems, name) is not None:
        _check_range(here, pin, entry.name)
    return entry.name


def _check_range(here: Here, pin: syntax.ValuePin, name: str) -> None:
    thing = here.draft.supplies.get(name) or here.draft.range_controls.get(name)
    limits = thing.range if thing else None
    if limits is not None and not limits.low <= pin.value.value <= limits.high:
        here.problems.add("pinned_outside", pin.span, name=pin.name.text)
    here.bands(pin.name).pressure(syntax.Extent(pin.value, None, None, pin.value.span))


def _position_pin(here: Here, pin: syntax.PositionPin) -> str | None:
    at = here.conditions().at(pin.name, pin.position)
    if at is None:
        return None
    control = here.draft.controls.get(at.component)
    if control is not None and control.sealed not in (None, at.position):
        data = {"name": pin.name.text, "position": str(control.sealed)}
        here.problems.add("pinned_sealed", pin.span, **data)
    return at.component


def fit(here: Here, statement: syntax.Fit) -> None:
    """Whatever a port is bound to must exist."""
    for binding in statement.bindings:
        if here.name(binding.target) != ATMOSPHERE:
            here.table.find(binding.target, here.scope, "target")
