"""Moves in no time: whatever wants to move, as far as the rules of its controls let it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from random import Random

from outside.blowing import Build
from outside.machines import Deed, Works
from outside.sensing import Machine


class Shifting(Works):
    """A circuit's machines, and what moves in them."""

    def moved(self, build: Build, machine: Machine, deeds: Iterable[Deed], rng: Random) -> Machine:
        """All of it at once, allowed or not."""
        after = replace(
            machine,
            positions=dict(machine.positions),
            leaving=dict(machine.leaving),
            ports=dict(machine.ports),
            left=dict(machine.left),
            timers=dict(machine.timers),
            clocks=dict(machine.clocks),
        )
        by_hand = {deed.name for deed in deeds if deed.kind == "control"}
        after.fresh = frozenset(by_hand | (set() if machine.rested else machine.fresh))
        after.touched = frozenset(by_hand | (set() if machine.rested else machine.touched))
        after.rested = False
        for deed in deeds:
            if deed.kind == "timer":
                after.timers[deed.name] = "expired" if deed.to == "expired" else "idle"
                after.clocks[deed.name] = 0.0
            elif deed.kind == "arrival":
                del after.leaving[deed.name]
                after.aged -= {deed.name}
            else:
                if deed.kind == "device" and self.circuit.devices[deed.name].moving:
                    self._set_off(build, after, deed, rng)
                after.positions[deed.name] = deed.to
        return after

    def _set_off(self, build: Build, after: Machine, deed: Deed, rng: Random) -> None:
        bound, left = after.positions[deed.name], after.leaving.get(deed.name)
        after.leaving[deed.name] = bound if left in (None, deed.to) else str(left)
        after.left[deed.name] = build.travel[deed.name] * rng.uniform(0.5, 1)
        after.aged -= {deed.name}
        after.ports[deed.name] = self.ports(deed.name, rng)

    def switched(
        self, build: Build, machine: Machine, wished: Iterable[Deed], rng: Random
    ) -> Machine | None:
        """Some of it at once, as far as the rules let; None if nothing moves."""
        each: dict[str, list[Deed]] = {}
        for deed in wished:
            each.setdefault(deed.name, []).append(deed)
        deeds = [rng.choice(some) for some in each.values()]
        if deeds and rng.random() < 0.6:
            deeds = rng.sample(deeds, rng.randrange(1, len(deeds) + 1))
        while deeds:
            after = self.moved(build, machine, deeds, rng)
            barred = [deed for deed in deeds if not self._allowed(machine, after, deed)]
            if not barred:
                return after
            deeds = [deed for deed in deeds if deed not in barred]
        return None

    def _allowed(self, before: Machine, after: Machine, deed: Deed) -> bool:
        if deed.kind != "control":
            return True
        again = not before.rested and deed.name in before.touched
        control, here = self.circuit.controls[deed.name], before.positions[deed.name]
        if control.sealed or (again and not deed.bidden):
            return False
        if self.towards(control, here, deed.to) != deed.to:
            return False
        others_moved = replace(
            after,
            positions={**after.positions, deed.name: here},
            fresh=(after.fresh - {deed.name}) | (before.fresh & {deed.name}),
        )
        return all(self._lets(deed, here, machine) for machine in (before, others_moved))

    def _lets(self, deed: Deed, here: str, machine: Machine) -> bool:
        for rule, reading in self.rules:
            if rule.control != deed.name:
                continue
            so = reading(machine, machine.values)
            control = self.circuit.controls[deed.name]
            bars = {
                "only": deed.to == rule.position and not so,
                "locked": here == rule.position and so,
                "forced": so
                and (
                    here == rule.position or self.towards(control, here, rule.position) != deed.to
                ),
            }
            if bars[rule.rule]:
                return False
        return True
