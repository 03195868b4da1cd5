"""Which property of another circuit asks the same."""

from __future__ import annotations

from airproof.analyses.calling import called
from airproof.circuit.kinds import Circuit
from airproof.language import load_text


def circuit(*properties: str, lever: str = "lever") -> Circuit:
    """With properties of a name and a position that the lever must never have."""
    asked = "".join(
        f'property {name} "P"\n    never {lever} is {place}\n'
        for name, place in (one.split() for one in properties)
    )
    return load_text(f"circuit c\ncontrol {lever}: off, on; starts off\n{asked}").circuit


def test_the_question_counts_and_then_the_name() -> None:
    """Of several that ask the same, one by the same name goes first."""
    plain = circuit("p on")
    assert called(plain, circuit("p on")) == {"p": "p"}
    assert called(plain, circuit("q on")) == {"p": "q"}
    assert called(plain, circuit("q on", "p off")) == {"p": "q"}
    assert called(plain, circuit("q on", "p on")) == {"p": "p"}
    assert called(plain, circuit("p off")) == {}
    assert called(circuit("q on", "p off"), circuit("p on", "q on")) == {"q": "q"}


def test_other_names_of_things_do_not_matter() -> None:
    """The question is asked in the other circuit's words."""
    assert called(circuit("p on"), circuit("q on", "p off", lever="handle")) == {"p": "q"}


def test_a_start_from_another_state_is_another_question() -> None:
    """The states are told apart by what they pin, not by their names."""

    def started(name: str, place: str) -> Circuit:
        text = (
            "circuit c\ncontrol lever: off, on; starts off\ncontrol gate: shut, open; starts shut\n"
            f"state {name}: lever is {place}\n"
            f'property p "P"\n    never gate is open\n    from {name}\n'
        )
        return load_text(text).circuit

    assert called(started("rest", "off"), started("rest", "off")) == {"p": "p"}
    assert called(started("rest", "off"), started("rest", "on")) == {}
    assert called(started("rest", "off"), started("calm", "off")) == {"p": "p"}
