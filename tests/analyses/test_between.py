"""What a half-fitted circuit is asked."""

from __future__ import annotations

from airproof.analyses.between import Between, between
from airproof.circuit.kinds import Circuit
from airproof.language import load_text

SCENE = """
circuit gate "A gate"
supply main: 0 bar .. 8 bar
cylinder ram: starts 0 bar
control gate: shut, open; starts shut
flow push: main -> ram while gate is shut, one way
property no_push "No push with the gate open"
    never push is flowing while gate is open
property fills "It can be filled"
    possible ram >= 4 bar
"""
NO_PUSH = SCENE[SCENE.index("property no_push") : SCENE.index("property fills")]


def circuit(*changes: tuple[str, str]) -> Circuit:
    text = SCENE
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return load_text(text, "gate").circuit


def asked(stage: Circuit, old: Circuit, new: Circuit) -> tuple[list[str], Between]:
    found = between(stage, old, new)
    return list(found.circuit.properties), found


def test_what_is_withdrawn_and_added_again_is_asked_between() -> None:
    """Under its old name, in the old words."""
    old, stage = circuit(), circuit((NO_PUSH, ""))
    names, found = asked(stage, old, circuit())
    assert names == ["fills", "no_push"]
    assert found.circuit.properties["no_push"] == old.properties["no_push"]
    assert (found.unasked, found.lost) == ((), ())


def test_it_comes_back_under_another_name() -> None:
    old, stage = circuit(), circuit((NO_PUSH, ""))
    names, _ = asked(stage, old, circuit(("property no_push", "property shut_gate")))
    assert names == ["fills", "no_push"]


def test_what_is_withdrawn_for_good_is_said() -> None:
    old, stage = circuit(), circuit((NO_PUSH, ""))
    names, found = asked(stage, old, stage)
    assert names == ["fills"]
    assert (found.unasked, found.lost) == (("no_push",), ())


def test_what_the_stage_has_not_cannot_be_asked() -> None:
    """Between taking the old gate out and putting a new one in nobody can ask about it."""
    gone = circuit(
        ("control gate: shut, open; starts shut\n", ""), (" while gate is shut", ""), (NO_PUSH, "")
    )
    names, found = asked(gone, circuit(), circuit())
    assert names == ["fills"]
    assert (found.unasked, found.lost) == ((), ("no_push",))


def test_a_stage_with_the_new_name_already_is_asked_by_that() -> None:
    """A thing called otherwise by then is asked about in its new name."""
    names = ("gate is", "barrier is"), ("control gate", "control barrier")
    old, new = circuit(), circuit(*names)
    names_there, found = asked(circuit(*names[:0], (NO_PUSH, "")), old, new)
    assert names_there == ["fills", "no_push"]
    later = circuit((NO_PUSH, ""), *names)
    _, found = asked(later, old, new)
    assert found.circuit.properties["no_push"].sentence == new.properties["no_push"].sentence


WEAK = ("while gate is open\nproperty fills", "while gate is open and ram < 1 bar\nproperty fills")
OTHER = ("while gate is open\nproperty fills", "while gate is open and ram < 2 bar\nproperty fills")


def test_a_question_that_is_weakened_for_a_while_is_asked_as_at_both_ends() -> None:
    """Under the name that the stage has for it."""
    found = between(circuit(WEAK), circuit(), circuit())
    assert found.kept == ("no_push",)
    assert found.other == ()
    assert found.circuit.properties["no_push"] == circuit().properties["no_push"]


def test_a_question_that_is_changed_for_good_is_asked_as_it_is_there() -> None:
    """As before or as after; a third way is told."""
    for stage in (circuit(), circuit(WEAK)):
        found = between(stage, circuit(), circuit(WEAK))
        assert (found.kept, found.other, found.circuit) == ((), (), stage)
    found = between(circuit(OTHER), circuit(), circuit(WEAK))
    assert (found.kept, found.other) == ((), ("no_push",))


def test_a_standing_state_that_is_bent_for_a_while_is_put_back() -> None:
    """The question of both ends is about runs from the state of both ends."""
    state = ("property fills", "state charged: main = 6 bar, ram = 6 bar\nproperty fills")
    begun = ("    possible ram >= 4 bar", "    from charged\n    possible ram >= 4 bar")
    old = circuit(state, begun)
    found = between(circuit((state[0], state[1].replace("6 bar", "5 bar")), begun), old, old)
    assert found.kept == ("fills",)
    assert found.circuit.standings == old.standings
