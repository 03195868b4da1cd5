"""Statements for places of air, controls, devices and timers become their data."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from airproof.base.diagnostics import listed, nearest
from airproof.base.quantities import TIME, Dimension, base_unit
from airproof.circuit.conditions import Not
from airproof.circuit.kinds import (
    Change,
    Control,
    Device,
    Move,
    Quantity,
    RangeControl,
    Supply,
    Timer,
    Volume,
)
from airproof.language import syntax
from airproof.language.declare import device_positions
from airproof.language.draft import Here

# ---- places of air and quantities


def supply(here: Here, statement: syntax.Supply) -> None:
    """`supply main: 0 bar .. 8 bar`."""
    name, bands = here.name(statement.name), here.bands(statement.name)
    limits = bands.pressure(statement.range)
    starts = limits
    if statement.starts is not None:
        starts = bands.within(bands.pressure(statement.starts), limits, statement.starts)
    rise = statement.rise.value if statement.rise else None
    fall = statement.fall.value if statement.fall else None
    here.draft.supplies[name] = Supply(name, limits, starts, rise, fall)


def volume(here: Here, statement: syntax.Volume | syntax.SpringCylinder) -> Volume:
    """`reservoir pilot: 3 litre +- 10 %, starts 0 bar`; also the air of a spring cylinder."""
    name, bands = here.name(statement.name), here.bands(statement.name)
    size = bands.above_zero(statement.size) if statement.size else None
    starts = bands.start(statement.starts, statement.name, "0 bar")
    kind = statement.kind if isinstance(statement, syntax.Volume) else "cylinder"
    made = Volume(name, kind, size, starts)
    here.draft.volumes[name] = made
    return made


def quantity(here: Here, statement: syntax.Quantity) -> None:
    """`quantity level: starts 0 mm, changes at 1 mm/s while pump is on`."""
    name, bands = here.name(statement.name), here.bands(statement.name)
    if statement.starts is None:
        data = {"name": statement.name.text, "offer": "0 mm"}
        here.problems.add("missing_start", statement.name.span, **data)
        return
    dimension = statement.starts.first.unit.dimension
    bands.of_dimension(statement.starts, dimension)
    due = dimension.times(TIME, -1)
    changes = tuple(_change(here, statement, change, due) for change in statement.changes)
    starts = bands.band(statement.starts)
    here.draft.quantities[name] = Quantity(name, base_unit(dimension), starts, changes)


def _change(
    here: Here, statement: syntax.Quantity, change: syntax.Change, due: Dimension
) -> Change:
    bands = here.bands(statement.name)
    bands.of_dimension(change.speed, due)
    return Change(bands.band(change.speed), here.condition(change.condition))


# ---- controls


def control(here: Here, statement: syntax.Control) -> None:
    """`control lever: brake, hold, lift; in that order; starts brake`."""
    name = here.name(statement.name)
    positions = _positions(here, statement.positions)
    starts, sealed = standing(here, statement, positions)
    if len(positions) < 2:
        here.problems.add("one_position", statement.name.span, name=statement.name.text)
    dwell = None
    if statement.dwell is not None:
        dwell = here.bands(statement.name).measure_above_zero(statement.dwell)
    here.draft.controls[name] = Control(
        name,
        positions,
        starts,
        statement.ordered,
        sealed,
        dwell,
        statement.worked_by.text if statement.worked_by else None,
    )


def standing(
    here: Here, statement: syntax.Control | syntax.IsolatingCock, positions: tuple[str, ...]
) -> tuple[tuple[str, ...], str | None]:
    """Where a control may start, and where it is sealed; unsaid, it may start anywhere."""
    starts = chosen(here, statement.name, statement.starts, positions)
    if statement.sealed is None:
        return starts or positions, None
    sealed = chosen(here, statement.name, (statement.sealed,), positions)
    if starts and sealed and sealed[0] not in starts:
        here.problems.add("sealed_elsewhere", statement.sealed.span, name=statement.name.text)
    return sealed, next(iter(sealed), None)


def range_control(here: Here, statement: syntax.RangeControl) -> None:
    """`control handle: 0 bar .. 5 bar; starts 0 bar`."""
    name, bands = here.name(statement.name), here.bands(statement.name)
    limits = bands.pressure(statement.range)
    starts = limits
    if statement.starts is not None:
        starts = bands.within(bands.pressure(statement.starts), limits, statement.starts)
    worked_by = statement.worked_by.text if statement.worked_by else None
    here.draft.range_controls[name] = RangeControl(name, limits, starts, worked_by)


def _positions(here: Here, names: Iterable[syntax.Name]) -> tuple[str, ...]:
    seen: dict[str, syntax.Name] = {}
    for name in names:
        if name.text in seen:
            here.problems.add("position_twice", name.span, position=name.text)
        seen.setdefault(name.text, name)
    return tuple(seen)


def chosen(
    here: Here, owner: syntax.Name, names: Iterable[syntax.Name], positions: Sequence[str]
) -> tuple[str, ...]:
    """Those of the names that are positions; a problem for each that is not."""
    found = []
    entry = here.table.get(here.name(owner))
    word = entry.word if entry else "device"
    known = {"name": owner.text, "word": word, "positions": listed(positions, "and")}
    for name in names:
        if name.text in positions or not positions:
            found.append(name.text)
            continue
        meant = nearest(name.text, positions)
        here.problems.add("unknown_position", name.span, meant, position=name.text, **known)
    return tuple(found)


# ---- devices and timers


def device(here: Here, statement: syntax.Device) -> Device:
    """`valve lockout: shut, open; starts shut` and its moves."""
    name = here.name(statement.name)
    positions = _positions(here, device_positions(statement))
    moves = _plain_moves(here, statement.plain) if statement.plain else ()
    moves += tuple(_move(here, statement.name, move, positions) for move in statement.moves)
    starts = chosen(here, statement.name, statement.starts, positions)
    moving = here.bands(statement.name).above_zero(statement.moving) if statement.moving else None
    _check_device(here, statement, positions)
    made = Device(
        name,
        statement.kind,
        positions,
        moves,
        starts or positions,
        starts_called=statement.plain is not None and not statement.starts,
        moving=moving,
        on_the_way=statement.on_the_way or "any",
    )
    here.draft.devices[name] = made
    if statement.latched:
        here.draft.latched.add(name)
    return made


def _plain_moves(here: Here, plain: syntax.Plain) -> tuple[Move, ...]:
    when = here.condition(plain.condition)
    return (Move(plain.position.text, when), Move(plain.otherwise.text, Not(when)))


def _move(here: Here, owner: syntax.Name, move: syntax.Move, positions: Sequence[str]) -> Move:
    chosen(here, owner, (move.to,), positions)
    return Move(move.to.text, here.condition(move.condition))


def _check_device(here: Here, statement: syntax.Device, positions: Sequence[str]) -> None:
    data = {"name": statement.name.text, "word": statement.kind}
    span = statement.name.span
    if not positions:
        here.problems.add("no_positions", span, **data)
    elif len(positions) < 2:
        here.problems.add("one_position", span, **data)
    elif statement.plain is None and not statement.moves:
        here.problems.add("never_moves", span, **data)


def timer(here: Here, statement: syntax.Timer) -> None:
    """`timer notice: runs while COND; expires after 2 s .. 2.5 s`."""
    name = here.name(statement.name)
    expires = here.bands(statement.name).above_zero(statement.expires)
    here.draft.timers[name] = Timer(name, here.condition(statement.runs), expires)
