"""Random runs find what a wrong proof would hide, and nothing against a right one."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from fractions import Fraction
from functools import cache
from pathlib import Path
from random import Random

import pytest

from airproof.certify.confront import Confronted, confronted, outside, wander
from airproof.circuit.behaviour import Behaviour
from airproof.circuit.exploring import Explorer
from airproof.circuit.guiding import Guide
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Possible
from airproof.circuit.refusals import Refusal
from airproof.circuit.state import Monitor
from airproof.evidence.certificate import Invariant
from airproof.language import load, load_text
from airproof.transition.layout import CLOCK
from airproof.transition.literals import Bit, Edge, Literal
from certify.spoilt_proofs import spoilt
from judged_once import of_table
from table_reader import Row, rows

MODELS = Path(__file__).parents[2] / "models"
LINE = re.compile(r"^# expect: (\w+) (\S+)(?: (\d+))?$", re.MULTILINE)
EMPTY = Invariant(())  # nothing at all: any run is inside, and a breach is a breach
ROWS = rows()
FEW = 150  # runs for a tiny circuit
BROKEN_FOUND = 0.6  # of all; measured 0.70 to 0.80 with different seeds


@cache
def worked(name: str) -> Circuit:
    return load(MODELS / "worked" / f"{name}.circuit").circuit


def not_bit(key: str, so: bool = False) -> Invariant:
    return Invariant(((Literal(Bit(key), so),),))


def faults(met: Confronted) -> dict[str, str]:
    return {one.property: one.fault for one in met.found}


# ---- planted invariants


@pytest.mark.parametrize(
    ("invariant", "what"),
    [
        (not_bit("position trip"), "the trip is never held"),
        (not_bit("position lockout"), "the lockout never opens"),
        (not_bit("way lockout"), "the lockout is never on its way"),
        (not_bit("aged follower"), "no time passes with the follower on its way"),
        (not_bit("fresh reset"), "the reset is never moved"),
        (not_bit("expired slack_delay"), "the slack delay never expires"),
        (not_bit("running notice"), "the horn is never sounded"),
        (not_bit("rested", so=True), "nothing ever moves"),
        (not_bit("monitor opened_here"), "no knob is ever struck"),
        (not_bit("position brow.handle release"), "no handle is ever put to release"),
    ],
    ids=lambda given: given if isinstance(given, str) else "",
)
def test_a_wrong_bit_is_found(invariant: Invariant, what: str) -> None:
    """Each is said of the winder and is not so."""
    assert faults(confronted(worked("winder"), {"stop_stays": invariant}, 300)) == {
        "stop_stays": "outside"
    }, what


@pytest.mark.parametrize(
    ("terms", "order", "constant"),
    [
        ({"feed": 1}, "<=", 5),  # a landmark lies elsewhere
        ({"receiver": 1}, "<=", 8),
        ({"receiver": 1}, ">=", 2),
        ({"feed": 1}, ">=", 0),  # right, for all is fed from the main
        ({"receiver": 30, "feed": 4}, "<=", 250),  # stored air
    ],
)
def test_a_wrong_bound_is_found(terms: Mapping[str, int], order: str, constant: int) -> None:
    """Some are at landmarks, some between them, one is of no landmark's form."""
    weights = tuple(sorted((name, Fraction(weight)) for name, weight in terms.items()))
    edge = Edge(weights, ">=" if order == ">=" else "<=", Fraction(constant))
    invariant = Invariant(((Literal(edge),),))
    met = confronted(worked("winder"), {"stop_stays": invariant}, 400)
    right = (terms, constant) == ({"feed": 1}, 0)
    assert faults(met) == ({} if right else {"stop_stays": "outside"})


def test_a_wrong_clause_is_found_by_all_its_literals() -> None:
    """One literal that is always so hides it; the same clause without that one does not."""
    trip, lockout = Literal(Bit("position trip"), False), Literal(Bit("position lockout"), False)
    up = Literal(Edge((("feed", Fraction(1)),), ">=", Fraction(0)))
    claims = {"stop_stays": Invariant(((trip, lockout),)), "reserve": Invariant(((trip, up),))}
    assert faults(confronted(worked("winder"), claims, 400)) == {"stop_stays": "outside"}


def test_a_wrong_clock_is_found() -> None:
    """The clock of a property with a time in it is a value like any other."""
    edge = Edge(((CLOCK, Fraction(1)),), "<=", Fraction(0))
    invariant = Invariant(((Literal(edge),),))
    met = confronted(worked("winder"), {"service_in_time": invariant}, 50)
    assert faults(met) == {"service_in_time": "outside"}


def test_an_unknown_key_is_no_bit() -> None:
    """Nothing is confronted with what the circuit does not have."""
    for key in ("position no_such_thing", "monitor no_such_flag"):
        with pytest.raises(KeyError):
            confronted(worked("winder"), {"reserve": not_bit(key)}, 1)


# ---- planted verdicts


def breached_in(row: Row) -> list[str]:
    """The properties that a run at any speed breaches, or reaches."""
    words = ("breached", "possible", "needs-sizes")
    return [expected.name for expected in row.expectations if expected.verdict in words]


@pytest.mark.parametrize("row", [r for r in ROWS if breached_in(r)], ids=lambda r: r.name)
def test_a_breach_in_the_table_is_found(row: Row) -> None:
    """Whoever claims that a breached row holds is contradicted by a run."""
    circuit = load_text(row.text, row.path.name).circuit
    for name in breached_in(row):
        met = confronted(circuit, {name: EMPTY}, 2 * FEW)
        assert faults(met) == {name: "breached"}


@pytest.mark.parametrize("row", ROWS, ids=lambda r: r.name)
def test_what_holds_in_the_table_is_not_breached(row: Row) -> None:
    """Nor is what is impossible reached."""
    circuit = load_text(row.text, row.path.name).circuit
    for expected in row.expectations:
        if expected.verdict in ("holds", "impossible"):
            assert faults(confronted(circuit, {expected.name: EMPTY}, FEW // 2)) == {}


@cache
def broken() -> tuple[tuple[Path, Circuit, tuple[str, ...]], ...]:
    """The circuits with a planted defect, and what a run could show to be breached in each."""
    found = []
    for path in sorted(MODELS.glob("broken/*.circuit")):
        circuit, text = load(path).circuit, path.read_text(encoding="utf-8")
        names = tuple(
            name
            for name, word, _ in LINE.findall(text)
            if word == "breached" and not isinstance(circuit.properties[name].sentence, Possible)
        )
        if names:
            found.append((path, circuit, names))
    return tuple(found)


@pytest.mark.slow
def test_most_planted_defects_are_found_by_runs_alone() -> None:
    """What the confronting is worth where a proof is wrong altogether."""
    missed = [
        f"{path.stem} {name}"
        for path, circuit, names in broken()[::2]
        for name in names
        if faults(confronted(circuit, {name: EMPTY})) != {name: "breached"}
    ]
    total = sum(len(names) for _, _, names in broken()[::2])
    print(f"{total - len(missed)} of {total} found; missed: {', '.join(missed)}")
    assert total - len(missed) >= BROKEN_FOUND * total > 0


# ---- right proofs


@cache
def proved(row: Row) -> tuple[Circuit, Mapping[str, Invariant]]:
    circuit = load_text(row.text, row.path.name).circuit
    verdicts = [of_table(circuit, name) for name in circuit.properties]
    return circuit, {v.property: v.certificate for v in verdicts if v.certificate is not None}


@pytest.mark.parametrize("row", ROWS[::12], ids=lambda r: r.name)
def test_a_right_proof_meets_nothing(row: Row) -> None:
    """Its invariant is left by no run, and neither judge parts from the other."""
    circuit, claims = proved(row)
    for name, invariant in claims.items():
        assert faults(confronted(circuit, {name: invariant}, FEW)) == {}


@pytest.mark.parametrize("number", ["022", "046", "066", "092", "098"])
def test_masks_say_what_the_clauses_say(number: str) -> None:
    """Of right and spoilt invariants the same ones are left, judged quickly and plainly."""
    circuit, claims = proved(next(row for row in ROWS if row.name.startswith(number)))
    rng, seen = Random(20261125), Counter[bool]()
    for name, genuine in claims.items():
        runs = list(wander(circuit, circuit.properties[name].start, 30, 3))
        for other in spoilt(genuine, (), rng, 10):
            met = confronted(circuit, {name: other.invariant}, 30, 3)
            plainly = bool(list(outside(circuit, {name: other.invariant}, iter(runs))))
            assert ("outside" in faults(met).values()) == plainly, other
            assert set(faults(met).values()) <= {"outside"}
            seen[plainly] += 1
    assert seen[True]


# ---- the runs themselves


def test_the_runs_do_not_depend_on_the_claims() -> None:
    """A find is the same whatever else is claimed, and in whatever order."""
    wrong, other = not_bit("position trip"), not_bit("position lockout")
    alone = confronted(worked("winder"), {"stop_stays": wrong}, 200).found
    both = confronted(worked("winder"), {"reserve": other, "stop_stays": wrong}, 200).found
    turned = confronted(worked("winder"), {"stop_stays": wrong, "reserve": other}, 200).found
    assert alone[0] in both
    assert set(map(repr, both)) == set(map(repr, turned))
    assert len(both) == 2


def test_a_seed_is_its_runs() -> None:
    """The same once more; others with another seed."""
    runs = [list(wander(worked("press"), None, 20, seed)) for seed in (1, 1, 2)]
    assert runs[0] == runs[1]
    assert runs[0] != runs[2]


def test_a_find_is_a_run_of_the_circuit() -> None:
    """Each step is one of Behaviour's, and the last state is where the invariant fails."""
    circuit = worked("winder")
    (found,) = confronted(circuit, {"stop_stays": not_bit("position trip")}, 200).found
    replay = Behaviour(circuit).replay(
        circuit.properties["stop_stays"], found.run.start, found.run.steps
    )
    assert replay.accepted
    assert found.run.steps[-1].after.positions["trip"] == "held"
    assert all(step.after.positions["trip"] == "fallen" for step in found.run.steps[:-1])


def test_when_the_time_is_up_it_says_how_far_it_came() -> None:
    """No run is counted that was not met."""
    met = confronted(worked("press"), {"both_hands": EMPTY}, 500, seconds=0)
    assert 0 < met.runs < 500
    assert met.runs <= met.steps
    assert confronted(worked("press"), {"both_hands": EMPTY}, 40, seconds=600).runs == 40


def test_claims_of_different_starts_do_not_meet() -> None:
    """Their runs are different ones."""
    with pytest.raises(ValueError, match="starts"):
        confronted(worked("winder"), {"reserve": EMPTY, "no_false_dump": EMPTY})
    assert confronted(worked("winder"), {}) == Confronted(0, 0, ())


def test_wrongly_drawn_runs_are_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where Behaviour does not allow a step no claim has met anything."""
    refused = (Refusal("nothing moves"),)
    monkeypatch.setattr(Behaviour, "step_refusals", lambda *_: refused)
    met = confronted(worked("press"), {"both_hands": EMPTY, "late_hand": EMPTY}, 5)
    assert faults(met) == {"both_hands": "refused", "late_hand": "refused"}


def test_wrongly_judged_runs_are_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where Behaviour remembers something else the two accounts have parted."""
    forgetful = Monitor(frozenset({"granted"}), Fraction(7))
    monkeypatch.setattr(Behaviour, "next_monitor", lambda *_: forgetful)
    met = confronted(worked("press"), {"both_hands": EMPTY}, 5)
    assert faults(met) == {"both_hands": "parted"}


def test_runs_of_the_winder_go_deep() -> None:
    """The brake is fed in some, which takes some twenty moves in the right order."""
    explorer = Explorer(worked("winder"), None, 20261124)
    runs = list(Guide(explorer).runs(500))
    carried = Counter(flow for run in runs for flow in {f for n in run.nodes for f in n.amounts})
    assert carried["brake_feed"] >= 5
    assert len(carried) >= len(explorer.circuit.flows) - 1  # no pressure is ever below 0
    assert max(node.depth for run in runs for node in run.nodes) >= 60
