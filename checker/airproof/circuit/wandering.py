"""Random runs: starts and steps drawn so that they are nearly always allowed.

Whatever is drawn is checked before it is given away.  Values are drawn where
rules change: at landmarks (tolerance edges and equal pressures among them), at
the ends of bands, and at round fractions between.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from random import Random

from airproof.circuit.conditions import form_of
from airproof.circuit.elapsing import elapse_refusals, may_change, timers_after
from airproof.circuit.kinds import ATMOSPHERE, Band, Control, Device
from airproof.circuit.landmarks import Mark
from airproof.circuit.moving import moved, options
from airproof.circuit.readings import NOTHING, Inner, value_of
from airproof.circuit.state import State, Step
from airproof.circuit.switching import (
    Moved,
    start_refusals,
    supply_rule_refusals,
    switch_refusals,
)
from airproof.circuit.tables import Tables, Way, downstream, upstream

TRIES = 12
GRID = 60  # drawn values are whole multiples of 1/60, which keeps the fractions short

Direction = dict[str, Fraction]


def random_start(
    tables: Tables, marks: Collection[Mark], rng: Random, standing: str | None = None
) -> State | None:
    """A start, its values biased to ends of bands and landmarks; None if none was found."""
    circuit = tables.circuit
    pins = circuit.standings[standing] if standing is not None else None
    for _ in range(10 * TRIES):
        starts: list[Control | Device] = [*circuit.controls.values(), *circuit.devices.values()]
        positions = {thing.name: rng.choice(thing.starts) for thing in starts}
        positions |= {c.name: c.sealed for c in circuit.controls.values() if c.sealed}
        values = {
            name: _within(band, name, marks, rng) for name, band in circuit.value_starts.items()
        }
        state = State(
            positions={**positions, **(pins.positions if pins else {})},
            values={**values, **(pins.values if pins else {})},
            timers=dict.fromkeys(circuit.timers, "idle"),
        )
        state = _uncalled(tables, state, standing, rng)
        if not start_refusals(tables, state, standing):
            return state
    return None


def _uncalled(tables: Tables, state: State, standing: str | None, rng: Random) -> State:
    """Devices called away from where they would start are put elsewhere, a few times over."""
    for _ in range(TRIES):
        refusals = start_refusals(tables, state, standing)
        called = [r.names[0] for r in refusals if r.rule == "start called"]
        if not called:
            break
        elsewhere = {name: rng.choice(tables.circuit.devices[name].starts) for name in called}
        state = replace(state, positions={**state.positions, **elsewhere})
    return state


def random_switch(tables: Tables, state: State, rng: Random) -> Step | None:
    """A switch step, or None where nothing may move."""
    offers = [*options(tables, state), *_settings(tables, state, rng)]
    if not offers:
        return None
    wanted = rng.choice((1, 1, 1, 2, 2, 3, len(offers)))
    chosen = {move.name: move for move in rng.sample(offers, min(wanted, len(offers)))}
    for moves in (list(chosen.values()), [rng.choice(offers)]):
        after = moved(tables.circuit, state, moves)
        if not switch_refusals(tables, state, after):
            return Step("switch", after, duration=NOTHING)
    return None


def _settings(tables: Tables, state: State, rng: Random) -> Iterator[Moved]:
    for name, control in tables.circuit.range_controls.items():
        was, now = state.values[name], _within(control.range, name, (), rng)
        if was != now and (state.rested or name not in state.fresh):
            yield Moved("range", name, was, now)


def random_elapse(
    tables: Tables, state: State, marks: Collection[Mark], rng: Random
) -> Step | None:
    """An elapse step, its values biased to landmarks; None if none was found."""
    for attempt in range(TRIES):
        draft = _Draft(tables, state, marks, rng)
        if attempt < TRIES - 1:
            draft.fill()
        step = draft.step()
        if not elapse_refusals(tables, state, step, marks):
            return step
    return None


class _Draft:
    """An elapse step in the making: each change keeps to its side of every landmark."""

    def __init__(self, tables: Tables, state: State, marks: Collection[Mark], rng: Random) -> None:
        self.tables, self.state, self.rng = tables, state, rng
        self.values = dict(state.values)
        self.amounts: dict[str, Fraction] = {}
        self._sizes: dict[str, Fraction] = {}
        self._walls: list[tuple[Mark, Fraction]] = [
            (mark, value_of(mark[0], state.values) - mark[1]) for mark in marks
        ]

    def fill(self) -> None:
        """Draws new supplies, then air flow by flow, then what is not air."""
        circuit, rng = self.tables.circuit, self.rng
        for name, supply in circuit.supplies.items():
            if rng.random() < 0.5:
                self._move_supply(name, supply.range)
        if any(supply_rule_refusals(self.tables, self._after())):
            self.values.update({name: self.state.values[name] for name in circuit.supplies})
        flows = [Way(f, back) for f in circuit.flows.values() for back in (False, True)]
        rng.shuffle(flows)
        for way in flows:
            if not (way.backwards and way.flow.one_way) and rng.random() < 0.7:
                self._carry(way)
        for name in circuit.quantities:
            self._change(name, upwards=rng.random() < 0.5)

    def step(self) -> Step:
        """What has been drawn, with a duration."""
        inner = Inner(self.tables, self.state, self._after())
        timers = {
            name: self.rng.choice(timers_after(inner, name)) for name in self.tables.circuit.timers
        }
        after = replace(inner.after, timers=timers, rested=True, aged=frozenset(self.state.leaving))
        duration = Fraction(self.rng.randint(1, 4 * GRID), GRID)
        return Step("elapse", after, amounts=self.amounts, duration=duration)

    def _after(self) -> State:
        return replace(self.state, values=dict(self.values))

    def _move_supply(self, name: str, band: Band) -> None:
        here = self.values[name]
        up = self.rng.random() < 0.5
        way = {name: Fraction(1 if up else -1)}
        reach = min(band.high - here if up else here - band.low, self._reach(way))
        self._go(way, self._share(reach, self.rng))

    def _carry(self, way: Way) -> None:
        """Moves an amount downhill, at most until a landmark is met."""
        inner = Inner(self.tables, self.state, self._after())
        flow = way.flow
        first, last = inner.gaps(flow)
        sign = -1 if way.backwards else 1
        opening = flow.opening if flow.one_way else NOTHING
        backed = self.amounts.get(flow.name, NOTHING) * sign < 0
        if backed or min(first * sign, last * sign) < opening or not inner.flow_condition(flow)[0]:
            return
        level = {upstream(way): Fraction(1), downstream(way): Fraction(-1)}
        level.pop(ATMOSPHERE, None)
        self._walls.append(((form_of(level), opening), Fraction(1)))
        direction: Direction = {}
        for place, side in ((upstream(way), -1), (downstream(way), 1)):
            if place in self.tables.circuit.volumes:
                direction[place] = side / self._size(place)
        amount = self._share(self._reach(direction), self.rng)
        self._go(direction, amount)
        if amount:
            self.amounts[flow.name] = self.amounts.get(flow.name, NOTHING) + sign * amount

    def _size(self, volume: str) -> Fraction:
        if volume not in self._sizes:
            size = self.tables.circuit.volumes[volume].size
            low, high = (size.low, size.high) if size else (Fraction(1), Fraction(10))
            self._sizes[volume] = self.rng.choice((low, high, (low + high) / 2))
        return self._sizes[volume]

    def _change(self, quantity: str, *, upwards: bool) -> None:
        inner = Inner(self.tables, self.state, self._after())
        if may_change(inner, quantity, upwards):
            way = {quantity: Fraction(1 if upwards else -1)}
            self._go(way, self._share(self._reach(way), self.rng))

    def _go(self, direction: Direction, far: Fraction) -> None:
        for name, speed in direction.items():
            self.values[name] += speed * far

    def _reach(self, direction: Direction) -> Fraction:
        """How far one can go this way before a landmark is crossed or air would run uphill."""
        reach = Fraction(10)
        for (form, constant), side in self._walls:
            speed = sum((w * direction[n] for n, w in form.terms if n in direction), NOTHING)
            if side * speed < 0:
                ahead = value_of(form, self.values) - constant
                reach = min(reach, max(NOTHING, -ahead / speed))
        return reach

    @staticmethod
    def _share(reach: Fraction, rng: Random) -> Fraction:
        """All of it, nothing, or a round part of it."""
        whole = rng.choice((True, True, False, False, False))
        if whole:
            return reach
        part = reach * Fraction(rng.randint(0, 8), 8)
        return Fraction(int(part * GRID), GRID)


def _within(band: Band, name: str, marks: Collection[Mark], rng: Random) -> Fraction:
    """A value of the band: an end, the middle, a landmark of this name alone, or a round one."""
    alone = [c for form, c in marks if form.names == (name,) and band.low <= c <= band.high]
    width = band.high - band.low
    between = band.low + width * Fraction(rng.randint(0, 12), 12)
    ends: Sequence[Fraction] = (band.low, band.high, band.low + width / 2)
    return rng.choice([*sorted(alone), between, between, rng.choice(ends)])
