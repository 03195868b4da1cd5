"""The pressures that the assumptions leave to each supply."""

from __future__ import annotations

from fractions import Fraction

from airproof.circuit.bands import unkept
from airproof.circuit.conditions import Compare, Form
from airproof.circuit.kinds import Band
from airproof.circuit.properties import SupplyRule
from airproof.language.draft import Draft
from airproof.language.names import Problems

Ranges = dict[str, Band]


def supply_ranges(draft: Draft) -> Ranges:
    """Each supply's range as far as comparisons of one supply narrow it; low > high if empty."""
    ranges = {name: supply.range for name, supply in draft.supplies.items()}
    for comparison in _comparisons(draft):
        ranges.update(narrowed(ranges, comparison))
    return ranges


def _comparisons(draft: Draft) -> list[Compare]:
    rules = [each.rule for each in draft.assumptions.values()]
    return [one for rule in rules if isinstance(rule, SupplyRule) for one in rule.comparisons]


def narrowed(ranges: Ranges, comparison: Compare) -> Ranges:
    """The range of the supply that a comparison of it alone leaves."""
    if len(comparison.form.terms) != 1:
        return {}
    name, constant = comparison.form.names[0], comparison.constant
    band = ranges[name]
    if comparison.order in (">=", ">"):
        return {name: Band(max(band.low, constant), band.high)}
    return {name: Band(band.low, min(band.high, constant))}


def check_supplies(draft: Draft, problems: Problems) -> None:
    """No assumption, with those before it, leaves a supply nowhere to be or to start."""
    ranges = {name: supply.range for name, supply in draft.supplies.items()}
    starts = {name: supply.starts for name, supply in draft.supplies.items()}
    for name, assumption in draft.assumptions.items():
        if not isinstance(assumption.rule, SupplyRule):
            continue
        for comparison in assumption.rule.comparisons:
            for code, bands in (("empty_range", ranges), ("empty_start", starts)):
                if unkept(bands, comparison):
                    _report(draft, problems, code, name, comparison.form)
                    return
                bands.update(narrowed(bands, comparison))


def check_states(draft: Draft, problems: Problems) -> None:
    """No standing state pins a supply where an assumption never lets it be."""
    for name, standing in draft.standings.items():
        pins = {each: Band(value, value) for each, value in standing.values.items()}
        bands = {**supply_ranges(draft), **pins}
        for assumption in draft.assumptions.values():
            rule = assumption.rule
            if isinstance(rule, SupplyRule) and any(unkept(bands, c) for c in rule.comparisons):
                data = {"name": name, "assumption": assumption.name}
                problems.add("state_unkept", draft.spans[name], **data)


def _report(draft: Draft, problems: Problems, code: str, name: str, form: Form) -> None:
    supply = draft.supplies[form.names[0]]
    band = supply.range if code == "empty_range" else supply.starts
    data = {"name": spell(form), "low": plain(band.low), "high": plain(band.high)}
    problems.add(code, draft.spans[name], assumption=name, **data)


def spell(form: Form) -> str:
    """A form as a person would write it: `main - 2 times aux`."""
    text = ""
    for name, weight in form.terms:
        sign = "-" if weight < 0 else "+"
        size = "" if abs(weight) == 1 else f"{plain(abs(weight))} times "
        text += f" {sign} {size}{name}" if text else f"{'-' if weight < 0 else ''}{size}{name}"
    return text


def plain(value: Fraction) -> str:
    """A value in decimals, at most six of them."""
    return f"{float(value):.6f}".rstrip("0").rstrip(".") if value else "0"
