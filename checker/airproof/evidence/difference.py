"""What a change does to a property, as far as verdicts and meanings go."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from airproof.circuit.renamed import Renaming
from airproof.circuit.sight import Scene, Sight
from airproof.evidence.certificate import Invariant
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Verdict

Way = Literal[
    "old proof",  # the old circuit's certificate, discharged on the new one
    "old proof in part",  # the largest part of it that the new circuit keeps
    "old sequence",  # step for step a sequence of the new circuit
    "old moves",  # the same moves with other pressures
    "anew",
]


@dataclass(frozen=True, slots=True)
class Carried:
    """The verdict on the changed circuit, checked there as any other, and how it was come by."""

    verdict: Verdict
    way: Way


@dataclass(frozen=True, slots=True)
class Shift:
    """Something on account of which a property does not ask what it asked before.

    severity: it counts for more or less now

    sentence: it reads otherwise itself; instants: by `even for an instant`
    signal:   this signal, which it is written with, stands for something else
    thing:    this control, device, flow or place, which it names, is another
    start:    it starts from elsewhere; state: the standing state it starts from is another
    """

    kind: Literal["sentence", "instants", "signal", "thing", "start", "state", "severity"]
    name: str


Shown = Literal["nothing", "something", "undecided"]
Means = Literal[
    "alike",  # statement by statement the same, as far as runs at any speed go
    "counted",  # every state of both was counted
    "followed",  # no step that any run of the one takes is none of the other's
    "searched",  # a list of views that the other was proved never to show
]

Doubt = Literal[
    "no list within",  # of so many lists and steps, the other circuit shows every one
    "laid out otherwise",  # the same, and what is watched has other positions in the other
    "time limit",
    "solver limit",
    "solver failed",
    "interrupted",
    "defect",  # of airproof itself: what it found does not stand up to its own check
]


@dataclass(frozen=True, slots=True)
class Showing:
    """Whether one circuit shows a list of views that the other never shows.

    means:    how that is known; None where it is undecided
    scenes:   the list; no beginning of it was proved to be missing in the other circuit
    sequence: a run that shows it, replayed without a solver
    certificate: of `followed`, why no run parts; of `searched`, why the other never shows
              the list; discharged by a fresh solver
    shortest: no shorter list is shown by this circuit only
    excluded: that much is proved of lists of so many views
    states:   of `counted`: how many were met
    tried:    lists that the other circuit turned out to show too
    depth:    steps of the longest runs that were looked at
    standing: no run of the other circuit ever lets time pass with the watched controls and
              devices where the last view has them; proved
    reason:   why it is undecided
    """

    word: Shown
    means: Means | None = None
    scenes: tuple[Scene, ...] = ()
    sequence: Sequence | None = None
    certificate: Invariant | None = None
    shortest: bool = False
    excluded: int = 0
    states: int = 0
    tried: int = 0
    depth: int = 0
    standing: bool = False
    reason: Doubt | None = None


@dataclass(frozen=True, slots=True)
class Stand:
    """Positions in which time passes in runs of one circuit only.

    places: by the order of the names of the `Stands`
    proved: that no run of the other circuit stands so; else none that was found
    """

    word: Literal["new", "gone"]
    places: tuple[str, ...]
    proved: bool


@dataclass(frozen=True, slots=True)
class Stands:
    """Standing combinations that are new or gone.

    names:    the controls and devices that are combined
    whole:    those are all that are watched
    complete: every combination that either circuit stands in was found, proved
    """

    names: tuple[str, ...]
    whole: bool
    found: tuple[Stand, ...]
    complete: bool


@dataclass(frozen=True, slots=True)
class Apart:
    """What somebody who watches both circuits could see.

    new, gone: what only the new circuit shows, and only the old one
    renamed:  what is called otherwise in the new circuit
    trailing: what was left out of both, for nothing watched depends on it
    stands:   standing combinations; None where nothing differs, or nobody looked
    """

    sight: Sight
    new: Showing
    gone: Showing
    renamed: Renaming = field(default_factory=Renaming)
    trailing: tuple[str, ...] = ()
    stands: Stands | None = None
