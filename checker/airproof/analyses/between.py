"""What a half-fitted circuit is asked: also what it leaves out though both ends ask it.

A step that withdraws a property, or weakens what it asks, and one that puts
that right again must not let the stages between them go unjudged.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from airproof.analyses.likening import likened
from airproof.analyses.meant import Words, meant, strange, things
from airproof.analyses.renaming import question
from airproof.analyses.shifts import spoken_of
from airproof.circuit.cone import named
from airproof.circuit.kinds import Circuit, Standing
from airproof.circuit.properties import Property


@dataclass(frozen=True, slots=True)
class Between:
    """The stage with all that is asked of it.

    unasked: old properties that it is not asked, by their old names: withdrawn for good, or
    lost:    asked before and after, of something that the stage has not
    kept:    what it asks in other words for a while, and is asked as before and after
    held:    what it asks neither as before nor as after, which differ; it is asked as before
    other:   what it asks otherwise than before, and what is withdrawn in the end
    bent:    what a question names that is otherwise than before and than after, by the
             question's name at the stage
    """

    circuit: Circuit
    unasked: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()
    held: tuple[str, ...] = ()
    other: tuple[str, ...] = ()
    bent: tuple[tuple[str, str], ...] = ()


def between(stage: Circuit, old: Circuit, new: Circuit) -> Between:
    """Old questions that the new circuit answers too are asked of the stage, in the first words
    that it understands: the old ones, those in the new circuit's names, the new ones."""
    here, told = likened(old, stage), likened(old, new)
    found, by_now, in_the_end = _Found(), strange(here.renaming), strange(told.renaming)
    fresh = in_the_end | (things(new) - things(old))
    for name in old.properties:
        then = here.renaming.properties.get(name, name)
        after = told.renaming.properties.get(name, name)
        own = next((_Asked(stage, x) for x in (then, name, after) if x in stage.properties), None)
        as_before = _Asked(here.circuit, then)
        if own is not None and _alike(own, as_before):
            continue
        words = [
            (as_before, Words(here.circuit)),
            (_Asked(old, name), Words(old, by_now)),
            (_Asked(told.circuit, after), Words(told.circuit, in_the_end, new)),
        ]
        if after not in new.properties:
            if own is None:
                found.unasked.append(name)
            elif not any(_alike(own, one) for one, _ in words):
                found.other.append(own.name)
            continue
        as_after = _Asked(new, after)
        ends_alike = _alike(words[2][0], as_after)
        if own is not None and not ends_alike and _alike(own, as_after):
            continue
        if ends_alike or own is None:
            words.append((as_after, Words(new, fresh, new)))
        found.ask(stage, name, own, words, ends_alike=ends_alike)
    bent = tuple(_bent(found.circuit(stage), here.circuit, likened(new, stage).circuit))
    return replace(found.between(stage), bent=bent)


def _bent(stage: Circuit, before: Circuit, after: Circuit) -> Iterator[tuple[str, str]]:
    """What questions name that is as at neither end; the ends are in the stage's words."""
    for name, asked in stage.properties.items():
        for thing in dict.fromkeys(named(asked.sentence)):
            if spoken_of(stage, thing) not in (spoken_of(before, thing), spoken_of(after, thing)):
                yield name, thing


@dataclass(slots=True)
class _Found:
    """What came out, property by property."""

    more: dict[str, Property] = field(default_factory=dict)
    states: dict[str, Standing] = field(default_factory=dict)
    unasked: list[str] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)
    kept: list[str] = field(default_factory=list)
    held: list[str] = field(default_factory=list)
    other: list[str] = field(default_factory=list)

    def ask(
        self,
        stage: Circuit,
        name: str,
        own: _Asked | None,
        words: list[tuple[_Asked, Words]],
        *,
        ends_alike: bool,
    ) -> None:
        """Asks what both ends ask, or what was asked, in place of what the stage has by that
        name."""
        how = (one for one, said in words if meant(stage, said, one.asked, one.state))
        first = next(how, None)
        if first is None:
            self.lost.append(name)
            return
        if own is not None and _alike(own, first):
            return
        if own is not None:
            (self.kept if ends_alike else self.held).append(own.name)
            name = own.name
        start = None if first.state is None else self._state(stage, first.state)
        self.more[name] = replace(first.asked, name=name, start=start)

    def _state(self, stage: Circuit, state: Standing) -> str:
        """The name of the state at the stage: one of its own if that one's is another state."""
        known, name = {**stage.standings, **self.states}, state.name
        while name in known and _pins(known[name]) != _pins(state):
            name = f"{name} (as asked)"
        self.states[name] = replace(state, name=name)
        return name

    def circuit(self, stage: Circuit) -> Circuit:
        return replace(
            stage,
            properties={**stage.properties, **self.more},
            standings={**stage.standings, **self.states},
        )

    def between(self, stage: Circuit) -> Between:
        return Between(
            self.circuit(stage),
            tuple(self.unasked),
            tuple(self.lost),
            tuple(self.kept),
            tuple(self.held),
            tuple(self.other),
        )


@dataclass(frozen=True, slots=True)
class _Asked:
    """A property of a circuit."""

    circuit: Circuit
    name: str

    @property
    def asked(self) -> Property:
        return self.circuit.properties[self.name]

    @property
    def state(self) -> Standing | None:
        """Where its runs start, if not as the circuit does."""
        start = self.asked.start
        return None if start is None else self.circuit.standings[start]


def _alike(one: _Asked, other: _Asked) -> bool:
    """The same question of the same start, names of both apart."""
    same = question(replace(one.asked, start=None)) == question(replace(other.asked, start=None))
    return same and _pins(one.state) == _pins(other.state)


def _pins(state: Standing | None) -> object:
    return None if state is None else (dict(state.positions), dict(state.values))
