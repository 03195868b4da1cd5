"""Flows: their ends, what limits them, and the comparisons that open them."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from airproof.circuit.conditions import (
    YES,
    Compare,
    Condition,
    Order,
    compare,
    form_of,
)
from airproof.circuit.kinds import (
    ATMOSPHERE,
    Choke,
    Conductance,
    Flow,
    Rate,
    Restriction,
)
from airproof.language import syntax
from airproof.language.draft import Here
from airproof.language.forms import written

ONE = Fraction(1)


def flow(here: Here, statement: syntax.Flow) -> None:
    """`flow lift: main -> brake while COND, choke 4 mm, one way opening at 0.2 bar`."""
    ends = ways(here, (statement.source, statement.target))
    opening = Fraction(0)
    if statement.opening is not None:
        opening = statement.opening.value
        _check_opening(here, statement, statement.opening)
    condition = here.condition(statement.condition)
    limit = restriction(here, statement.name, statement.restriction)
    if ends:
        name = here.name(statement.name)
        made = Flow(name, *ends, condition, statement.one_way, opening, limit)
        here.draft.flows[name] = made


def _check_opening(here: Here, statement: syntax.Flow, opening: syntax.Measure) -> None:
    data = {"name": statement.name.text, "written": written(opening)}
    if opening.value < 0 or opening.unit.absolute:
        here.problems.add("negative_opening", opening.span, **data)


def ways(here: Here, names: Sequence[syntax.Name]) -> tuple[str, str] | None:
    """Both ends of a way for air, if they are two different places."""
    source, target = (here.place(name) for name in names)
    if source is None or target is None:
        return None
    if source == target:
        code = "atmosphere_twice" if source == ATMOSPHERE else "flow_to_itself"
        here.problems.add(code, names[0].span.to(names[1].span), name=names[0].text)
        return None
    return source, target


def restriction(
    here: Here, name: syntax.Name, node: syntax.Restriction | None
) -> Restriction | None:
    """What limits a flow; None = any speed."""
    bands = here.bands(name)
    match node:
        case syntax.Choke(diameter=diameter):
            return Choke(bands.above_zero(diameter))
        case syntax.Conductance(conductance=conductance, ratio=ratio):
            return Conductance(bands.above_zero(conductance), ratio.value)
        case syntax.Moving(bounds=bounds):
            return Rate(bands.least_zero(bounds))
        case _:
            return None


def against(name: str, order: Order, setting: syntax.Extent) -> Compare:
    """The named pressure against a setting with its tolerance."""
    return compare(form_of({name: ONE}), order, setting.first.value, setting.spread)


def against_other(
    name: str, order: Order, other: str, tolerance: Fraction = Fraction(0)
) -> Condition:
    """One place's pressure against another's; the atmosphere is 0 bar."""
    weights = {each: w for each, w in ((name, ONE), (other, -ONE)) if each != ATMOSPHERE}
    return compare(form_of(weights), order, Fraction(0), tolerance) if weights else YES
