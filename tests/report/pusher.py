"""A kiln-car pusher: the circuit whose runs the tests of the report tell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.conditions import AllOf, AnyOf, At, Expired, Flowing
from airproof.circuit.kinds import (
    Circuit,
    Control,
    Device,
    Flow,
    Interlock,
    Move,
    RangeControl,
    Supply,
    Timer,
    Volume,
)
from airproof.circuit.properties import (
    Assumption,
    KeptRule,
    Never,
    OnceLasted,
    OnlyAfter,
    Possible,
    Property,
    SupplyRule,
)
from airproof.circuit.state import State, Step, TimerState
from airproof.circuit.switching import Moved
from airproof.evidence.sequence import Sequence
from circuit.small import Number, band, is_, state

STRONG = AllOf((At("pedal", "down"), At("inlet", "open")))

PROPERTIES = (
    Property(
        "no_weak_push",
        "The ram never pushes on a weak main",
        Never(AllOf((Flowing("push"), is_("main", "<", "4.8")))),
        severity="critical",
        reason="a ram that stalls half way bends the car",
        hazard="K-3",
    ),
    Property("can_push", "The ram can push", Possible(is_("ram", ">=", 3))),
    Property(
        "gate_first",
        "The ram pushes only once the gate is up",
        OnlyAfter(is_("ram", ">=", 1), At("gate", "up"), At("pedal", "up")),
        severity="[red]odd[/red]",
    ),
    Property(
        "bell_drops",
        "",
        OnceLasted(At("door", "open"), is_("ram", "<=", "0.5"), Fraction(9)),
    ),
)


def pusher(title: str = "Kiln-car pusher") -> Circuit:
    """Two controls, a regulator, an inlet with a band, a slow gate, a bell and three flows."""
    inlet = (
        Move("open", is_("main", ">=", "5.5", "0.1")),
        Move("shut", is_("main", "<=", "4.8", "0.1")),
    )
    gate = (
        Move("up", AnyOf((At("pedal", "down"), Expired("bell")))),
        Move("down", At("pedal", "up")),
    )
    drain = AnyOf((At("pedal", "up"), Expired("bell")))
    return Circuit(
        "pusher",
        title,
        supplies={"main": Supply("main", band(0, 8), band(0, 8))},
        volumes={"ram": Volume("ram", "cylinder", None, band(0, 0))},
        controls={
            "pedal": Control("pedal", ("up", "down"), ("up",), worked_by="stoker"),
            "door": Control("door", ("shut", "open"), ("shut",), worked_by="outside"),
            "cock": Control("cock", ("open", "shut"), ("open",), sealed="open"),
        },
        range_controls={"wheel": RangeControl("wheel", band(0, 5), band(0, 0), "fitter")},
        devices={
            "inlet": Device("inlet", "valve", ("shut", "open"), inlet, ("shut",)),
            "gate": Device("gate", "valve", ("down", "up"), gate, ("down",), moving=band(1, 2)),
        },
        timers={"bell": Timer("bell", At("door", "open"), band(2, "2.5"))},
        flows={
            "push": Flow("push", "main", "ram", STRONG, one_way=True),
            "drain": Flow("drain", "ram", "atmosphere", drain),
        },
        interlocks={
            "pedal_door": Interlock(
                "pedal_door",
                "No push with the door open",
                "pedal",
                "only",
                "down",
                At("door", "shut"),
            ),
        },
        properties={one.name: one for one in PROPERTIES},
        assumptions={
            "fed": Assumption("fed", "The mill keeps 1 bar", SupplyRule((is_("main", ">=", 1),))),
            "calm": Assumption(
                "calm",
                "",
                KeptRule("door", "locked", "shut", AllOf((At("pedal", "down"), At("gate", "up")))),
            ),
        },
        drawings={"no_weak_push": "K-17"},
    )


class Run:
    """A run of a circuit, step by step; `checked` says that each step is one of the circuit's."""

    def __init__(self, circuit: Circuit, **values: Number) -> None:
        self.circuit = circuit
        self.behaviour = Behaviour(circuit)
        self.start = state(circuit, values=values)
        self.steps: list[Step] = []

    @property
    def now(self) -> State:
        return self.steps[-1].after if self.steps else self.start

    def switch(self, *moves: Moved) -> Run:
        self.steps.append(Step("switch", self.behaviour.moved(self.now, moves)))
        return self

    def elapse(
        self,
        duration: Number | None = None,
        timers: Mapping[str, TimerState] | None = None,
        amounts: Mapping[str, Number] | None = None,
        **values: Number,
    ) -> Run:
        now = self.now
        after = replace(
            now,
            values={**now.values, **{name: Fraction(v) for name, v in values.items()}},
            timers={**now.timers, **(timers or {})},
            aged=frozenset(now.leaving),
            rested=True,
        )
        moved = {name: Fraction(amount) for name, amount in (amounts or {}).items()}
        lasting = None if duration is None else Fraction(duration)
        self.steps.append(Step("elapse", after, moved, lasting))
        return self

    def checked(self, name: str) -> Sequence:
        """The sequence, after a replay that accepts it and decides the property at its end."""
        asked = self.circuit.properties[name]
        replay = self.behaviour.replay(asked, self.start, self.steps)
        assert replay.accepted, replay
        assert replay.decided == len(self.steps) - 1
        return Sequence(self.start, tuple(self.steps))


PEDAL_DOWN = Moved("control", "pedal", "up", "down")
PEDAL_UP = Moved("control", "pedal", "down", "up")
DOOR_OPEN = Moved("control", "door", "shut", "open")
INLET_OPEN = Moved("device", "inlet", "shut", "open")
GATE_OFF = Moved("sets off", "gate", "down", "up")


def weak_push() -> Sequence:
    """Pedal and inlet together, then the main falls below the inlet's settings."""
    run = Run(pusher(), main=6)
    run.switch(PEDAL_DOWN, INLET_OPEN).switch(GATE_OFF)
    run.elapse(main="5.6", ram=1, amounts={"push": 1})
    run.elapse(main="5.4", ram="4.5", amounts={"push": 4})
    run.elapse(main="4.9").elapse(main="4.8").elapse(main="4.7", ram="4.7", amounts={"push": 1})
    return run.checked("no_weak_push")
