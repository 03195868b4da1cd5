"""Spoilt change files: an answer or a circuit, never another exception.

With the environment variable AIRPROOF_INPUTS, more of them.
"""

from __future__ import annotations

import os
import re
from pathlib import Path
from random import Random

import pytest

from airproof.base.diagnostics import Rejected
from airproof.language import load
from airproof.language.changing.applying import Original, applied, changed, original
from airproof.language.changing.deriving import derived
from airproof.language.changing.reading import parse_change

MODELS = Path(__file__).resolve().parents[2] / "models"
INPUTS = int(os.environ.get("AIRPROOF_INPUTS", "100"))
PARTS = 4
SEEDS = [path.read_text("utf-8") for path in sorted((MODELS / "changes").glob("*.change"))]
EXTRA = """change "All sorts" to "press.circuit"
step 1: set air_switch: closes at 4.6 bar, moving takes 1 s .. 2 s
step 2: set left: worked by "nobody"
step 3: fix dirt at none
step 4: connect dump_a from clutch to between
step 5: set clutch from 0.8 litre +- 5 % to 0.9 litre +- 10 %
step 6: remove crank_leaves
step 7: replace crank_returns with
    interlock "x"
        crank is locked in top while a is open
step 8: set between: 3 bar
step 9: withdraw can_stroke because "x"
step 10: add part p
step 11: set feed_a: conductance 0.5 l/(s bar), ratio 0.4
step 12: remove "x"
"""
WORD = re.compile(r"\s+|[A-Za-z_.]+|\d+(?:\.\d+)?|.", re.DOTALL)


def spoilt(rng: Random) -> str:
    """A change with some of its words left out, doubled, exchanged or from another one."""
    words = WORD.findall(rng.choice([*SEEDS, EXTRA, EXTRA]))
    other = WORD.findall(rng.choice([*SEEDS, EXTRA]))
    for _ in range(rng.randint(1, 4)):
        at = rng.randrange(len(words))
        way = rng.randrange(5)
        if way == 0:
            del words[at]
        elif way == 1:
            words.insert(at, words[at])
        elif way == 2:
            words[at] = rng.choice(other)
        elif way == 3:
            words.insert(at, rng.choice(other))
        else:
            there = rng.randrange(len(words))
            words[at], words[there] = words[there], words[at]
        words = words or ["change"]
    return "".join(words)


@pytest.fixture(scope="module")
def circuits() -> dict[str, Original]:
    paths = sorted((MODELS / "worked").glob("*.circuit"))
    small = [path for path in paths if path.stem != "winder"]
    return {path.name: original(load(path), str(path.parent)) for path in small}


@pytest.mark.parametrize("part", range(PARTS))
def test_a_spoilt_change_is_answered(part: int, circuits: dict[str, Original]) -> None:
    """Each is refused with places, or leads to a circuit; then the steps back can be derived."""
    rng, refused, done = Random(4000 + part), 0, 0
    told: list[str] = []
    for _ in range(INPUTS // PARTS):
        text = spoilt(rng)
        try:
            change = parse_change(text, "x.change")
            circuit = circuits.get(change.circuit.text, circuits["press.circuit"])
            steps = applied(circuit, [change], {})
            changed(circuit, steps, {})
        except Rejected as rejected:
            told += [problem.message for problem in rejected.problems] or [""]
            refused += 1
            continue
        back = derived(steps[-1].text, circuit.path, circuit.text, "back.circuit")
        if back is not None:
            parse_change(back, "back.change")
        done += 1
    assert all(told)
    assert refused > INPUTS // PARTS // 4
    assert done > 0
