"""Verdicts carried to a changed circuit, held against counting the changed one's states.

With the environment variable AIRPROOF_CIRCUITS, on more circuits.
"""

from __future__ import annotations

import os
from collections import Counter
from random import Random

from airproof.analyses.carrying import carried
from airproof.analyses.likeness import same_part
from airproof.certify.check import certified
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Possible
from airproof.engines.budget import Budget
from airproof.engines.health import examine
from airproof.engines.strategy import prove
from airproof.evidence.verdict import Verdict
from cross.changing import pairs
from cross.explicit import Machine
from cross.watching import lengths
from generators import finite

CIRCUITS = int(os.environ.get("AIRPROOF_CIRCUITS", "50"))


def _made(rng: Random) -> Circuit:
    return finite(rng, most=rng.choice((40, 120)), asked=2)


def _decided(circuit: Circuit, verdict: Verdict) -> bool:
    """Whether the verdict says that some run breaches it, or reaches what was asked."""
    possible = isinstance(circuit.properties[verdict.property].sentence, Possible)
    if verdict.word == "undecided":
        assert verdict.reason == "needs sizes"
        return True
    return (verdict.word == "holds") == possible


def compare(circuits: int) -> Counter[str]:
    """How often each way led to a verdict; every verdict is what counting says."""
    tally: Counter[str] = Counter()
    for old, new in pairs(7000, circuits, _made):
        machine, budget = Machine(new), Budget(seconds=30.0, steps=8)
        for name in new.properties:
            claim = certified(old, prove(old, name, budget), 10.0)
            found = carried(new, old, claim, budget)
            length, _ = lengths(machine, new.properties[name])
            alike = same_part(new, old, new.properties[name])
            if alike and _shown(claim) and not _ill(old) and not _ill(new):
                before, _ = lengths(Machine(old), old.properties[name])
                assert (before is None) == (length is None), name
            tally["same part" if alike else "another part"] += 1
            tally[found.way if found else "nothing stood"] += 1
            if found is not None:
                assert _decided(new, found.verdict) == (length is not None), (name, found.way)
                tally["decided" if length is not None else "never decided"] += 1
                back = carried(old, new, found.verdict, budget)
                if back is not None:
                    assert back.verdict.word == claim.word, name
                    tally["and back"] += 1
    return tally


def _ill(circuit: Circuit) -> bool:
    """Time may stop for something outside the part, and `compare` says nothing of parts then."""
    return any(one.weight == "error" for one in examine(circuit, Budget(seconds=10.0)))


def _shown(claim: Verdict) -> bool:
    return claim.certificate is not None or claim.sequence is not None


def test_what_is_carried_is_what_counting_finds() -> None:
    """No verdict is carried to a circuit of which it is not so, whatever was changed."""
    tally = compare(CIRCUITS)
    for way in ("old proof", "old sequence", "nothing stood", "same part"):
        assert tally[way] > 0, tally
    assert tally["decided"] > 10, tally
    assert tally["and back"] > 10, tally
    assert tally["never decided"] > 10, tally
