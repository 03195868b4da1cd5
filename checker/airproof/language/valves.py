"""The kinds that stand for flows and devices, taken apart.

The parts of a kind are named after it: `vent.1`, `relief.flow`, `lap.exhaust`.
"""

from __future__ import annotations

from fractions import Fraction

from airproof.circuit.conditions import (
    YES,
    AllOf,
    AnyOf,
    At,
    Condition,
)
from airproof.circuit.kinds import (
    ATMOSPHERE,
    Control,
    Device,
    Flow,
    Move,
)
from airproof.language import syntax
from airproof.language.components import chosen, device, standing, volume
from airproof.language.declare import SPRING_POSITIONS, branches
from airproof.language.draft import Here
from airproof.language.flows import against, against_other, restriction, ways
from airproof.language.forms import written

# ---- valves with ports


def joining_device(here: Here, statement: syntax.Device) -> None:
    """A device and, for a multi-port valve, one two-way flow per way it joins."""
    made = device(here, statement)
    taken: dict[int, set[str]] = {}
    for number, (joins, branch) in enumerate(branches(statement), start=1):
        used = taken.setdefault(id(joins), set())
        at = _joined(here, statement, branch, made, used)
        ends = ways(here, (joins.source, branch.target))
        limit = restriction(here, statement.name, branch.restriction)
        if ends and at:
            name = f"{made.name}.{number}"
            places = tuple(At(made.name, position) for position in at)
            condition = places[0] if len(places) == 1 else AnyOf(places)
            here.draft.flows[name] = Flow(name, *ends, condition, restriction=limit)
            here.draft.spans[name] = branch.span


def _joined(
    here: Here, statement: syntax.Device, branch: syntax.Branch, made: Device, used: set[str]
) -> tuple[str, ...]:
    """The positions in which a branch is joined; `otherwise` takes those still free."""
    data = {"name": statement.name.text}
    if not branch.when:
        rest = tuple(position for position in made.positions if position not in used)
        used.update(rest)
        if not rest and made.positions:
            here.problems.add("nothing_otherwise", branch.span, **data)
        return rest
    at = chosen(here, statement.name, branch.when, made.positions)
    for position in at:
        if position in used:
            here.problems.add("joined_twice", branch.span, position=position, **data)
    used.update(at)
    return at


def isolating_cock(here: Here, statement: syntax.IsolatingCock) -> None:
    """A control (open, shut) and a two-way flow while it is open."""
    name, positions = here.name(statement.name), ("open", "shut")
    starts, sealed = standing(here, statement, positions)
    worked_by = statement.worked_by.text if statement.worked_by else None
    made = Control(name, positions, starts, sealed=sealed, worked_by=worked_by)
    here.draft.controls[name] = made
    _add(here, statement, "flow", (statement.source, statement.target), At(name, "open"))


_Restricted = (
    syntax.IsolatingCock
    | syntax.ReliefValve
    | syntax.ReducingValve
    | syntax.DoubleCheckValve
    | syntax.SelfLappingValve
    | syntax.QuickExhaustValve
)


def _add(
    here: Here,
    statement: _Restricted,
    end: str,
    names: tuple[syntax.Name, syntax.Name],
    condition: Condition,
    one_way: bool = False,
) -> None:
    """One flow of a kind, with the restriction that its statement gives."""
    ends = ways(here, names)
    limit = restriction(here, statement.name, statement.restriction)
    if ends is None:
        return
    name = here.name(statement.name) + (f".{end}" if end else "")
    here.draft.flows[name] = Flow(name, *ends, condition, one_way, restriction=limit)
    here.draft.spans[name] = statement.span


def double_check_valve(here: Here, statement: syntax.DoubleCheckValve) -> None:
    """The higher of two to the third and back: each way is open while its side is not below."""
    first, second = here.place(statement.first), here.place(statement.second)
    if first is None or second is None:
        here.place(statement.target)
        return
    sides = ((statement.first, first, second), (statement.second, second, first))
    if ways(here, (statement.first, statement.second)) is None:
        return
    for end, (name, mine, other) in zip("12", sides, strict=True):
        condition = against_other(mine, ">=", other)
        _add(here, statement, end, (name, statement.target), condition)


def relief_valve(here: Here, statement: syntax.ReliefValve) -> None:
    """A device (shut, open) on the source's pressure and a one-way flow while it is open."""
    name = here.name(statement.name)
    _add(here, statement, "flow", (statement.source, statement.target), At(name, "open"), True)
    source = _watched(here, statement.source)
    if source is None:
        return
    _in_order(here, statement.name, statement.shuts, statement.opens)
    moves = (
        Move("open", against(source, ">=", statement.opens)),
        Move("shut", against(source, "<=", statement.shuts)),
    )
    _add_device(here, statement, ("shut", "open"), moves)


_Setting = syntax.ReliefValve | syntax.Governor | syntax.PressureSwitch


def _word(statement: _Setting) -> str:
    if isinstance(statement, syntax.ReliefValve):
        return "relief valve"
    return "governor" if isinstance(statement, syntax.Governor) else "pressure switch"


def _add_device(
    here: Here, statement: _Setting, positions: tuple[str, str], moves: tuple[Move, ...]
) -> None:
    """A two-position device that starts where its pressure puts it unless the text says."""
    name = here.name(statement.name)
    said: tuple[syntax.Name, ...] = ()
    if not isinstance(statement, syntax.ReliefValve):
        said = statement.starts
    starts = chosen(here, statement.name, said, positions)
    bands = here.bands(statement.name)
    here.draft.devices[name] = Device(
        name,
        _word(statement),
        positions,
        moves,
        starts or positions,
        starts_called=not said,
        moving=bands.above_zero(statement.moving) if statement.moving else None,
    )


def _watched(here: Here, name: syntax.Name) -> str | None:
    """A place whose pressure moves a device; the atmosphere never does."""
    place = here.place(name)
    if place == ATMOSPHERE:
        here.problems.add("watches_atmosphere", name.span)
        return None
    return place


def _in_order(here: Here, name: syntax.Name, low: syntax.Extent, high: syntax.Extent) -> None:
    """The lower setting lies below the higher one, tolerances included."""
    for setting in (low, high):
        here.bands(name).pressure(setting)
    if low.high >= high.low:
        data = {"name": name.text, "low": written(low.first), "high": written(high.first)}
        here.problems.add("settings_meet", low.span, **data)


def reducing_valve(here: Here, statement: syntax.ReducingValve) -> None:
    """A one-way flow while the target is below the setting."""
    here.bands(statement.name).pressure(statement.setting)
    target = _watched(here, statement.target)
    if target is None:
        here.place(statement.source)
        return
    condition = against(target, "<", statement.setting)
    _add(here, statement, "", (statement.source, statement.target), condition, True)


def self_lapping_valve(here: Here, statement: syntax.SelfLappingValve) -> None:
    """Charges its target while below what it follows, exhausts it while above."""
    entry = here.table.find(statement.follows, here.scope, "value")
    target = _watched(here, statement.target)
    if entry is None or target is None:
        here.place(statement.source)
        here.place(statement.exhaust)
        return
    tolerance = _tolerance(here, statement)
    below = against_other(target, "<", entry.name, tolerance)
    above = against_other(target, ">", entry.name, tolerance)
    _add(here, statement, "charge", (statement.source, statement.target), below, True)
    _add(here, statement, "exhaust", (statement.target, statement.exhaust), above, True)


def _tolerance(here: Here, statement: syntax.SelfLappingValve) -> Fraction:
    tolerance = statement.tolerance
    if tolerance is None:
        return Fraction(0)
    if tolerance.unit.name == "%":
        here.problems.add("percent_of_nothing", tolerance.span, written=written(tolerance))
    return tolerance.value


def quick_exhaust_valve(here: Here, statement: syntax.QuickExhaustValve) -> None:
    """One way to its target, and the target to the exhaust while the source is below it."""
    source, target = here.place(statement.source), here.place(statement.target)
    if source is None or target is None:
        here.place(statement.exhaust)
        return
    below = against_other(source, "<", target)
    _add(here, statement, "charge", (statement.source, statement.target), YES, True)
    _add(here, statement, "exhaust", (statement.target, statement.exhaust), below, True)


# ---- devices on a pressure


def governor(here: Here, statement: syntax.Governor) -> None:
    """A device (running, stopped) on a pressure."""
    watched = _watched(here, statement.watches)
    _in_order(here, statement.name, statement.starts_at, statement.stops_at)
    if watched is not None:
        moves = (
            Move("running", against(watched, "<=", statement.starts_at)),
            Move("stopped", against(watched, ">=", statement.stops_at)),
        )
        _add_device(here, statement, ("running", "stopped"), moves)


def pressure_switch(here: Here, statement: syntax.PressureSwitch) -> None:
    """A device (open, closed) on a pressure; whichever setting is higher acts on a rise."""
    watched = _watched(here, statement.watches)
    settings = (statement.opens, statement.closes)
    rising = statement.closes.first.value >= statement.opens.first.value
    low, high = settings if rising else settings[::-1]
    _in_order(here, statement.name, low, high)
    if watched is not None:
        moves = (
            Move("closed", against(watched, ">=" if rising else "<=", statement.closes)),
            Move("open", against(watched, "<=" if rising else ">=", statement.opens)),
        )
        _add_device(here, statement, ("open", "closed"), moves)


def spring_cylinder(here: Here, statement: syntax.SpringCylinder) -> None:
    """A volume and a device NAME.spring: on below, off above, dragging between."""
    made = volume(here, statement)
    low, high = statement.on_below, statement.off_above
    _in_order(here, statement.name, low, high)
    between = AllOf((against(made.name, ">=", low), against(made.name, "<=", high)))
    moves = (
        Move("on", against(made.name, "<", low)),
        Move("dragging", between),
        Move("off", against(made.name, ">", high)),
    )
    name = f"{made.name}.spring"
    spring = Device(
        name, "spring-applied cylinder", SPRING_POSITIONS, moves, SPRING_POSITIONS, True
    )
    here.draft.devices[name] = spring
    here.draft.spans[name] = statement.span
