"""What a half-fitted circuit is asked: also what it leaves out though both ends ask it.

A step that withdraws a property, or weakens what it asks, and one that puts
that right again must not let the stages between them go unjudged.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from airproof.analyses.calling import asks
from airproof.analyses.likening import likened
from airproof.analyses.meant import Words, meant, strange, things
from airproof.analyses.shifts import spoken_of
from airproof.circuit.cone import named
from airproof.circuit.kinds import Circuit, Standing
from airproof.circuit.properties import Property


@dataclass(frozen=True, slots=True)
class Between:
    """The stage with all that is asked of it.

    unasked: old properties that it is not asked, by their old names: withdrawn for good, or
    lost:    asked before and after, of something that the stage has not
    kept:    what asks otherwise for a while by the name of a question that both ends ask; that
             question is asked too
    held:    what asks neither as before nor as after, which differ; it is asked as before too
    other:   what asks otherwise than before by the name of what is withdrawn in the end
    bent:    what a question names that is otherwise than before and than after, by the
             question's name at the stage
    known:   old properties by the names of those of the stage that ask the same
    """

    circuit: Circuit
    unasked: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()
    held: tuple[str, ...] = ()
    other: tuple[str, ...] = ()
    bent: tuple[tuple[str, str], ...] = ()
    known: Mapping[str, str] = field(default_factory=dict)


def between(stage: Circuit, old: Circuit, new: Circuit) -> Between:
    """Old questions that the new circuit answers too are asked of the stage, as it understands
    them: in the old words, in those with the new circuit's names, in the new ones.

    Whether a question is asked goes by what it asks, never by its name.  Nothing that
    the stage asks itself is left out.
    """
    work = _Work(stage, old, new)
    for name in old.properties:
        work.look_at(name)
    circuit = work.circuit()
    return Between(
        circuit,
        tuple(work.unasked),
        tuple(work.lost),
        tuple(work.kept),
        tuple(work.held),
        tuple(work.other),
        tuple(_bent(circuit, work.here.circuit, likened(new, stage).circuit)),
        dict(work.known),
    )


def _bent(stage: Circuit, before: Circuit, after: Circuit) -> Iterator[tuple[str, str]]:
    """What questions name that is as at neither end; the ends are in the stage's words."""
    for name, asked in stage.properties.items():
        for thing in dict.fromkeys(named(asked.sentence)):
            if spoken_of(stage, thing) not in (spoken_of(before, thing), spoken_of(after, thing)):
                yield name, thing


@dataclass(frozen=True, slots=True)
class _Asked:
    """A property of a circuit, and when it is asked so."""

    circuit: Circuit
    name: str
    words: Words
    when: str = "as before"

    @property
    def asked(self) -> Property:
        return self.circuit.properties[self.name]

    @property
    def asks(self) -> object:
        return asks(self.circuit, self.name)

    @property
    def state(self) -> Standing | None:
        """Where its runs start, if not as the circuit does."""
        start = self.asked.start
        return None if start is None else self.circuit.standings[start]


class _Work:
    """What came out, property by property."""

    def __init__(self, stage: Circuit, old: Circuit, new: Circuit) -> None:
        self.stage, self.old, self.new = stage, old, new
        self.here, self.told = likened(old, stage), likened(old, new)
        self.by_now, self.in_the_end = strange(self.here.renaming), strange(self.told.renaming)
        self.more: dict[str, Property] = {}
        self.states: dict[str, Standing] = {}
        self.known: dict[str, str] = {}
        self.unasked: list[str] = []
        self.lost: list[str] = []
        self.kept: list[str] = []
        self.held: list[str] = []
        self.other: list[str] = []
        self.asked = {self._before(name)[0].asks for name in old.properties}
        self.asked |= {asks(new, name) for name in new.properties}

    def _before(self, name: str) -> tuple[_Asked, _Asked, _Asked]:
        """The old question in the stage's words, in its own, and with the new circuit's names."""
        then, after = self._then(name), self._after(name)
        return (
            _Asked(self.here.circuit, then, Words(self.here.circuit)),
            _Asked(self.old, name, Words(self.old, self.by_now)),
            _Asked(self.told.circuit, after, Words(self.told.circuit, self.in_the_end, self.new)),
        )

    def _then(self, name: str) -> str:
        return self.here.renaming.properties.get(name, name)

    def _after(self, name: str) -> str:
        return self.told.renaming.properties.get(name, name)

    def look_at(self, name: str) -> None:
        """One old property: is it asked of the stage, must it be, and can it?"""
        before, (alike, after) = self._before(name), self._ends(name)
        old = [one for one in before if self._meant(one)]
        new = [one for one in after if self._meant(one)]
        as_old = self._own_that_ask(old[:1] or before[:1])
        others = [one for one in (*old[1:], *new) if not old or one.asks != old[0].asks]
        as_new = self._own_that_ask(others)
        for one in (*as_old, *(as_new if alike else ())):
            self.known.setdefault(one, name)
        if not after and not as_old:
            own = self._by_that_name(name)
            (self.other if own else self.unasked).append(own or name)
        elif not as_old and (alike or not as_new):
            self._put(name, old, [] if as_new else new, alike=alike)
        elif alike and as_old and others and not as_new:  # what takes its place is there too
            self._ask(name, replace(others[-1], when="as after"), plain=False)

    def _ends(self, name: str) -> tuple[bool, list[_Asked]]:
        """Whether the new circuit asks the same, and its properties that do, or the namesake."""
        fresh = self.in_the_end | (things(self.new) - things(self.old))
        words = Words(self.new, fresh, self.new)
        wanted = asks(self.told.circuit, self._after(name))
        same = [x for x in self.new.properties if asks(self.new, x) == wanted]
        namesake = [x for x in self.new.properties if x == self._after(name)]
        return bool(same), [_Asked(self.new, x, words, "as after") for x in same or namesake]

    def _own_that_ask(self, ways: Iterable[_Asked]) -> list[str]:
        wanted = {one.asks for one in ways}
        return [name for name in self.stage.properties if asks(self.stage, name) in wanted]

    def _put(self, name: str, old: list[_Asked], new: list[_Asked], *, alike: bool) -> None:
        """Asks it as before; where both ends ask it, what each speaks of may be there."""
        chosen = old[:1] or new[:1]
        if alike and old and new and new[0].asks != old[0].asks:
            chosen.append(new[0])
        if not chosen:
            self.lost.append(name)
            return
        if own := self._by_that_name(name):
            (self.kept if alike else self.held).append(own)
        for one in chosen:
            self._ask(name, one, plain=one is chosen[0])

    def _meant(self, one: _Asked) -> bool:
        return meant(self.stage, one.words, one.asked, one.state)

    def _by_that_name(self, name: str) -> str | None:
        """What the stage has by the property's name and asks nothing that either end asks."""
        names = [x for x in (self._then(name), name) if x in self.stage.properties]
        return next((x for x in names if asks(self.stage, x) not in self.asked), None)

    def _ask(self, name: str, one: _Asked, *, plain: bool) -> None:
        """Asks it by the old name, or by one that tells it from what goes by that name."""
        taken = {*self.stage.properties, *self.more}
        called = name if plain else f"{name} ({one.when})"
        while called in taken:
            called = f"{called} ({one.when})"
        start = None if one.state is None else self._state(one.state)
        self.more[called] = replace(one.asked, name=called, start=start)
        self.known[called] = name

    def _state(self, state: Standing) -> str:
        """The name of the state at the stage: one of its own if that one's is another state."""
        known, name = {**self.stage.standings, **self.states}, state.name
        while name in known and _pins(known[name]) != _pins(state):
            name = f"{name} (as asked)"
        self.states[name] = replace(state, name=name)
        return name

    def circuit(self) -> Circuit:
        return replace(
            self.stage,
            properties={**self.stage.properties, **self.more},
            standings={**self.stage.standings, **self.states},
        )


def _pins(state: Standing | None) -> object:
    if state is None:
        return None
    return sorted(state.positions.items()), sorted(state.values.items())
