"""What a half-fitted circuit is asked."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

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
    """Beside what the stage asks by that name, which nobody asked before."""
    found = between(circuit(WEAK), circuit(), circuit())
    assert found.kept == ("no_push",)
    assert found.other == ()
    put = found.circuit.properties["no_push (as before)"]
    assert put.sentence == circuit().properties["no_push"].sentence
    assert found.circuit.properties["no_push"] == circuit(WEAK).properties["no_push"]
    assert found.known == {"no_push (as before)": "no_push", "fills": "fills"}


def test_a_question_that_is_changed_for_good_is_asked_as_it_is_there() -> None:
    """As before or as after; a third way is told."""
    for stage in (circuit(), circuit(WEAK)):
        found = between(stage, circuit(), circuit(WEAK))
        assert (found.kept, found.held, found.other, found.circuit) == ((), (), (), stage)
    found = between(circuit(OTHER), circuit(), circuit(WEAK))
    assert (found.kept, found.held, found.other) == ((), ("no_push",), ())
    put = found.circuit.properties["no_push (as before)"]
    assert put.sentence == circuit().properties["no_push"].sentence


def test_what_is_withdrawn_in_the_end_may_ask_anything_until_then() -> None:
    """It is asked as it stands, and that is told."""
    stage = circuit(WEAK)
    found = between(stage, circuit(), circuit((NO_PUSH, "")))
    assert (found.held, found.other, found.circuit) == ((), ("no_push",), stage)


STATE = ("property fills", "state charged: main = 6 bar, ram = 6 bar\nproperty fills")
BEGUN = ("    possible ram >= 4 bar", "    from charged\n    possible ram >= 4 bar")


def test_a_standing_state_that_is_bent_for_a_while_is_put_back() -> None:
    """The question of both ends is about runs from the state of both ends."""
    old = circuit(STATE, BEGUN)
    found = between(circuit((STATE[0], STATE[1].replace("6 bar", "5 bar")), BEGUN), old, old)
    assert found.kept == ("fills",)
    start = found.circuit.properties["fills (as before)"].start
    assert start is not None
    assert found.circuit.standings[start].values == old.standings["charged"].values


def test_a_state_that_is_put_back_leaves_the_state_of_the_stage_to_others() -> None:
    """A property that a step adds anew must not be judged from a state that is gone by then."""
    began = ("    never push", "    from charged\n    never push")
    bent = (STATE[0], STATE[1].replace("6 bar", "5 bar"))
    old, new = circuit(STATE, BEGUN, began), circuit(bent, BEGUN, began)
    found = between(circuit(bent, began, ("possible", "possible ram >= 9 bar or")), old, new)
    assert found.circuit.properties["no_push"].start == "charged"
    assert found.circuit.standings["charged"] == new.standings["charged"]
    fills = found.circuit.properties["fills (as before)"].start
    assert fills is not None
    assert found.circuit.standings[fills].values == old.standings["charged"].values


RELAY = "relay safe: yes while gate is shut, no otherwise\nproperty no_push"
BY_RELAY = (("property no_push", RELAY), ("while gate is open", "while safe is no"))


def test_a_new_name_that_is_another_thing_meanwhile_is_not_asked_by() -> None:
    """`sound` is what `safe` was in the end, and something else until then."""
    old = circuit(*BY_RELAY)
    new = circuit(*BY_RELAY, ("relay safe", "relay sound"), ("while safe is", "while sound is"))
    meanwhile = (
        "property fills",
        "relay sound: yes while ram < 1 bar, no otherwise\nproperty fills",
    )
    found = between(circuit((NO_PUSH, ""), meanwhile), old, new)
    assert found.lost == ("no_push",)
    assert "no_push" not in found.circuit.properties


def test_a_thing_of_another_kind_is_not_asked_about() -> None:
    """A gate that is a pipe for a while has no positions, whatever it is called."""
    pipe = ("control gate: shut, open; starts shut", "pipe gate: starts 0 bar")
    stage = circuit((NO_PUSH, ""), pipe, (" while gate is shut", ""))
    assert between(stage, circuit(), circuit()).lost == ("no_push",)


def test_a_state_that_the_stage_cannot_be_in_is_not_asked_from() -> None:
    """A supply that is lower for a while, or kept lower, never has what the state pins."""
    old = circuit(STATE, BEGUN)
    fills = SCENE[SCENE.index("property fills") :]
    lower = ("supply main: 0 bar .. 8 bar", "supply main: 0 bar .. 5 bar")
    kept = ("property no_push", 'assumption low "Low"\n    always main <= 5 bar\nproperty no_push')
    for bent in (lower, kept):
        assert between(circuit((fills, ""), bent), old, old).lost == ("fills",)


def test_what_a_question_names_and_is_bent_for_a_while_is_told() -> None:
    """Neither as before nor as after; nothing is told of what is as at one of the ends."""
    shut = circuit(("while gate is shut", "while gate is shut and main > 1 bar"))
    free = circuit((" while gate is shut", ""))
    assert between(free, circuit(), circuit()).bent == (("no_push", "push"),)
    assert between(free, circuit(), shut).bent == (("no_push", "push"),)
    assert between(shut, circuit(), shut).bent == ()


GATES = """
circuit gates "Two ways to be safe"
supply main: 0 bar .. 8 bar
cylinder ram: starts 0 bar
control gate: shut, open; starts shut
control cock: in, out; starts in
flow push: main -> ram while gate is shut and cock is in, one way
"""
BY_GATE, BY_COCK = (
    "never push is flowing while gate is open",
    "never push is flowing while cock is out",
)


def gates(**asked: str) -> Circuit:
    said = (f'property {name} "P"\n    {sentence}\n' for name, sentence in asked.items())
    return load_text(GATES + "".join(said), "gates").circuit


def questions(found: Between) -> set[object]:
    return {one.sentence for one in found.circuit.properties.values()}


def test_a_question_is_known_by_what_it_asks_not_by_its_name() -> None:
    """Whatever takes its name meanwhile, and by whatever names the new circuit asks it."""
    old, wanted = (
        gates(a=BY_GATE, b=BY_COCK),
        questions(between(*[gates(a=BY_GATE, b=BY_COCK)] * 3)),
    )
    ends = (
        gates(a=BY_GATE, b="never ram > 9 bar", c=BY_COCK),
        gates(rule_1=BY_GATE, rule_2=BY_COCK),
        gates(x=BY_GATE, c=BY_COCK, d=BY_COCK),
        gates(a=BY_COCK, b=BY_GATE),
    )
    stages = (
        gates(a=BY_GATE, b="never ram > 9 bar"),
        gates(rule_1=BY_COCK),
        gates(a=BY_GATE),
        gates(b="never ram > 9 bar", a="never ram > 7 bar"),
        gates(),
    )
    for new in ends:
        for stage in stages:
            found = between(stage, old, new)
            assert (found.lost, found.unasked) == ((), ())
            assert questions(found) >= wanted | questions(between(stage, stage, stage))


def test_what_is_replaced_is_asked_about_as_long_as_it_is_there() -> None:
    """A door takes the gate's place; the stage has both, and asks about the door already."""
    door = ("control gate", "control door: shut, open; starts shut\ncontrol gate")
    by_door = ("while gate is open", "while door is open")
    new = circuit(("gate: shut", "door: shut"), ("gate is", "door is"))
    found = between(circuit(door, by_door), circuit(), new)
    assert {*found.circuit.properties} == {"no_push", "fills", "no_push (as before)"}
    assert found.kept == ()
    found = between(circuit(door), circuit(), new)
    assert {*found.circuit.properties} == {"no_push", "fills", "no_push (as after)"}
    assert (found.kept, found.held, found.other) == ((), (), ())


SENTENCES = (BY_GATE, BY_COCK, "never ram >= 5 bar", "never ram >= 5 bar while gate is open")
asked_by_name = st.dictionaries(st.sampled_from("abcd"), st.sampled_from(SENTENCES), max_size=4)


@settings(max_examples=60, deadline=5000, derandomize=True)
@given(asked_by_name, asked_by_name, asked_by_name)
def test_whatever_both_ends_ask_is_asked_of_any_stage(
    before: dict[str, str], here: dict[str, str], after: dict[str, str]
) -> None:
    """By whatever names; and nothing that the stage asks itself is dropped."""
    stage, old, new = (gates(**one) for one in (here, before, after))
    found = between(stage, old, new)
    asked = questions(found)
    assert asked >= {one.sentence for one in stage.properties.values()}
    both = {one.sentence for one in old.properties.values()}
    both &= {one.sentence for one in new.properties.values()}
    assert asked >= both
    assert found.lost == ()
