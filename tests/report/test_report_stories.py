"""Stories of small runs, compared whole at 80 columns."""

from __future__ import annotations

import io
from dataclasses import replace
from fractions import Fraction

from rich.console import Console

from airproof.circuit.conditions import At, Compare, compare, form_of
from airproof.circuit.kinds import (
    ATMOSPHERE,
    Change,
    Circuit,
    Device,
    Flow,
    Interlock,
    Move,
    Quantity,
)
from airproof.circuit.properties import AfterNever, Never, Property
from airproof.circuit.switching import Moved
from airproof.evidence.sequence import Sequence
from airproof.report.story import Item, story
from airproof.report.terminal import run_told
from circuit.small import band, circuit, control, flow, is_, supply, valve, volume
from report.pusher import (
    DOOR_OPEN,
    GATE_OFF,
    INLET_OPEN,
    PEDAL_DOWN,
    PEDAL_UP,
    Run,
    pusher,
    weak_push,
)


def told(of: Circuit, sequence: Sequence, name: str | None = None) -> str:
    """The story on a screen of 80 columns."""
    stream = io.StringIO()
    console = Console(file=stream, width=80, markup=False, highlight=False, emoji=False)
    for part in run_told(of, sequence, of.properties[name] if name else None):
        console.print(part)
    return "\n".join(line.rstrip() for line in stream.getvalue().splitlines())


def items(run: Run) -> tuple[Item, ...]:
    """The numbered items of a run whose every step is allowed."""
    asked = Property("any", "", Never(is_("main", ">=", 100)))
    replay = run.behaviour.replay(asked, run.start, run.steps)
    assert replay.accepted, replay
    return story(run.circuit, Sequence(run.start, tuple(run.steps))).items


def texts(run: Run) -> list[str]:
    return [" ".join((item.text, *item.parts)) for item in items(run)]


def test_a_breach_is_told_whole() -> None:
    """Start, moves with their reasons, one merged stretch, the breach, pressures, the way."""
    assert (
        told(pusher(), weak_push(), "no_weak_push")
        == """\
   The run starts where pedal is up, door is shut, cock is open, inlet is shut,
   gate is down; main is 6 bar, ram is 0 bar, wheel is 0 bar.
   1) In the same instant:
      - stoker moves pedal from up to down; allowed, because door is shut.
      - inlet moves from shut to open; it is due, because main is 6 bar (main >=
        5.5 bar +- 0.1 bar).
   2) gate sets off from down to up; it is due, because pedal is down.
   3) Time passes: main falls from 6 to 4.7 bar; ram rises from 0 to 4.7 bar;
      air moves through push from main to ram.
   Breached here, while time passes: push is flowing and main < 4.8 bar.
   By then: main 4.7 bar, ram 4.7 bar, wheel 0 bar.
   Still on the way: gate from down to up."""
    )


def test_a_possibility_is_told_whole() -> None:
    """A run that shows what was asked to be possible ends in its goal."""
    run = Run(pusher(), main="5.4").switch(INLET_OPEN, PEDAL_DOWN).switch(GATE_OFF)
    run.elapse(ram=1).elapse(ram=3).elapse(ram=4)
    assert (
        told(pusher(), run.checked("can_push"), "can_push")
        == """\
   The run starts where pedal is up, door is shut, cock is open, inlet is shut,
   gate is down; main is 5.4 bar, ram is 0 bar, wheel is 0 bar.
   1) In the same instant:
      - stoker moves pedal from up to down; allowed, because door is shut.
      - inlet moves from shut to open; it may, because main is 5.4 bar, and it
        may move from 5.4 bar up (main >= 5.5 bar +- 0.1 bar).
   2) gate sets off from down to up; it is due, because pedal is down.
   3) Time passes: ram rises from 0 to 4 bar; air moves through push from main
      to ram.
   Shown possible here, while time passes: ram >= 3 bar.
   By then: main 5.4 bar, ram 4 bar, wheel 0 bar.
   Still on the way: gate from down to up."""
    )


def falling() -> Circuit:
    """A tank that is not to fall low once it was high."""
    asked = AfterNever(is_("tank", ">=", 3), is_("tank", "<", 1), None)
    tank = volume("tank", starts=band(0, 0))
    lever = control("lever", "rest", "work")
    filled = flow("fill", "main", "tank")
    return circuit(supply(), tank, lever, filled, Property("kept", "", asked))


def ending(run: Run, name: str) -> str:
    return story(run.circuit, run.checked(name), run.circuit.properties[name]).ending[0]


def test_two_things_of_one_stretch_are_told_as_such() -> None:
    """What came first in the stretch of the cause counts too, and is not told as coming after."""
    run = Run(falling(), main=5).elapse(tank=1).elapse(tank=3).elapse(tank=4)
    assert ending(run, "kept") == (
        "Breached here, while time passes: tank >= 3 bar, "
        "and earlier in the same stretch of time tank < 1 bar."
    )


def test_what_may_not_follow_is_told_as_following() -> None:
    """After the cause, what may not follow is told as coming after it."""
    run = Run(falling(), main=5).elapse(tank=1).elapse(tank=2)
    run.switch(Moved("control", "lever", "rest", "work"))
    run.elapse(tank=3).elapse(tank=4)
    run.elapse(main=4).elapse(main=0).elapse(tank=3).elapse(tank=1).elapse(tank="0.5")
    assert ending(run, "kept") == (
        "Breached here, while time passes: tank < 1 bar, after tank >= 3 bar."
    )


def test_a_device_inside_its_band_may_move() -> None:
    """Between near and far edge a device is allowed to move, not due."""
    run = Run(pusher(), main=6).switch(INLET_OPEN).elapse(main="5.6").elapse(main="5.4")
    run.elapse(main="4.9").switch(Moved("device", "inlet", "open", "shut"))
    assert texts(run)[-1] == (
        "inlet moves from open to shut; it may, because main is 4.9 bar, "
        "and it may move from 4.9 bar down (main <= 4.8 bar +- 0.1 bar)."
    )


def test_only_turning_points_of_a_stretch_are_told() -> None:
    """Elapse steps of one stretch are one item; a value's way up and down is kept."""
    run = Run(pusher(), main=3)
    for pressure in (4, "4.5", 3, 2, 3):
        run.elapse(main=pressure)
    assert texts(run) == [
        "Time passes: main rises from 3 to 4.5 bar, then falls to 2 bar, then rises to 3 bar."
    ]


def test_a_stretch_without_change() -> None:
    """Time may pass with nothing to tell."""
    assert texts(Run(pusher(), main=3).elapse()) == ["Time passes; nothing else changes."]


def test_air_that_moves_is_told_before_a_reading_changes() -> None:
    """Nobody says that nothing changes while air goes through an open way."""
    tanks = (supply(), volume("a", band(1, 1)), volume("b", band(1, 1)), volume("c", band(1, 1)))
    stuck = flow("stuck", "a", "c", At("lever", "open"))
    of = circuit(*tanks, control("lever", "shut", "open"), flow("link", "a", "b"), stuck)
    passed, still = (
        "Time passes; no reading changes yet, though",
        "Time passes; nothing else changes.",
    )
    assert texts(Run(of, a=1, b=4).elapse()) == [f"{passed} air moves through link from b to a."]
    assert texts(Run(of, a=1, b=1, c=3).elapse()) == [still]
    run = Run(of, a=3, c=3, b=1).switch(Moved("control", "lever", "shut", "open")).elapse()
    assert texts(run)[1] == f"{passed} air moves through link from a to b."
    steep = circuit(*tanks, flow("check", "a", "b", one_way=True, opening=Fraction(1)))
    assert texts(Run(steep, a=3, b=2).elapse()) == texts(Run(steep, b=7).elapse()) == [still]
    assert texts(Run(steep, a=4, b=2).elapse()) == [
        f"{passed} air moves through check from a to b."
    ]


def test_a_way_that_only_may_be_open_is_not_told_to_carry_air() -> None:
    """Within a tolerance, where the next step may find it shut as well."""
    open_ = is_("a", ">=", 3, "0.5")
    tanks = (supply(), volume("a", band(1, 1)), volume("b", band(1, 1)))
    of = circuit(*tanks, flow("way", "a", "b", open_))
    assert texts(Run(of, a="3.2").elapse()) == ["Time passes; nothing else changes."]
    assert "through way" in texts(Run(of, a="3.6").elapse())[0]


def test_air_that_goes_round_between_equal_pressures_is_not_told() -> None:
    """What goes there and back moves nothing; what goes on in all is told."""
    tanks = (supply(), volume("a", band(1, 1)), volume("b", band(1, 1)))
    there, back = (flow("there", "a", "b", one_way=True), flow("back", "b", "a", one_way=True))
    through = (flow("fill", "main", "a"), flow("vent", "b", ATMOSPHERE))
    run = Run(circuit(*tanks, there, back, *through), main=2, a=1, b=1)
    one, two = {"there": 1, "back": 1}, {"fill": 2, "there": 3, "back": 1, "vent": 2}
    circling, passing = texts(run.elapse(amounts=one))[0], texts(run.elapse(amounts=two))[0]
    assert "through there" not in circling
    assert "through there from a to b" in passing
    assert "through back" not in circling + passing


def test_a_quantity_that_moves_is_told_before_its_reading_changes() -> None:
    """By the sum of its speeds; where that may be 0 or either nothing is claimed."""
    pump, drain = At("pump", "on"), At("drain", "open")
    level = Quantity(
        "level", "mm", band(0, 0), (Change(band(1, 2), pump), Change(band(-2, -1), drain))
    )
    hands = (control("pump", "off", "on"), control("drain", "shut", "open"))
    of = circuit(supply(), level, *hands)
    filling = Run(of).switch(Moved("control", "pump", "off", "on")).elapse()
    assert texts(filling)[1] == "Time passes; no reading changes yet, though level rises."
    both = filling.switch(Moved("control", "drain", "shut", "open")).elapse()
    assert texts(both)[3] == "Time passes; nothing else changes."
    run = both.switch(Moved("control", "pump", "on", "off")).elapse()
    assert texts(run)[5] == "Time passes; no reading changes yet, though level falls."


def test_durations_are_summed() -> None:
    """Where durations are known, a stretch says how long it is."""
    run = Run(pusher(), main=3).elapse("1.5", main=4).elapse(2, main=3)
    assert texts(run) == ["Time passes, 3.5 s: main rises from 3 to 4 bar, then falls to 3 bar."]


def test_timers_run_expire_and_are_reset() -> None:
    """A timer begins to run as time passes, expires and is reset in no time."""
    run = Run(pusher(), main=3).switch(DOOR_OPEN).elapse(timers={"bell": "running"})
    run.switch(Moved("timer expires", "bell", "running", "expired"))
    run.switch(GATE_OFF).elapse().switch(Moved("control", "door", "open", "shut"))
    run.switch(Moved("timer reset", "bell", "expired", "idle"))
    assert texts(run) == [
        "door moves from shut to open; not locked, because pedal is not down.",
        "Time passes: bell begins to run.",
        "bell expires.",
        "gate sets off from down to up; it is due, because bell has expired.",
        "Time passes; nothing else changes.",
        "door moves from open to shut.",
        "bell is reset, because door is not open.",
    ]


def test_a_device_on_the_way_turns_round_and_arrives() -> None:
    """Setting off, turning round and arriving are told apart."""
    run = Run(pusher(), main=3).switch(PEDAL_DOWN).switch(GATE_OFF).elapse().switch(PEDAL_UP)
    run.switch(Moved("turns round", "gate", "up", "down")).elapse()
    run.switch(Moved("arrives", "gate", "up", "down"))
    assert texts(run)[4:] == [
        "gate, bound for up, turns round to down; it may, because pedal is up.",
        "Time passes; nothing else changes.",
        "gate arrives at down, having left up.",
    ]


def test_a_range_control_is_set() -> None:
    """Who works it sets it from one pressure to another; thirds are about what is shown."""
    run = Run(pusher(), main=3)
    run.switch(Moved("range", "wheel", Fraction(0), Fraction(7, 3))).elapse()
    run.switch(Moved("range", "wheel", Fraction(7, 3), Fraction(5)))
    assert texts(run)[::2] == [
        "fitter sets wheel from 0 to about 2.33 bar.",
        "fitter sets wheel from about 2.33 to 5 bar.",
    ]


def test_unequal_values_never_look_equal() -> None:
    """More decimals are shown where two would hide that a setting was passed."""
    run = Run(pusher(), main=Fraction(4800001, 1000000))
    run.elapse(main="4.8").elapse(main=Fraction(4799999, 1000000))
    assert texts(run) == ["Time passes: main falls from about 4.800001 to about 4.799999 bar."]


def test_a_forced_control_says_what_forces_it() -> None:
    """A control forced by an interlock is told with the interlock's condition."""
    forced = Interlock("trip", "Trip", "rope", "forced", "slack", is_("main", "<=", 2))
    run = Run(circuit(supply(), control("rope", "tight", "slack"), forced), main=1)
    run.switch(Moved("control", "rope", "tight", "slack"))
    assert texts(run) == [
        "rope moves from tight to slack; forced, because main is 1 bar (main <= 2 bar)."
    ]


def test_air_may_move_backwards() -> None:
    """A two-way flow is told from where the air comes."""
    of = circuit(supply(), volume("tank"), flow("link", "main", "tank"))
    run = Run(of, main=1, tank=5).elapse(tank=4, amounts={"link": -1})
    assert texts(run) == [
        "Time passes: tank falls from 5 to 4 bar; air moves through link from tank to main."
    ]


def test_a_difference_is_told_by_its_members() -> None:
    """A device on a weighted sum is told with every pressure in it."""
    lifted = compare(form_of({"pipe": Fraction(5, 2), "aux": Fraction(-1)}), "<", Fraction("-0.3"))
    of = circuit(volume("pipe"), volume("aux"), valve("brake", lifted, is_("aux", "<=", 0)))
    run = Run(of, pipe=1, aux=3).switch(Moved("device", "brake", "shut", "open"))
    asked = Property("any", "", Never(is_("aux", ">=", 100)))
    assert run.behaviour.replay(asked, run.start, run.steps).accepted
    [item] = story(of, Sequence(run.start, tuple(run.steps))).items
    assert item.text == (
        "brake moves from shut to open; it is due, because aux is 3 bar and pipe is 1 bar "
        "(aux > 2.5 times pipe + 0.3 bar)."
    )


def test_at_a_setting_without_tolerance() -> None:
    """Exactly at its setting a device may move, and the story says that it is the edge."""
    low: Compare = is_("main", "<=", 2)
    run = Run(circuit(supply(), valve("stop", is_("main", ">=", 7), low)), main=2)
    run.start = replace(run.start, positions={"stop": "open"})
    run.switch(Moved("device", "stop", "open", "shut"))
    assert texts(run) == [
        "stop moves from open to shut; it may, because main is 2 bar, at the edge of main <= 2 bar."
    ]


def test_only_one_of_several_reasons_is_told() -> None:
    """Of an `or` the member that is so is told, of an `and` every member."""
    run = Run(pusher(), main=3).switch(PEDAL_DOWN).switch(GATE_OFF)
    assert texts(run)[1] == "gate sets off from down to up; it is due, because pedal is down."


def test_quantities_keep_their_unit() -> None:
    """What is not air is told in its own unit."""
    lift = Quantity("level", "mm", band(0, 0), ())
    of = circuit(lift, control("pump", "off", "on"))
    [item] = story(of, Sequence(Run(of).start, tuple(Run(of).elapse(level=3).steps))).items
    assert item.text == "Time passes: level rises from 0 to 3 mm."


def test_a_large_circuit_starts_with_what_matters() -> None:
    """Of many volumes only those that change, or that the property names, are told."""
    many = [volume(f"spare{number}") for number in range(20)]
    fill = Flow("fill", "main", "tank", At("cock", "open"))
    asked = Property("low", "", Never(is_("tank", ">", 3)))
    of = circuit(supply(), control("cock", "open", "shut"), *many, volume("tank"), fill, asked)
    run = Run(of, main=5).elapse(tank=3).elapse(tank=4)
    assert (
        told(of, run.checked("low"), "low")
        == """\
   The run starts where cock is open; tank is 0 bar; the rest is as the circuit
   starts.
   1) Time passes: tank rises from 0 to 4 bar; air moves through fill from main
      to tank.
   Breached here, while time passes: tank > 3 bar.
   By then: tank 4 bar."""
    )


def test_devices_with_several_calls_name_the_one_that_is_so() -> None:
    """Two `moves to` clauses for one position: the clause that calls is told."""
    moves = (
        Move("open", At("key", "in")),
        Move("open", is_("main", ">=", 4)),
        Move("shut", is_("main", "<=", 1)),
    )
    of = circuit(
        supply(),
        control("key", "out", "in"),
        Device("gate", "valve", ("shut", "open"), moves, ("shut",)),
    )
    run = Run(of, main=5).switch(Moved("device", "gate", "shut", "open"))
    assert texts(run) == [
        "gate moves from shut to open; it is due, because main is 5 bar (main >= 4 bar)."
    ]
