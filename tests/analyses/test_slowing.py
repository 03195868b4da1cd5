"""What must move at once, what may be slow, and what fails only in an instant.

Each circuit's answers were worked out by hand before they were run.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from random import Random

import pytest

from airproof.analyses.slowing import in_an_instant, with_slow
from airproof.certify.check import certified
from airproof.circuit.behaviour import Behaviour
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Possible
from airproof.circuit.slow import instantly, passing, quick_devices, slowed
from airproof.engines.budget import Budget
from airproof.engines.strategy import prove
from airproof.evidence.verdict import Retried, Verdict
from airproof.language import load_text
from cross.explicit import Machine
from cross.watching import lengths
from generators import finite

CIRCUITS = int(os.environ.get("AIRPROOF_CIRCUITS", "100"))

PRESS = """\
circuit press "A small press"

supply main: 0 bar .. 8 bar, starts 0 bar .. 8 bar
cylinder ram: starts 0 bar
control pedal: up, down; starts up; worked by pressman
control door: shut, open; starts shut; worked by outside
control lamp_key: off, on; starts off; worked by pressman
"""

# `never flowing while door open`: the relay is due to drop before time passes with the
# door open, and the flow needs it picked.  Slow, it is on the way while time passes, and
# the flow may read it as picked: the door opens, then the relay sets off (it reads the
# state before the step) while the pedal goes down, then time passes: a breach of 3.
# In an instant: the door has moved and the relay has not yet: pedal down and door open in
# one switch step, and the flow's condition is true: a breach of 1.
# The lamp is read by nothing: it may be slow.
DOOR = (
    PRESS
    + """
relay door_relay: picked while door is shut, dropped otherwise
relay lamp: lit while lamp_key is on, dark otherwise
flow feed: main -> ram while pedal is down and door_relay is picked, one way
property guarded "No air with the door open"
    never feed is flowing while door is open
"""
)

# `flowing only after pedal is down`: time passes with the flow on only while the relay is
# picked or on its way.  It sets off only in a state with the pedal down.  The pedal cannot
# go back in the same instant (it has moved already), so time passes with the pedal down
# before anything else: it holds with a slow relay too, though the proof must now say
# `picked or on its way`.
PEDAL = (
    PRESS
    + """
relay pedal_relay: picked while pedal is down, dropped otherwise
flow feed: main -> ram while pedal_relay is picked, one way
property asked_for "No air before the pedal"
    feed is flowing only after pedal is down
"""
)

# Two valves in one line.  Each alone cuts the air when the door opens, so either may be
# slow, as long as the other is quick: only one at a time is tried.
TWIN = (
    PRESS
    + """
valve first: open while door is shut, shut otherwise
valve second: open while door is shut, shut otherwise
flow feed: main -> ram while first is open and second is open, one way
property guarded "No air with the door open"
    never feed is flowing while door is open
"""
)

# The ram never passes 8 bar, whatever the valve does and whenever.
CEILING = (
    PRESS
    + """
valve inlet: open while pedal is down, shut otherwise
flow feed: main -> ram while inlet is open
property ceiling "The ram never passes what the main can give"
    always ram <= 8 bar
"""
)


def loaded(text: str) -> Circuit:
    return load_text(text).circuit


def proved(circuit: Circuit, name: str) -> Verdict:
    claim = certified(circuit, prove(circuit, name, Budget()), 60)
    assert claim.word == "holds"
    assert claim.certificate is not None
    return claim


def answers(text: str, name: str) -> dict[str | None, Retried]:
    circuit = loaded(text)
    claim = proved(circuit, name)
    slow = [with_slow(circuit, claim, one, Budget()) for one in quick_devices(circuit)]
    found = {one.device: one for one in slow}
    if passing(circuit.properties[name]):
        found[None] = in_an_instant(circuit, claim, Budget())
    return found


def words(text: str, name: str) -> dict[str | None, str]:
    return {device: one.word for device, one in answers(text, name).items()}


@pytest.mark.parametrize(
    ("text", "name", "expected"),
    [
        (DOOR, "guarded", {"door_relay": "breached", "lamp": "holds", None: "breached"}),
        (PEDAL, "asked_for", {"pedal_relay": "holds"}),
        (TWIN, "guarded", {"first": "holds", "second": "holds", None: "breached"}),
        (CEILING, "ceiling", {"inlet": "holds", None: "holds"}),
    ],
    ids=["door", "pedal", "twin", "ceiling"],
)
def test_who_may_be_slow(text: str, name: str, expected: dict[str | None, str]) -> None:
    """As worked out above each circuit."""
    assert words(text, name) == expected


def test_a_breach_is_the_shortest_run_of_the_changed_circuit() -> None:
    """Its length is as worked out, and the solver-free account follows it there."""
    circuit, found = loaded(DOOR), answers(DOOR, "guarded")
    slow, instant = found["door_relay"], found[None]
    for one, changed, length in (
        (slow, slowed(circuit, "door_relay"), 3),
        (instant, instantly(circuit, "guarded"), 1),
    ):
        assert one.sequence is not None
        assert one.sequence.length == length
        asked = changed.properties["guarded"]
        replay = Behaviour(changed).replay(asked, one.sequence.start, one.sequence.steps)
        assert replay.accepted
        assert replay.decided == len(one.sequence.steps) - 1


def test_a_slow_device_is_read_either_way_by_flows() -> None:
    """`closed on the way` says nothing of a device that was taken to move at once."""
    circuit = loaded(DOOR)
    relay = circuit.devices["door_relay"]
    closed = replace(relay, on_the_way="closed")
    changed = slowed(
        replace(circuit, devices={**circuit.devices, "door_relay": closed}), relay.name
    )
    assert changed.devices["door_relay"].on_the_way == "any"
    assert quick_devices(changed) == ("lamp",)


def test_what_the_limit_cuts_off_is_undecided() -> None:
    """No time and no solver units: no proof, no breach, a reason."""
    circuit = loaded(DOOR)
    claim = proved(circuit, "guarded")
    for budget in (Budget(seconds=0.0), Budget(resource=1)):
        one = with_slow(circuit, claim, "door_relay", budget)
        assert one.word == "undecided"
        assert one.reason in ("time limit", "solver limit")


def test_counting_agrees_about_slow_devices() -> None:
    """On random finite circuits each answer is that of plain counting on the changed circuit."""
    met = Counter[str]()
    for seed in range(CIRCUITS):
        rng = Random(seed)
        circuit = finite(rng, most=120, asked=3)
        for claim in _proved_ones(circuit):
            for device in quick_devices(circuit):
                one = with_slow(circuit, claim, device, Budget())
                met[_agreed(slowed(circuit, device), claim.property, one)] += 1
            if passing(circuit.properties[claim.property]):
                one = in_an_instant(circuit, claim, Budget())
                strict = instantly(circuit, claim.property)
                met["in an instant " + _agreed(strict, claim.property, one)] += 1
    print(met)
    assert met["holds"] >= CIRCUITS / 4
    assert met["breached"] >= CIRCUITS / 20
    assert met["in an instant holds"] + met["in an instant breached"] >= CIRCUITS / 20


def _proved_ones(circuit: Circuit) -> Iterator[Verdict]:
    """Each property that counting says no run breaches, with a proof of airproof's."""
    machine = Machine(circuit)
    for asked in circuit.properties.values():
        if not isinstance(asked.sentence, Possible) and lengths(machine, asked)[0] is None:
            claim = certified(circuit, prove(circuit, asked.name, Budget(steps=9)), 60)
            if claim.word == "holds":
                yield claim


def _agreed(changed: Circuit, name: str, one: Retried) -> str:
    length = lengths(Machine(changed), changed.properties[name])[0]
    if length is None:
        assert one.word == "holds", one
        return "holds"
    assert one.word == "breached" or one.reason == "needs sizes", one
    assert one.sequence is not None
    assert one.sequence.length == length
    return "breached"
