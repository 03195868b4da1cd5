"""What two circuits let a watcher see, held against counting from the definition.

With the environment variable AIRPROOF_CIRCUITS, on more pairs of circuits; and
with AIRPROOF_SEARCHED, on more of them by the search for circuits with numbers.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from random import Random

from airproof.analyses.apart import apart
from airproof.analyses.onesided import only
from airproof.analyses.settling import settled
from airproof.analyses.showing import replayed
from airproof.certify.following import follows
from airproof.circuit.kinds import Circuit
from airproof.circuit.sight import Scene, Sight, sight_of
from airproof.engines.budget import Budget
from airproof.engines.parting import Parting
from airproof.evidence.difference import Showing
from airproof.transition.parting import comparable
from cross.changing import changed
from cross.explicit import Machine
from cross.telling import Letter, shortest, standing, tells, watched
from generators import finite

CIRCUITS = int(os.environ.get("AIRPROOF_CIRCUITS", "200"))
SEARCHED = int(os.environ.get("AIRPROOF_SEARCHED", "12"))


def pairs(first: int, count: int) -> Iterator[tuple[Circuit, Circuit]]:
    """A circuit, and the same with one to three things otherwise; some with marks."""
    for seed in range(first, first + count):
        rng = Random(seed)
        old = finite(rng, most=rng.choice((40, 120)), asked=0)
        if rng.randrange(3) == 0 and old.devices:
            marks = rng.sample(list(old.devices), rng.randint(1, len(old.devices)))
            old = replace(old, observed=tuple(marks))
        new = old
        for _ in range(rng.randint(1, 3)):
            new = changed(new, rng)
        if rng.randrange(6) == 0:
            new = _lessened(new, rng)
        yield (old, new) if rng.randrange(2) else (new, old)


def _lessened(circuit: Circuit, rng: Random) -> Circuit:
    """Without a device or timer that nothing else reads, if there is one."""
    loose = [*(set(circuit.devices) | set(circuit.timers)) - _read(circuit)]
    if not loose:
        return circuit
    gone = rng.choice(sorted(loose))
    return replace(
        circuit,
        devices={n: x for n, x in circuit.devices.items() if n != gone},
        timers={n: x for n, x in circuit.timers.items() if n != gone},
        observed=tuple(n for n in circuit.observed if n != gone),
    )


def _read(circuit: Circuit) -> set[str]:
    text = [repr(circuit.interlocks), repr(circuit.assumptions)]
    text += [repr(one.runs) for one in circuit.timers.values()]
    text += [repr(one.moves) for one in circuit.devices.values()]
    return {n for n in (*circuit.devices, *circuit.timers) if f"'{n}'" in " ".join(text)}


def _letters(sight: Sight, scenes: tuple[Scene, ...]) -> tuple[Letter, ...]:
    return tuple(
        tuple((name, place or "-") for name, place in zip(sight.places, scene.places, strict=True))
        for scene in scenes
    )


def _agrees(found: Showing, length: int | None) -> None:
    assert found.word == ("nothing" if length is None else "something")
    assert len(found.scenes) == (length or 0)


def test_counting_tells_what_the_definition_does() -> None:
    """The same answer and the same shortest length, both ways, on every pair."""
    tally: Counter[str] = Counter()
    for old, new in pairs(50_000, CIRCUITS):
        found = apart(old, new, Budget(seconds=60.0), combined=False)
        names = watched(old, new)
        assert not found.renamed
        assert set(found.sight.places) == set(names)
        for word, showing, one, other in (
            ("new", found.new, new, old),
            ("gone", found.gone, old, new),
        ):
            length = shortest(one, other, names)
            _agrees(showing, length)
            tally[f"{word} {length}"] += 1
            tally[f"{showing.means}"] += 1
            if showing.sequence is not None:
                assert showing.shortest
                assert replayed(one, found.sight, showing.scenes, showing.sequence)
                letters = _letters(found.sight, showing.scenes)
                assert tells(one, _order(found.sight), letters)
                assert not tells(other, _order(found.sight), letters)
    assert tally["counted"] > CIRCUITS / 2, tally
    for kind in ("new None", "gone None", "new 1", "gone 1", "new 2", "gone 2", "alike"):
        assert tally[kind] > 0, tally
    print(sorted(tally.items()))


def _order(sight: Sight) -> tuple[str, ...]:
    return tuple(sight.places)


def test_a_change_and_its_reverse_swap_new_and_gone() -> None:
    """What one way is new is gone the other way, with the same length."""
    for old, new in pairs(51_000, 40):
        there, back = (
            apart(*two, Budget(seconds=60.0), combined=False) for two in ((old, new), (new, old))
        )
        assert (there.new.word, len(there.new.scenes)) == (back.gone.word, len(back.gone.scenes))
        assert (there.gone.word, len(there.gone.scenes)) == (back.new.word, len(back.new.scenes))


def test_the_search_is_never_wrong_where_counting_knows() -> None:
    """What is meant for circuits with numbers, on circuits without: right, or undecided."""
    tally: Counter[str] = Counter()
    for old, new in pairs(52_000, SEARCHED):
        sight, names = sight_of(old, new), watched(old, new)
        for one, other in ((new, old), (old, new)):
            showing = only(one, other, sight, Budget(seconds=60.0))
            length = shortest(one, other, names)
            tally[f"{showing.word} {showing.reason or showing.means}"] += 1
            if showing.word == "undecided":
                continue
            assert (showing.word == "something") == (length is not None)
            if length is not None:
                assert len(showing.scenes) >= length
                assert showing.excluded < length
                tally["excluded"] += showing.excluded
                assert not showing.shortest or len(showing.scenes) == length
                letters = _letters(sight, showing.scenes)
                assert tells(one, _order(sight), letters)
                assert not tells(other, _order(sight), letters)
                tally["shortest" if len(letters) == length else "longer"] += 1
    assert tally["nothing followed"] > 0, tally
    assert tally["something searched"] > 0, tally
    print(sorted(tally.items()))


def test_what_is_proved_of_the_first_views_is_so() -> None:
    """Where one view or two are proved not to tell, counting finds no list so short."""
    tally: Counter[str] = Counter()
    for old, new in pairs(53_000, SEARCHED * 6):
        sight, names = sight_of(old, new), watched(old, new)
        if not comparable(new, old, sight):
            continue
        length = shortest(new, old, names)
        for views in (1, 2):
            proofs = Parting(new, old, sight, Budget(seconds=20.0), views)
            proof = proofs.facts() or proofs.frames(1_000_000)
            if proof is not None:
                assert follows(new, old, sight, proof, 20.0, views)
                assert length is None or length > views, (old, new)
                tally[f"{views} proved, {length is None}"] += 1
            elif length is None or length > views:
                tally["missed"] += 1
    assert tally["1 proved, False"] > 0, tally
    assert tally["2 proved, True"] > 0, tally
    print(sorted(tally.items()))


def test_standing_combinations_are_those_that_counting_finds() -> None:
    """Positions together in which time passes: what is new, what is gone, nothing else."""
    tally: Counter[str] = Counter()
    for old, new in pairs(54_000, SEARCHED * 2):
        sight = sight_of(old, new)
        found = settled(old, new, sight, Budget(seconds=60.0))
        was, now = standing(old, found.names), standing(new, found.names)
        if not (was and now):  # a circuit without a start is a matter of health
            continue
        assert found.complete
        assert all(one.proved for one in found.found)
        told = {(one.word, one.places) for one in found.found}
        assert told == {("new", x) for x in now - was} | {("gone", x) for x in was - now}
        tally.update(word for word, _ in told)
    assert tally["new"] > 0, tally
    assert tally["gone"] > 0, tally


def test_the_machine_of_the_definition_shows_a_change_by_hand() -> None:
    """A check of the check: the third account on a pair worked out by hand."""
    old, new = next(pairs(50_000, 1))
    assert shortest(old, old, watched(old, old)) is None
    assert Machine(old).circuit is old
    assert shortest(new, new, watched(new, new)) is None
