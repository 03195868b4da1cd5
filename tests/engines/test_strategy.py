"""What is reported of a find, of a time limit and of a property with a time in it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from airproof.circuit.kinds import Circuit
from airproof.circuit.state import Step
from airproof.engines import search
from airproof.engines.budget import Budget
from airproof.engines.strategy import prove
from airproof.engines.unrolling import Effort
from airproof.evidence.sequence import Sequence
from airproof.language import load_text

SCENE = """
circuit hatch "A hatch that stays open once its pedal was down"
control pedal: up, down; starts up
latch pilot: shut, open; starts shut; latched
    moves to open when pedal is down
property shut "The hatch pilot never opens"
    never pilot is open
property brief "It is open for a moment only"
    pilot is open lasts at most 2 s
"""


@pytest.fixture(name="hatch")
def _hatch() -> Circuit:
    return load_text(SCENE, "hatch").circuit


@pytest.fixture(name="found")
def _found(hatch: Circuit) -> Sequence:
    """The pedal goes down, the pilot opens, time passes."""
    sequence = search.run(hatch, hatch.properties["shut"], Budget(steps=4)).sequence
    assert sequence is not None
    assert [step.kind for step in sequence.steps] == ["switch", "switch", "elapse"]
    return sequence


def told(
    hatch: Circuit, monkeypatch: pytest.MonkeyPatch, sequence: Sequence
) -> tuple[str, str | None]:
    """The verdict's word and reason when the search comes back with this sequence."""
    outcome = search.Outcome(sequence, len(sequence.steps), "", Effort())
    monkeypatch.setattr(search.Search, "deepen", lambda self, steps, **limits: outcome)
    verdict = prove(hatch, "shut", Budget(steps=4))
    return verdict.word, verdict.reason


def test_a_find_that_can_be_followed_is_told(
    hatch: Circuit, found: Sequence, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second account follows it step by step to the breach."""
    assert told(hatch, monkeypatch, found) == ("breached", None)


def _restless(sequence: Sequence) -> Sequence:
    return replace(sequence, start=replace(sequence.start, fresh=frozenset({"pedal"})))


def _uncalled(sequence: Sequence) -> Sequence:
    """The pilot opens without the pedal: one step that is none, and all others are."""
    opened = replace(sequence.start, positions={"pedal": "up", "pilot": "open"}, rested=False)
    passed = Step("elapse", replace(opened, rested=True), duration=None)
    return Sequence(sequence.start, (Step("switch", opened), passed))


def _harmless(sequence: Sequence) -> Sequence:
    return Sequence(sequence.start, sequence.steps[:-1])


def _overlong(sequence: Sequence) -> Sequence:
    return Sequence(sequence.start, (*sequence.steps, sequence.steps[-1]))


@pytest.mark.parametrize("spoil", [_restless, _uncalled, _harmless, _overlong])
def test_a_find_that_cannot_be_followed_is_a_defect(
    hatch: Circuit,
    found: Sequence,
    monkeypatch: pytest.MonkeyPatch,
    spoil: Callable[[Sequence], Sequence],
) -> None:
    """A start or a step that is none, no breach at all, or one before the end: told as a defect."""
    assert told(hatch, monkeypatch, spoil(found)) == ("undecided", "defect")


def test_a_breach_of_a_time_needs_sizes(hatch: Circuit) -> None:
    """At any speed time has no measure, so a find says nothing about the sizes that are stated."""
    verdict = prove(hatch, "brief", Budget(steps=4))
    assert (verdict.word, verdict.reason) == ("undecided", "needs sizes")
    assert verdict.sequence is not None


@pytest.mark.parametrize("name", ["shut", "brief"])
def test_no_answer_is_not_taken_for_one(hatch: Circuit, name: str) -> None:
    """With one solver unit to spend nothing is decided."""
    verdict = prove(hatch, name, Budget(steps=4, resource=1))
    assert (verdict.word, verdict.reason) == ("undecided", "solver limit")


NOWHERE = """
circuit nowhere "Two supplies, each taken to be above the other"
supply main: 0 bar .. 8 bar
supply spare: 0 bar .. 8 bar
control lever: down, up; starts down
assumption main_first "The main is kept above the spare"
    always main - spare >= 1 bar
assumption spare_first "The spare is kept above the main"
    always spare - main >= 1 bar
property low "The lever stays down while the main is over 1 bar"
    never lever is up while main > 1 bar
"""


def test_nothing_holds_where_no_run_begins() -> None:
    """Everything would."""
    verdict = prove(load_text(NOWHERE, "nowhere").circuit, "low", Budget(steps=4))
    assert (verdict.word, verdict.reason, verdict.detail) == ("undecided", "unhealthy", "no start")
