"""A machine that runs by itself: devices at their settings, people at random, air by its law.

Written from grammar/LANGUAGE.md. Both accounts of the meaning are left alone here, so that what
this machine does may be held against them, and against what was proved.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random
from typing import Literal

from airproof.circuit.kinds import ATMOSPHERE, Circuit, Control, Device, Interlock
from airproof.circuit.properties import KeptRule
from outside.blowing import (
    Blow,
    Build,
    apace,
    blown,
    built,
    grained,
    head_marks,
    settings_drawn,
    shortened,
    true_marks,
    within,
)
from outside.sensing import Machine, Senses, Values

TRIES = 60
SOON = 1e-9


@dataclass(frozen=True)
class Deed:
    """Something that moves in no time; `bidden`: a rule forces the control to it."""

    kind: Literal["device", "arrival", "control", "timer"]
    name: str
    to: str = ""
    bidden: bool = False


@dataclass(frozen=True)
class Passage:
    """Time passed: the machine before, the values half way and at the end, what flowed."""

    before: Machine
    half_way: Values
    blow: Blow


class Works:
    """A circuit's machines and what they do next."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit, self.senses = circuit, Senses(circuit)
        read = self.senses.reading
        self.moves = {
            d.name: [(move.to, read(move.when, f"device {d.name}")) for move in d.moves]
            for d in circuit.devices.values()
        }
        self.runs = {t.name: read(t.runs, f"timer {t.name}") for t in circuit.timers.values()}
        self.open = {
            f.name: read(f.condition, f"flow {f.name}", True) for f in circuit.flows.values()
        }
        self.changes = {
            q.name: tuple(read(c.condition, f"quantity {q.name}", True) for c in q.changes)
            for q in circuit.quantities.values()
        }
        rules: list[Interlock | KeptRule] = list(circuit.interlocks.values())
        rules += [a.rule for a in circuit.assumptions.values() if isinstance(a.rule, KeptRule)]
        self.rules = [(rule, read(rule.condition, f"rule {at}")) for at, rule in enumerate(rules)]
        self.senses.marks |= head_marks(circuit)

    # ---- beginnings

    def start(self, rng: Random) -> tuple[Build, Machine] | None:
        """A machine as the circuit starts; None if its relays found no rest."""
        circuit = self.circuit
        placed: dict[str, Control | Device] = {**circuit.controls, **circuit.devices}
        values = {name: within(band, rng) for name, band in circuit.value_starts.items()}
        machine = Machine(
            positions={name: rng.choice(thing.starts) for name, thing in placed.items()},
            values={ATMOSPHERE: Fraction(0), **values},
            settings=settings_drawn(self.senses.settings, rng),
            timers=dict.fromkeys(circuit.timers, "idle"),
            clocks=dict.fromkeys(circuit.timers, 0.0),
        )
        for _ in range(TRIES):
            called = [
                deed
                for deed in self.called(machine, machine.values)
                if deed.kind == "device" and circuit.devices[deed.name].starts_called
            ]
            if not called:
                return built(circuit, rng), machine
            machine.positions[called[0].name] = called[0].to
        return None

    # ---- what must move, and what may

    def called(self, machine: Machine, values: Values) -> list[Deed]:
        """What has to move before time passes by these values."""
        found = [
            Deed("device", name, to)
            for name, moves in self.moves.items()
            for to, called in moves
            if name not in machine.leaving
            and to != machine.positions[name]
            and called(machine, values)
        ]
        for rule, so in self.rules:
            here = machine.positions[rule.control]
            if rule.rule == "forced" and here != rule.position and so(machine, values):
                step = self.towards(self.circuit.controls[rule.control], here, rule.position)
                found.append(Deed("control", rule.control, step, bidden=True))
        found += [
            Deed("timer", name, "idle")
            for name, runs in self.runs.items()
            if machine.timers[name] == "expired" and not runs(machine, values)
        ]
        return found

    @staticmethod
    def towards(control: Control, here: str, goal: str) -> str:
        if not control.ordered:
            return goal
        place, aim = control.positions.index(here), control.positions.index(goal)
        return control.positions[place + (1 if aim > place else -1)]

    def ripe(self, build: Build, machine: Machine) -> list[Deed]:
        """Devices that arrive and timers that expire now."""
        found = [
            Deed("arrival", name)
            for name, left in machine.left.items()
            if name in machine.leaving and name in machine.aged and left <= SOON
        ]
        found += [
            Deed("timer", name, "expired")
            for name, state in machine.timers.items()
            if state == "running" and machine.clocks[name] >= build.expiry[name] - SOON
        ]
        return found

    def turning(self, machine: Machine) -> list[Deed]:
        """Devices on their way that are called elsewhere."""
        return [
            Deed("device", name, to)
            for name in machine.leaving
            for to, called in self.moves[name]
            if to != machine.positions[name] and called(machine, machine.values)
        ]

    def by_hand(self, machine: Machine, rng: Random, most: int) -> list[Deed]:
        """What somebody would like to move."""
        free = [control for control in self.circuit.controls.values() if not control.sealed]
        return [
            Deed("control", control.name, rng.choice(others))
            for control in rng.sample(free, min(most, len(free)))
            if (others := [p for p in control.positions if p != machine.positions[control.name]])
        ]

    # ---- time

    def ports(self, device: str, rng: Random) -> tuple[bool, bool]:
        match self.circuit.devices[device].on_the_way:
            case "closed":
                return False, False
            case "joined":
                return True, True
            case "any":
                return rng.random() < 0.5, rng.random() < 0.5

    def passage(
        self, build: Build, machine: Machine, aims: Mapping[str, tuple[Fraction, float]]
    ) -> Passage:
        """A little time by the law, up to the next landmark; nothing is asked of devices."""
        seconds = self._until(build, machine)
        onward = dict(machine.values)
        for name, (aim, pace) in aims.items():
            reach = grained(pace * seconds) or Fraction(1, 1 << 20)
            onward[name] += max(-reach, min(reach, aim - onward[name]))
        for name, speed in apace(machine, build, self.changes).items():
            onward[name] += grained(float(speed) * seconds)
        marks = true_marks(machine, self.senses.marks)
        shut: set[str] = set()
        for _ in range(6):
            flows = [
                flow
                for name, flow in self.circuit.flows.items()
                if name not in shut and self.open[name](machine, machine.values)
            ]
            blow = shortened(blown(build, machine, flows, onward, seconds), machine, marks)
            half = {n: (first + blow.values[n]) / 2 for n, first in machine.values.items()}
            wrong = {name for name in blow.amounts if not self.open[name](machine, half)}
            if not wrong:
                break
            shut |= wrong
        return Passage(machine, half, blow)

    def _until(self, build: Build, machine: Machine) -> float:
        return min((build.tick, *self._appointments(build, machine)))

    def _appointments(self, build: Build, machine: Machine) -> Iterator[float]:
        for name, runs in self.runs.items():
            if machine.timers[name] != "expired" and runs(machine, machine.values):
                yield max(build.expiry[name] - machine.clocks[name], 1e-6)
        for name in machine.leaving:
            yield max(machine.left[name], 1e-6)

    def passed(self, passage: Passage, rng: Random) -> Machine:
        """The machine once that time has passed."""
        before, blow = passage.before, passage.blow
        after = replace(
            before,
            values=dict(blow.values),
            timers=dict(before.timers),
            clocks=dict(before.clocks),
            left=dict(before.left),
            ports=dict(before.ports),
            aged=frozenset(before.leaving),
            rested=True,
        )
        for name, runs in self.runs.items():
            if before.timers[name] != "expired":
                on = runs(before, passage.half_way)
                after.timers[name] = "running" if on else "idle"
                after.clocks[name] = before.clocks[name] + blow.seconds if on else 0.0
        for name in before.leaving:
            after.left[name] -= blow.seconds
            if rng.random() < 0.3:
                after.ports[name] = self.ports(name, rng)
        return after
