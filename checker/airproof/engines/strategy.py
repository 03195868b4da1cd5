"""The one place that names the engines: decides what is tried, and in which order."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

from airproof.circuit.behaviour import Behaviour, Replay
from airproof.circuit.cone import cone
from airproof.circuit.kinds import Circuit
from airproof.circuit.leading import leader
from airproof.circuit.properties import TIMED, Possible, Property
from airproof.engines import prover, search
from airproof.engines.budget import Budget
from airproof.engines.onward import onward
from airproof.engines.prover import Way
from airproof.engines.walking import walked
from airproof.engines.wholes import Whole
from airproof.evidence.given import Given, Led
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Note, Reason, Verdict, Word


@dataclass(frozen=True, slots=True)
class _Doubt:
    """Why nothing was decided."""

    reason: Reason
    detail: str | None = None


FRAMES_SHARE = 0.7  # of the time, so that a search is left some when frames do not end


@dataclass(frozen=True, slots=True)
class Turn:
    """Solver units for a search from the start, then for frames (0: none; None: all that is left).

    guarded: the most clauses with the property's memory that are tried as facts before frames
    onward:  a run that is known is followed and gone on from, before anything else
    walk:    a run is looked for from waypoint to waypoint, after anything else
    """

    search: int
    frames: int | None
    ways: tuple[Way, ...]
    guarded: int = 0
    onward: bool = False
    walk: bool = False


SAFETY = (
    Turn(100_000, 250_000, ("turns", "blame"), guarded=1000),
    Turn(500_000, 2_000_000, ("turns", "blame")),
    Turn(12_000_000, 4_000_000, ("turns", "blame"), guarded=100_000),
    Turn(40_000_000, 0, (), walk=True),
    Turn(0, 8_000_000, ("turns", "blame")),
    Turn(100_000_000, 12_000_000, ("reading", "blame")),
    Turn(150_000_000, None, ("reading", "blame")),
)
OVER_THE_WHOLE = Turn(0, 4_000_000, ("turns", "blame"), guarded=1000)
UNPROVED = ("no breach within", "not found possible within", "solver limit")
LOOK = Turn(100_000, 100_000, ("turns", "blame"))
DEEP = Turn(60_000_000, 4_000_000, ("turns", "blame"), guarded=1000)
FOUND = (LOOK, DEEP, *SAFETY[2:])
FOUND_TIMED = (replace(LOOK, search=1_500_000), replace(DEEP, onward=True), *SAFETY[2:])


def prove(
    circuit: Circuit,
    name: str,
    budget: Budget,
    known: Given | None = None,
    led: Led | None = None,
) -> Verdict:
    """What can be said of one property at any speed.

    A proof is only claimed here; `certify` states it again and discharges it.
    known: facts of all runs of the circuit from where the property's runs start, if at hand.
    led: the run that the property may be gone on from, if its leader was judged already
    Raises KeyError if the circuit has no property of this name.
    """
    prop, began = circuit.properties[name], time.monotonic()
    case = _Case(circuit, cone(circuit, prop), prop, budget, led)
    verdict = case.decided(known)
    if verdict.reason in UNPROVED and case.part is not circuit:
        verdict = case.over_the_whole(known) or verdict
    return replace(verdict, seconds=time.monotonic() - began)


@dataclass(frozen=True, slots=True)
class _Case:
    """One property of the whole circuit, and the part of it that the property can depend on."""

    whole: Circuit
    part: Circuit
    prop: Property
    budget: Budget
    led: Led | None

    def decided(self, known: Given | None) -> Verdict:
        """Quick facts first, then search and frames by turns, each turn longer than the last.

        Each turn's search begins afresh: a solver that was stopped in a query was
        seen to need many times longer for it than one that had not been.  Once the
        deepest step was searched, frames go on alone.
        """
        short = replace(self.budget, seconds=FRAMES_SHARE * self.budget.seconds)
        given = known if self.part is self.whole else None
        proof = prover.Prover(self.part, self.prop, short, given)
        if (attempt := proof.facts()).invariant is not None:
            return _proved(self.prop, attempt)
        possible = attempt.why == prover.NOT_ENOUGH
        stated, deepest, cleared = search.Known(proof.system, proof.literals), False, 0
        for turn in _turns(self.prop):
            if (far := self._onward(turn, stated, deepest=deepest)) is not None:
                return self._found_or_not(replace(far, steps=cleared))
            if turn.search and not deepest:
                hunt = search.Search(self.part, self.prop, self.budget, stated)
                outcome = hunt.deepen(self.budget.steps, units=turn.search)
                deepest, cleared = outcome.why == "deepest", max(cleared, outcome.steps)
            if not deepest and outcome.why != "solver limit":
                break
            if (
                possible
                and turn.frames != 0
                and (attempt := _framed(proof, turn)).invariant is not None
            ):
                return _proved(self.prop, attempt)
            if (far := self._walked(turn, proof, stated, deepest=deepest)) is not None:
                return self._found_or_not(replace(far, steps=cleared))
        else:
            outcome = outcome if deepest else hunt.deepen(self.budget.steps)
        if outcome.sequence is None:
            outcome = replace(outcome, steps=max(cleared, outcome.steps))
        return self._found_or_not(outcome)

    def over_the_whole(self, known: Given | None) -> Verdict | None:
        """A proof over the whole circuit, where the part has runs that the whole has not.

        In the part something outside may move at any time, and never has to.
        """
        proof = prover.Prover(self.whole, self.prop, self.budget, known)
        attempt = proof.facts()
        if attempt.why == prover.NOT_ENOUGH:
            attempt = _framed(proof, OVER_THE_WHOLE)
        if attempt.invariant is None:
            return None
        invariant = replace(attempt.invariant, whole=True)
        return _proved(self.prop, replace(attempt, invariant=invariant))

    def _onward(self, turn: Turn, stated: search.Known, *, deepest: bool) -> search.Outcome | None:
        """A breach not far from a run in which the circuit is known to be at work."""
        if deepest or not turn.onward:
            return None
        led, name = self.led, leader(self.whole, self.prop)
        if led is None and name is not None:
            led = Led(prove(self.whole, name, self.budget).sequence)
        if led is None or led.run is None:
            return None
        return onward(self.part, self.prop, stated, led.run, self.budget)

    def _walked(
        self, turn: Turn, proof: prover.Prover, stated: search.Known, *, deepest: bool
    ) -> search.Outcome | None:
        """A run, perhaps a long one, that is found otherwise than step by step from the start."""
        shallow = deepest and self.budget.reach <= self.budget.steps
        if not turn.walk or shallow or isinstance(self.prop.sentence, TIMED):
            return None
        return walked(self.part, self.prop, stated, proof.waypoints(), self.budget)

    def _found_or_not(self, outcome: search.Outcome) -> Verdict:
        if outcome.sequence is not None and self.part is not self.whole:
            outcome = self._in_the_whole(outcome)
        if outcome.sequence is not None:
            return _told(self.whole, self.prop, outcome)
        doubt = _doubt(self.prop, outcome)
        return Verdict(
            self.prop.name,
            "undecided",
            reason=doubt.reason,
            detail=doubt.detail,
            depth=outcome.steps,
        )

    def _in_the_whole(self, found: search.Outcome) -> search.Outcome:
        """A sequence of the whole circuit, woven from the part's or searched for."""
        return Whole(self.whole, self.prop, self.budget).find(self.part, found)


def _framed(proof: prover.Prover, turn: Turn) -> prover.Attempt:
    if (attempt := proof.guarded(turn.guarded)).invariant is not None:
        return attempt
    return proof.frames(turn.frames, turn.ways)


def _turns(prop: Property) -> tuple[Turn, ...]:
    if isinstance(prop.sentence, TIMED):
        return FOUND_TIMED
    return FOUND if isinstance(prop.sentence, Possible) else SAFETY


def _proved(prop: Property, attempt: prover.Attempt) -> Verdict:
    """No run of any length breaches it, or reaches what was asked to be possible."""
    return Verdict(
        prop.name,
        "breached" if isinstance(prop.sentence, Possible) else "holds",
        strength="any speed",
        engine=attempt.stage,
        certificate=attempt.invariant,
    )


def _doubt(prop: Property, outcome: search.Outcome) -> _Doubt:
    """Why the search stopped without a find."""
    if outcome.why == "deepest":
        possible = isinstance(prop.sentence, Possible)
        return _Doubt("not found possible within" if possible else "no breach within")
    if outcome.why == "no start":
        return _Doubt("unhealthy", "no start")
    for reason in ("time limit", "solver limit", "interrupted"):
        if outcome.why == reason:
            return _Doubt(reason)
    return _Doubt("solver failed", outcome.why.removeprefix("solver failed: "))


def _told(circuit: Circuit, prop: Property, outcome: search.Outcome) -> Verdict:
    """The verdict on a sequence, once the solver-free account has followed it."""
    sequence = outcome.sequence
    assert sequence is not None
    replay = Behaviour(circuit).replay(prop, sequence.start, sequence.steps)
    if (fault := _fault(replay, sequence)) is not None:
        return Verdict(prop.name, "undecided", reason="defect", detail=fault)
    notes: tuple[Note, ...] = () if outcome.shortest else ("a shorter sequence not ruled out",)
    verdict = Verdict(prop.name, "undecided", depth=outcome.steps, sequence=sequence, notes=notes)
    if isinstance(prop.sentence, TIMED):
        return replace(verdict, reason="needs sizes")
    word: Word = "holds" if isinstance(prop.sentence, Possible) else "breached"
    return replace(verdict, word=word, strength="for some sizes")


def _fault(replay: Replay, sequence: Sequence) -> str | None:
    """Where the solver-free account parts from the sequence; None if it follows to the end."""
    if replay.start:
        return f"start: {replay.start}"
    for index, refusals in replay.steps.items():
        return f"step {index + 1}: {refusals}"
    last = len(sequence.steps) - 1
    return None if replay.decided == last else f"decided in step {replay.decided}, not {last}"
