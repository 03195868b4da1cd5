"""What a sequence reaches is not told as never reached."""

from __future__ import annotations

from airproof.engines import strategy
from airproof.engines.budget import Budget
from airproof.evidence.health import Code, Finding, still_unreached
from airproof.language import load_text

SCENE = """
circuit shed "A feed that is open while nothing flows"
supply main: 0 bar .. 8 bar, starts 0 bar
cylinder ram: starts 0 bar
control lever: down, up; starts down
flow feed: main -> ram while lever is up, one way
flow back: ram -> atmosphere while lever is down
property down "The lever stays down"
    never lever is up
"""


def unreached(code: Code, name: str) -> Finding:
    return Finding("warning", code, (name,))


def test_a_flow_is_open_though_no_air_goes_through_it() -> None:
    """At 0 bar before and behind nothing flows, but open it is."""
    circuit = load_text(SCENE, "shed").circuit
    run = strategy.prove(circuit, "down", Budget()).sequence
    assert run is not None
    found = (
        unreached("flow not open", "feed"),
        unreached("position not reached", "lever is up"),
        unreached("position not reached", "lever is down"),
        unreached("flow not open", "back"),
    )
    left = still_unreached(circuit, found, [run])
    assert [finding.names for finding in left] == [("back",)]
    assert still_unreached(circuit, found, []) == found
