"""Health's findings: runs that lead to trouble, what cannot be reached, what was cut off."""

from __future__ import annotations

from random import Random

import pytest

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.kinds import Circuit
from airproof.circuit.landmarks import landmarks
from airproof.engines import health, pursuit
from airproof.engines.budget import Budget
from airproof.engines.pursuit import Outcome, Pursuit
from airproof.engines.triggering import groups
from airproof.evidence.health import Finding
from airproof.language import load_text
from airproof.report.findings import found
from cross.explicit import Machine
from generators import finite
from table_reader import Row, rows

ROWS = rows()
SICK = [row for row in ROWS if {"chatter", "stopped-time"} & set(row.health)]
CIRCUITS = 60

TWO_LAMPS = """
circuit lamps "Two lamps"
control lever: off, on; starts off
relay second: picked while first is picked, dropped otherwise; starts dropped
relay first: picked while lever is on, dropped otherwise; starts dropped
relay left: picked while right is dropped and first is picked, dropped otherwise; starts dropped
relay right: picked while left is dropped and second is picked, dropped otherwise; starts dropped
"""
STARVED = """
circuit starved "Two supplies of which each is granted to be above the other"
supply main: 0 bar .. 8 bar, starts 0 bar .. 2 bar
supply lower: 0 bar .. 8 bar, starts 0 bar .. 2 bar
control lever: off, on; starts off
assumption apart "The lower supply is kept lower"
    always main - lower >= 1 bar
assumption near "It is kept near enough"
    always lower - main >= {least} bar
property never_on "The lever is never on"
    never lever is on
"""
BUZZERS = """
circuit buzzers "A relay that reads a buzzing one"
control lever: off, on; starts off
relay buzz: picked while buzz is dropped and lever is on, dropped otherwise; starts dropped
relay hum: picked while hum is dropped and buzz is picked, dropped otherwise; starts dropped
"""
THROUGH_A_FLOW = """
circuit bleed "A valve that a flow shuts"
supply main: 5 bar
pipe line: starts 0 bar
relay seen: picked while feed is flowing, dropped otherwise; starts dropped
valve inlet: shut, open; starts shut
    moves to open when seen is dropped
    moves to shut when seen is picked
flow feed: main -> line while inlet is open, one way
"""
LATCHED = """
circuit latched "A valve that nothing opens"
control lever: up, down; starts up
control cover: shut, open; starts shut; sealed shut
reservoir tank: 5 litre, starts 6 bar
valve inlet: shut, open; starts shut; latched
    moves to open when cover is open
valve outlet: shut, open; starts shut; latched
    moves to open when lever is down
flow fill: tank -> atmosphere while inlet is open
flow drain: tank -> atmosphere while outlet is open
"""


def loaded(text: str) -> Circuit:
    return load_text(text, "given").circuit


@pytest.mark.parametrize("row", SICK, ids=lambda row: row.name)
def test_a_run_leads_to_each_error(row: Row) -> None:
    """The solver-free account follows it; only its last step may overlook what is due."""
    circuit = loaded(row.text)
    behaviour, marks = Behaviour(circuit), landmarks(circuit, None)
    runs = [
        finding.sequence
        for finding in health.examine(circuit, Budget())
        if finding.code in ("chatter", "stopped time")
    ]
    assert runs
    for run in runs:
        assert run is not None
        for number, (before, step) in enumerate(run.pairs(), start=1):
            wrong = {refusal.rule for refusal in behaviour.step_refusals(before, step, marks)}
            assert wrong <= ({"due"} if number == len(run.steps) else set()), (number, wrong)


def test_far_chatter_is_far() -> None:
    """Three steps for each of five notches, two for the last one."""
    row = next(row for row in ROWS if row.name.startswith("160"))
    [finding] = health.examine(loaded(row.text), Budget())
    assert finding.sequence is not None
    assert len(finding.sequence.steps) == 17


def test_nothing_sets_off_what_comes_before_it() -> None:
    """Groups follow the order of reading, whatever the order of the text."""
    told = [(group.things, set(group.before)) for group in groups(loaded(TWO_LAMPS))]
    assert told == [
        (("first",), set()),
        (("second",), {"first"}),
        (("left", "right"), {"first", "second"}),
    ]


def test_flows_set_off_what_reads_them() -> None:
    """The relay reads the flow, and so the valve that opens it, which reads the relay."""
    (group,) = groups(loaded(THROUGH_A_FLOW))
    assert set(group.things) == {"seen", "inlet"}


def test_what_was_cut_off_is_said() -> None:
    """Without any solver units nothing is called healthy."""
    row = next(row for row in ROWS if row.name.startswith("164"))
    findings = health.examine(loaded(row.text), Budget(resource=1))
    assert [(f.weight, f.code) for f in findings] == [("warning", "not examined")]


def test_what_nobody_knows_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """A chase without an outcome has not shown that no run comes to the trouble."""
    row = next(row for row in ROWS if row.name.startswith("161"))
    unknown = Outcome("unknown", None, "deepest")
    monkeypatch.setattr(Pursuit, "pursue", lambda *_: unknown)
    assert "not examined" in {f.code for f in health.examine(loaded(row.text), Budget())}


def test_frames_that_do_not_close_show_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the search may not look far enough to see the trouble, nothing is called sound."""
    row = next(row for row in ROWS if row.name.startswith("161"))
    monkeypatch.setattr(pursuit, "FARTHEST", 3)
    assert "not examined" in {f.code for f in health.examine(loaded(row.text), Budget())}


@pytest.mark.parametrize(("least", "codes"), [("-1", []), ("1", ["no start"])])
def test_a_circuit_that_cannot_start_is_an_error(least: str, codes: list[str]) -> None:
    """Where no run begins everything would hold; with 1 bar between the two one does."""
    findings = health.examine(loaded(STARVED.format(least=least)), Budget())
    assert [f.code for f in findings if f.weight == "error"] == codes


def test_only_the_first_to_find_no_rest_is_named() -> None:
    """While `buzz` is picked `hum` finds none either; but `buzz` never stays picked."""
    errors = [f for f in health.examine(loaded(BUZZERS), Budget()) if f.weight == "error"]
    assert [(f.code, f.names) for f in errors] == [("chatter", ("buzz",))]


def test_what_no_run_reaches_is_told_from_what_was_not_found() -> None:
    """A sealed cover keeps the inlet shut in every run; the outlet is found open."""
    findings = health.unreached(loaded(LATCHED), Budget())
    assert [(f.code, f.names, f.proved) for f in findings] == [
        ("position not reached", ("inlet is open",), True),
        ("flow not open", ("fill",), True),
    ]
    assert found(findings[0]) == "no run reaches: inlet is open"
    merely = Finding("warning", "position not reached", ("inlet is open",))
    assert found(merely) == "no run was found that reaches: inlet is open"


def test_what_is_proved_out_of_reach_is_never_counted() -> None:
    """On finite circuits, positions and standing states against every state of every run."""
    proved = 0
    for seed in range(CIRCUITS):
        circuit = finite(Random(seed), most=120)
        machine = Machine(circuit)
        nodes = machine.reachable()
        places = {
            f"{name} is {place}"
            for node in nodes
            for name, place, left in zip(machine.names, node.at, node.left, strict=True)
            if left is None
        }
        never = {f.names[0] for f in health.unreached(circuit, Budget()) if f.proved}
        assert not never & places, seed
        proved += len(never)
        if nodes and excluded(circuit):
            pins = circuit.standings["resting"].positions
            at = {machine.where[name]: place for name, place in pins.items()}
            assert not any(_stands(node.at, node.left, at) for node in nodes), seed
            proved += 1
    assert proved >= CIRCUITS / 4


def excluded(circuit: Circuit) -> bool:
    codes = {finding.code for finding in health.examine(circuit, Budget())}
    return "standing state excluded" in codes


def _stands(at: tuple[str, ...], left: tuple[str | None, ...], pinned: dict[int, str]) -> bool:
    return all(at[i] == place and left[i] is None for i, place in pinned.items())
