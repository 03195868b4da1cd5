"""The panel under the drawing: what moves what, one card for each control and device."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from airproof.circuit.conditions import Condition
from airproof.circuit.kinds import Circuit, Control, Device
from airproof.report import words
from airproof.report.figures import plain
from airproof.report.schematic import labels, metrics
from airproof.report.schematic.canvas import Canvas, Point
from airproof.report.schematic.cells import STEP
from airproof.report.schematic.look import Look
from airproof.report.schematic.sheet import Sheet

LEAST = 400.0  # width of a card [px]
INDENT = 8.0
UNBROKEN = 1e6
GAP = 12.0
TOP = 24.0  # room for a heading


@dataclass(frozen=True, slots=True)
class Card:
    """One control, device, timer or condition: what it is, where it stands, what moves it."""

    name: str
    kind: str
    stands: str  # "position", "value", "timer" or "" for nothing
    lines: tuple[str, ...]
    width: float

    @property
    def height(self) -> float:
        return 5 + STEP * (1 + len(self.lines) + bool(self.stands)) + 5

    def draw(self, pen: Canvas, at: Point, look: Look) -> None:
        x, y = at
        with pen.group("card", self.name, f"{self.kind} {self.name}"):
            pen.box((x, y), (self.width, self.height), kind="c")
        base = y + 4 + metrics.SMALL
        room = self.width - 2 * INDENT
        kind = metrics.shortened(self.kind, metrics.SMALL, room / 2)
        taken = metrics.width(kind, metrics.SMALL) + 10
        pen.text((x + INDENT, base), self.name, kind="u", anchor="start", most=room - taken)
        pen.text((x + self.width - INDENT, base), kind, anchor="end")
        if self.stands:
            base += STEP
            stands = self._stands(look)
            pen.text((x + INDENT, base), stands, kind="u", anchor="start", most=room)
        for line in self.lines:
            base += STEP
            pen.text((x + INDENT, base), line, anchor="start")

    def _stands(self, look: Look) -> str:
        if self.stands == "value":
            return f"is {labels.reading(look.values[self.name], self.kind.rpartition(' in ')[2])}"
        if self.stands == "timer":
            return f"is {look.timers[self.name]}"
        where = look.stands(self.name)
        if where is not None:
            return f"is {where}"
        return f"is moving from {look.leaving[self.name]} to {look.positions[self.name]}"


@dataclass(frozen=True, slots=True)
class Panel:
    """Cards under headings, each at its place."""

    headings: tuple[tuple[str, Point], ...]
    cards: tuple[tuple[Card, Point], ...]
    size: Point

    def draw(self, pen: Canvas, at: Point, look: Look) -> None:
        x, y = at
        for title, (left, top) in self.headings:
            pen.text((x + left, y + top), title, kind="n", anchor="start")
        for card, (left, top) in self.cards:
            card.draw(pen, (x + left, y + top), look)


def groups_of(circuit: Circuit, sheet: Sheet) -> list[tuple[str, list[Card]]]:
    """Every card under its heading, its lines as long as they are."""
    return [group for group in _Cards(circuit, sheet, UNBROKEN).groups() if group[1]]


def panel_of(circuit: Circuit, sheet: Sheet, width: float) -> Panel:
    """The panel, in columns that together are as wide as the drawing."""
    columns = max(1, int((width + GAP) // (LEAST + GAP)))
    wide = max(LEAST, (width + GAP) / columns - GAP)
    groups = [group for group in _Cards(circuit, sheet, wide).groups() if group[1]]
    deep = sum(TOP + sum(card.height + GAP / 2 for card in group) for _, group in groups) / columns
    while (panel := _in_columns(groups, deep, wide)).size[0] > columns * (wide + GAP):
        deep += TOP
    return panel


def _in_columns(groups: Sequence[tuple[str, list[Card]]], deep: float, wide: float) -> Panel:
    """Cards down one column after the other, none deeper than that but by a part of a card."""
    headings: list[tuple[str, Point]] = []
    cards: list[tuple[Card, Point]] = []
    x = y = bottom = 0.0
    for title, group in groups:
        for number, card in enumerate(group):
            if y and y + card.height / 2 > deep:
                x, y = x + wide + GAP, 0.0
            if number == 0 or y == 0.0:
                shown = metrics.shortened(title, metrics.NAME, wide, bold=True)
                headings.append((shown, (x, y + metrics.NAME)))
                y += TOP
            cards.append((card, (x, y)))
            y += card.height + GAP / 2
            bottom = max(bottom, y)
    return Panel(tuple(headings), tuple(cards), (x + wide if cards else 0.0, bottom))


@dataclass(frozen=True, slots=True)
class _Cards:
    """Makes the cards of one circuit, all of one width."""

    circuit: Circuit
    sheet: Sheet
    width: float

    def groups(self) -> Iterator[tuple[str, list[Card]]]:
        """The cards under their headings; some may be empty."""
        circuit, devices = self.circuit, list(self.circuit.devices.values())
        controls = [self._control(control) for control in circuit.controls.values()]
        yield "Controls, and the rules on them", [*controls, *self._handles()]
        electric = [self._device(device) for device in devices if device.kind in ELECTRIC]
        yield "Relays, switches, latches and timers", [*electric, *self._timers()]
        valves = [self._device(device) for device in devices if device.kind not in ELECTRIC]
        yield "What moves the valves", valves
        yield "What is not air", list(self._quantities())
        yield "Conditions in the drawing", list(self._conditions())

    def _card(self, name: str, kind: str, stands: str, *texts: str) -> Card:
        room = self.width - 2 * INDENT
        lines = [line for text in texts for line in metrics.wrapped(text, metrics.SMALL, room)]
        return Card(name, kind, stands, tuple(lines), self.width)

    def _said(self, condition: Condition) -> str:
        return words.condition(condition, words.units(self.circuit))

    def _sheets(self, name: str) -> tuple[str, ...]:
        drawings = self.circuit.drawings
        return (f"drawing {drawings[name]}",) if name in drawings else ()

    def _control(self, control: Control) -> Card:
        order = " in that order" if control.ordered else ""
        lines = [f"{', '.join(control.positions)}{order}"]
        if control.sealed:
            lines.append(f"sealed {control.sealed}")
        if control.dwell:
            lines.append(f"in each position for at least {plain(control.dwell)} s")
        lines += self._rules(control.name)
        kind = f"worked by {control.worked_by}" if control.worked_by else "control"
        return self._card(control.name, kind, "position", *lines, *self._sheets(control.name))

    def _rules(self, control: str) -> Iterator[str]:
        for lock in self.circuit.interlocks.values():
            if lock.control == control:
                rule = words.ruling(
                    lock.rule, lock.control, lock.position, self._said(lock.condition)
                )
                yield f"{lock.name}: {rule}"

    def _handles(self) -> Iterator[Card]:
        for handle in self.circuit.range_controls.values():
            by = (f"worked by {handle.worked_by}",) if handle.worked_by else ()
            said = f"any pressure of {labels.band(handle.range)}"
            yield self._card(handle.name, "control in bar", "value", said, *by)

    def _device(self, device: Device) -> Card:
        lines = [f"{move.to} when {self._said(move.when)}" for move in device.moves]
        if device.moving:
            lines.append(f"moving takes {labels.band(device.moving, 's')}")
        sheets = self._sheets(device.name)
        return self._card(device.name, device.kind, "position", *lines, *sheets)

    def _timers(self) -> Iterator[Card]:
        for timer in self.circuit.timers.values():
            runs = f"runs while {self._said(timer.runs)}"
            expires = f"expires after {labels.band(timer.expires, 's')}"
            yield self._card(timer.name, "timer", "timer", runs, expires)

    def _quantities(self) -> Iterator[Card]:
        for quantity in self.circuit.quantities.values():
            unit = f"{quantity.unit}/s"
            lines = [
                f"changes at {labels.band(change.speed, unit)} while {self._said(change.condition)}"
                for change in quantity.changes
            ]
            yield self._card(quantity.name, f"quantity in {quantity.unit}", "value", *lines)

    def _conditions(self) -> Iterator[Card]:
        """What no symbol spells out: signals that gate a flow, and conditions of flows."""
        for name, kind, condition in dict.fromkeys(self.sheet.spelled):
            said = self._said(condition)
            yield self._card(name, kind, "", said if kind == "signal" else f"while {said}")


ELECTRIC = frozenset(["relay", "switch", "latch", "pressure switch", "governor"])
