"""What is to be asked about a sequence before anything is proved: what might it depend on?

No solver is needed for that, nor to put the answers together.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from airproof.circuit.cone import cone
from airproof.circuit.doing_without import DoingWithout
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import Property
from airproof.circuit.switching import MoveKind, moves_made
from airproof.circuit.tables import tables_of
from airproof.circuit.without import Thing, Way, settings
from airproof.evidence.dependence import Dependence, Settled
from airproof.evidence.sequence import Sequence

PIECES = 2  # to be settled side by side; how many there are must not hang on the workers

_WAYS: Mapping[MoveKind, Way] = {
    "control": "control",
    "range": "value",
    "device": "device",
    "sets off": "device",
    "turns round": "device",
    "timer expires": "timer",
}


@dataclass(frozen=True, slots=True)
class Questions:
    """What there is to be asked about one sequence.

    kinds:  of its steps, `switch` or `elapse`
    moved:  what moves in it and may matter to the property
    asked:  what is to be settled: of that, and of the settings, all that the very run needs
    apart:  moves in it and cannot matter
    still:  without it time could not pass at all
    exact:  the whole circuit may matter
    """

    kinds: tuple[str, ...]
    moved: tuple[Thing, ...]
    asked: tuple[Thing, ...]
    apart: tuple[Thing, ...]
    still: tuple[Thing, ...]
    exact: bool

    @property
    def steps(self) -> int:
        return len(self.kinds)

    def pieces(self) -> tuple[tuple[Thing, ...], ...]:
        """The things asked in a few heaps, what belongs to one statement in one of them."""
        groups: dict[str, list[Thing]] = {}
        for one in self.asked:
            groups.setdefault(one.name, []).append(one)
        heaps: list[list[Thing]] = [[] for _ in range(PIECES)]
        for group in groups.values():
            min(heaps, key=len).extend(group)
        return tuple(tuple(heap) for heap in heaps if heap)

    def answered(self, parts: Iterable[Settled]) -> Dependence:
        """Everything put together, in the order of asking; what no part settled is open."""
        settled = tuple(parts)
        needed = {one.thing: one for part in settled for one in part.needed}
        spared = {one for part in settled for one in part.spared}
        return Dependence(
            self.steps,
            tuple(needed[one] for one in self.asked if one in needed),
            tuple(one for one in self.moved if one in spared or not self._in_question(one)),
            self.apart,
            self.still,
            tuple(one for one in self.asked if one not in needed and one not in spared),
            next((part.why for part in settled if part.why), ""),
            self.exact,
        )

    def _in_question(self, thing: Thing) -> bool:
        return thing in self.asked or thing in self.still


def questions(circuit: Circuit, prop: Property, sequence: Sequence) -> Questions:
    """What to ask about the sequence, which decides the property."""
    part, run = cone(circuit, prop), DoingWithout(circuit, prop)
    everything = tuple(dict.fromkeys(_moved(circuit, sequence)))
    moved = tuple(one for one in everything if _within(part, one))
    asked = [
        one
        for one in (*moved, *settings(part))
        if not run.decides(sequence.start, sequence.steps, one)
    ]
    still = tuple(one for one in asked if not run.time_passes(sequence.start, one))
    return Questions(
        tuple(step.kind for step in sequence.steps),
        moved,
        tuple(one for one in asked if one not in still),
        tuple(one for one in everything if one not in moved),
        still,
        part is circuit,
    )


def _moved(circuit: Circuit, sequence: Sequence) -> Iterator[Thing]:
    """Everything that moves or is moved, each place once, in the order of happening."""
    tables = tables_of(circuit)
    for before, step in sequence.pairs():
        for move in moves_made(tables, before, step.after) if step.kind == "switch" else ():
            if move.kind in _WAYS:
                way = _WAYS[move.kind]
                yield Thing(way, move.name, str(move.now) if way in ("control", "device") else "")
        for name in circuit.supplies:
            if step.after.values[name] != before.values[name]:
                yield Thing("value", name)


def _within(part: Circuit, thing: Thing) -> bool:
    names = {*part.positions, *part.value_starts, *part.timers}
    return thing.name in names
