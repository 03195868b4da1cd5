"""Comparisons of the kiln-car pusher with a changed one, for the tests of their page."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from airproof.circuit.kinds import Circuit, Flow
from airproof.evidence.difference import Shift
from airproof.evidence.health import Finding
from airproof.evidence.verdict import Verdict
from airproof.language.changing.reading import parse_change
from airproof.report.comparison import Comparison, Stage
from airproof.report.pack import ComparisonPack
from airproof.report.results import Results
from report.packs import BREACH, OPEN, POSSIBLE, PROVED
from report.pusher import pusher

CHANGE = """change "A wider choke" to "pusher.circuit"
step 1: set push: choke 2 mm
step 2: withdraw bell_drops because "nobody rings it"
"""
TEXT = """--- before
+++ after
@@ -1,2 +1,2 @@
 flow drop: ram -> atmosphere
-flow push: main -> ram, choke 1 mm
+flow push: main -> ram, choke 2 mm <&>
"""


def pushers(text: str = "Kiln-car pusher") -> tuple[Circuit, Circuit]:
    """Before and after: one flow is another, one gone, one new, and one property is gone."""
    old = pusher(text)
    flows = dict(old.flows)
    name, *others = flows
    flows[name] = replace(flows[name], one_way=not flows[name].one_way)
    gone = {n: f for n, f in flows.items() if n != others[0]}
    more = Flow("extra", "main", "ram", old.flows[name].condition, one_way=True)
    kept = {n: p for n, p in old.properties.items() if n != "bell_drops"}
    return old, replace(old, flows={**gone, "extra": more}, properties=kept)


def comparison(text: str = "Kiln-car pusher", **more: Any) -> Comparison:
    """One property newly breached, one withdrawn, two as before."""
    old, new = pushers(text)
    held = Verdict("no_weak_push", "holds", "any speed")
    before = Results(old, "ab" * 32, (held, POSSIBLE, PROVED, OPEN), ())
    found = (Finding("warning", "position not reached", ("gate is up",)),)
    after = Results(new, "cd" * 32, (BREACH, POSSIBLE, PROVED), found)
    change = parse_change(CHANGE, "wider.change")
    plain = Comparison(
        before,
        after,
        (change,),
        None,
        TEXT,
        {"gate_first": "old proof", "no_weak_push": "anew"},
        frozenset({"gate_first"}),
        {"can_push": (Shift("signal", "strong"),)},
        stages=(Stage(("wider.change",), change.steps[0], after),),
    )
    return replace(plain, **more)


def comparison_pack(of: Comparison | None = None) -> ComparisonPack:
    return ComparisonPack(of or comparison(), ("pusher.circuit", "wider.change"), "2026-11-28")
