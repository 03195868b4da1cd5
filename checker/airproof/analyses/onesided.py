"""Does one circuit show a list of views that another never shows?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from airproof.analyses.shorter import shorter
from airproof.analyses.showing import CHECKING, Scenes, asked, doubt
from airproof.certify.following import follows
from airproof.circuit.affected import concerned
from airproof.circuit.kinds import Circuit
from airproof.circuit.sight import Sight, narrowed
from airproof.engines.budget import Budget
from airproof.engines.hunting import Hunt
from airproof.engines.parting import Parting
from airproof.engines.quick import OutOfBudget
from airproof.engines.unrolling import Answer
from airproof.evidence.certificate import Invariant
from airproof.evidence.difference import Showing
from airproof.evidence.verdict import Verdict
from airproof.transition.parting import comparable

OTHERWISE = "laid out otherwise"
LIST_UNITS = 40_000_000  # solver units for the question whether a list is shown
HUNT_UNITS = 30_000_000  # solver units for each search for lists
FRAMES_UNITS = 4_000_000
HINTS = 2  # lists given that are tried
PER_VIEW, STEPS = 2, 4  # steps of the longest runs looked at: so many for each view, and more


@dataclass(frozen=True, slots=True)
class Phase:
    """One search for lists.

    aimed:   see `Hunt`; roughly: lists that differ in nothing that the circuits' difference
             bears on are tried once only
    most:    views of a list; lists: tried for each number of views
    """

    aimed: bool
    roughly: bool
    most: int
    lists: int


FIRST = Phase(aimed=False, roughly=True, most=2, lists=5)
THEN = (
    Phase(aimed=True, roughly=True, most=2, lists=6),
    Phase(aimed=False, roughly=False, most=4, lists=4),
    Phase(aimed=True, roughly=False, most=4, lists=4),
    Phase(aimed=False, roughly=True, most=4, lists=8),
)


def only(
    circuit: Circuit, other: Circuit, sight: Sight, budget: Budget, hints: Iterable[Scenes] = ()
) -> Showing:
    """Whether the circuit shows a list that the other never does.

    hints: lists that it may show and that are worth trying first

    `nothing` comes with a proof, and `something` with a run of the circuit and
    a proof about the other; that a search ended is neither.
    """
    direction = _Direction(circuit, other, sight, budget, tuple(hints)[:HINTS])
    try:
        return direction.decided()
    except OutOfBudget as stop:
        return direction.undecided(stop.why)


@dataclass(slots=True)
class _Direction:
    """One direction under way.

    tried: lists that the other circuit shows too
    depth: steps of the longest runs looked at
    stopped: why a search ended early, if one did
    """

    circuit: Circuit
    other: Circuit
    sight: Sight
    budget: Budget
    hints: tuple[Scenes, ...] = ()
    tried: int = 0
    depth: int = 0
    stopped: str | None = None

    def decided(self) -> Showing:
        """Facts first, a search where the circuits part, frames, a search where they come to.

        Of lists that differ in nothing that the difference bears on, one is enough at first.
        """
        alike = comparable(self.circuit, self.other, self.sight)
        proofs = Parting(self.circuit, self.other, self.sight, self.budget) if alike else None
        proof = proofs.facts() if proofs else None
        if proof is not None:
            return self._followed(proof)
        found = self._hunted(FIRST) or self._hinted()
        if found is not None:
            return found
        proof = proofs.frames(FRAMES_UNITS) if proofs else None
        if proof is not None:
            return self._followed(proof)
        for phase in THEN:
            found = self._hunted(phase)
            if found is not None:
                return found
        return self.undecided(self.stopped or ("no breach within" if alike else OTHERWISE))

    def undecided(self, why: str | None) -> Showing:
        return Showing("undecided", tried=self.tried, depth=self.depth, reason=doubt(why))

    def _hunt(self, phase: Phase) -> Hunt:
        budget = replace(self.budget, resource=min(HUNT_UNITS, self.budget.resource))
        names = concerned(self.circuit, self.other)
        apart = narrowed(self.sight, names) if phase.roughly else self.sight
        return Hunt(self.circuit, self.other, self.sight, budget, aimed=phase.aimed, apart=apart)

    def _followed(self, proof: Invariant) -> Showing:
        if follows(self.circuit, self.other, self.sight, proof, CHECKING):
            return Showing("nothing", "followed", certificate=proof, tried=self.tried)
        return self.undecided("defect")

    def _hinted(self) -> Showing | None:
        """A find among the lists that were given."""
        for scenes in self.hints:
            claim = self._shown(self.other, scenes)
            if claim.word == "holds":
                told = self._told(*self._cut(scenes, claim))
                if told.word == "something":
                    return told
        return None

    def _hunted(self, phase: Phase) -> Showing | None:
        """A find; None if there is none among the lists tried."""
        hunt = self._hunt(phase)
        for views in range(1, phase.most + 1):
            steps = PER_VIEW * views + STEPS
            for _ in range(phase.lists):
                scenes = hunt.next(views, steps)
                self.depth = max(self.depth, hunt.run.steps)
                if not isinstance(scenes, tuple):
                    break
                claim = self._shown(self.other, scenes)
                if claim.word == "holds":
                    return self._told(*self._cut(scenes, claim))
                if claim.word == "breached":
                    self.tried += 1
                hunt.block(scenes)
            if isinstance(scenes, Answer) and scenes.word != "unsat":
                self.stopped = scenes.why
                return self.undecided(scenes.why) if scenes.why == "time limit" else None
        return None

    def _shown(self, circuit: Circuit, scenes: Scenes) -> Verdict:
        units = min(LIST_UNITS, self.budget.resource)
        left = Budget(resource=units, seconds=max(0.1, self.budget.remaining))
        return asked(circuit, self.sight, scenes, left)

    def _cut(self, scenes: Scenes, claim: Verdict) -> tuple[Scenes, Verdict]:
        """The shortest beginning of the list that the other circuit is proved never to show."""
        while len(scenes) > 1:
            less = self._shown(self.other, scenes[:-1])
            if less.word != "holds":
                break
            scenes, claim = scenes[:-1], less
        return scenes, claim

    def _told(self, scenes: Scenes, claim: Verdict) -> Showing:
        less = shorter(self.circuit, self.other, self.sight, len(scenes), self.budget)
        if less.claim is not None:
            scenes, claim = less.scenes, less.claim
        own = self._shown(self.circuit, scenes)
        if own.word != "breached" or own.sequence is None:
            return self.undecided(own.reason)
        return Showing(
            "something",
            "searched",
            scenes,
            own.sequence,
            claim.certificate,
            shortest=less.excluded == len(scenes) - 1,
            excluded=less.excluded,
            tried=self.tried,
            depth=self.depth,
        )
