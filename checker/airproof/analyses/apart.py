"""Could somebody who watches tell the two circuits apart?  At any speed.

Each circuit is asked for a list of views that the other never shows.  Where
neither has one, nothing that is watched will ever look different.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from airproof.analyses.counting import Count, Found, counted
from airproof.analyses.likeness import alike_at_any_speed
from airproof.analyses.likening import likened
from airproof.analyses.onesided import only
from airproof.analyses.settling import settled
from airproof.analyses.showing import asked, doubt, never_stands, replayed
from airproof.circuit.affected import KINDS, affected
from airproof.circuit.kinds import Circuit
from airproof.circuit.renamed import Renaming
from airproof.circuit.sight import Scene, Sight, hinted, sight_of
from airproof.circuit.trailing import without_trailing
from airproof.engines.budget import Budget
from airproof.evidence.difference import Apart, Showing
from airproof.evidence.sequence import Sequence

STANDING_UNITS = 20_000_000  # solver units for the question where the other circuit may stand
WHOLE_UNITS = 60_000_000  # for a run of the whole circuit that shows what its part does


@dataclass(frozen=True, slots=True)
class Hints:
    """Runs of the new circuit, and of the old one, that may show what the other does not."""

    new: tuple[Sequence, ...] = ()
    gone: tuple[Sequence, ...] = ()


NO_HINTS = Hints()


def apart(
    old: Circuit,
    new: Circuit,
    budget: Budget,
    *,
    combined: bool = True,
    hints: Hints = NO_HINTS,
) -> Apart:
    """Both directions, each found and checked by itself, and standing combinations if wanted.

    Standing states are not looked at: every run begins as its circuit starts.
    """
    plan = laid(old, new)
    came, gone = _both(plan, budget, hints)
    same = came.word == gone.word == "nothing" or not combined
    return Apart(
        plan.sight,
        _finished(plan.new, plan.old, plan.sight, came),
        _finished(plan.old, plan.new, plan.sight, gone),
        plan.renamed,
        plan.trailing,
        None if same else settled(plan.was, plan.now, plan.sight, Budget(seconds=budget.seconds)),
    )


@dataclass(frozen=True, slots=True)
class Laid:
    """Two circuits laid side by side.

    old: in the words of the new circuit
    was, now: both without what nothing watched depends on, where they differ in it
    """

    old: Circuit
    new: Circuit
    was: Circuit
    now: Circuit
    sight: Sight
    renamed: Renaming

    @property
    def trailing(self) -> tuple[str, ...]:
        """What was left out."""
        whole, left = (_names(*two) for two in ((self.old, self.new), (self.was, self.now)))
        return tuple(name for name in whole if name not in left)


def laid(old: Circuit, new: Circuit) -> Laid:
    """What is compared."""
    told = likened(old, new)
    before = replace(told.circuit, properties={}, signals={})
    sight = sight_of(before, new)
    loose = _loose(before, new, sight)
    was, now = without_trailing(before, loose), without_trailing(new, loose)
    return Laid(before, new, was, now, sight, told.renaming)


def _loose(old: Circuit, new: Circuit, sight: Sight) -> list[str]:
    """What the difference bears on, and nobody watches."""
    touched = affected(old, new) - {*sight.places, *sight.gauges}
    return [name for name in _names(old, new) if name in touched]


def _names(*circuits: Circuit) -> dict[str, None]:
    every = (getattr(circuit, kind) for circuit in circuits for kind in KINDS)
    return dict.fromkeys(name for things in every for name in things)


def _both(plan: Laid, budget: Budget, hints: Hints) -> tuple[Showing, Showing]:
    """What the new circuit shows only, and what the old one does."""
    if alike_at_any_speed(plan.was, plan.now):
        nothing = Showing("nothing", "alike")
        return nothing, nothing
    count = counted(plan.was, plan.now, plan.sight)
    if count is not None:
        return _counted(count, count.new), _counted(count, count.gone)
    half = replace(budget, seconds=budget.seconds / 2)
    return (
        only(plan.now, plan.was, plan.sight, half, _lists(plan, hints.new)),
        only(plan.was, plan.now, plan.sight, budget, _lists(plan, hints.gone)),
    )


def _lists(plan: Laid, runs: Iterable[Sequence]) -> Iterator[tuple[Scene, ...]]:
    """What the runs show, if anything; they are in the words of the new circuit."""
    return filter(None, (hinted(plan.sight, run.start, run.steps) for run in runs))


def _counted(count: Count, found: Found | None) -> Showing:
    if found is None:
        return Showing("nothing", "counted", states=count.states)
    return Showing(
        "something",
        "counted",
        found.scenes,
        found.sequence,
        shortest=True,
        excluded=len(found.scenes) - 1,
        states=count.states,
    )


def _finished(whole: Circuit, other: Circuit, sight: Sight, found: Showing) -> Showing:
    """The find as a run of the whole circuit, replayed there, and how it ends."""
    if found.sequence is None:
        return found
    if not replayed(whole, sight, found.scenes, found.sequence):
        claim = asked(whole, sight, found.scenes, Budget(resource=WHOLE_UNITS))
        if claim.sequence is None or claim.word != "breached":
            return Showing("undecided", tried=found.tried, reason=doubt(claim.reason))
        found = replace(found, sequence=claim.sequence)
    short = Budget(resource=STANDING_UNITS, seconds=10.0, steps=12)
    standing = never_stands(other, sight, found.scenes[-1], short)
    return replace(found, standing=standing)
