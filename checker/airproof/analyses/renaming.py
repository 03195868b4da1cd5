"""Which things of two circuits are the same but for their names, and those of their positions."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import fields, replace
from itertools import permutations
from typing import Any

from airproof.circuit.affected import KINDS, readers, rules_of
from airproof.circuit.conditions import Condition
from airproof.circuit.kinds import Circuit, Interlock
from airproof.circuit.normal import normal, normal_thing
from airproof.circuit.properties import Property
from airproof.circuit.renamed import Renaming, renamed, renamed_thing

_UNKNOWN = "(new name)"  # no name of the language has brackets
_SOMEWHERE = "(place)"
_MOST_PLACES = 4  # positions with new names, of which every pairing is tried

Group = tuple[list[str], list[str]]


def renaming(old: Circuit, new: Circuit) -> Renaming:
    """What the new circuit has under another name only, and positions likewise.

    Two statements are paired if they say the same as far as the names in them
    are known, something that reads the one says the same as something that
    reads the other, and no other two of the old or the new circuit do; where
    several do, the pair goes first that makes most statements the same, and of
    equals the first of the text.  Pairs make more names known, and so on.  A
    name that both circuits have stays with the thing that has it.  Nothing
    rests on the guess: what is compared afterwards is the renamed circuit.
    """
    work = _Work(old, new)
    work.pair()
    known = Renaming(work.things, work.places)
    told = renamed(old, known)
    standings = _standings(told, new)
    told = renamed(told, Renaming(standings=standings))
    return replace(
        known,
        standings=standings,
        signals=_by_meaning(told.signals, new.signals, lambda x: repr(normal(x))),
        properties=_by_meaning(told.properties, new.properties, question),
    )


def question(asked: Property) -> str:
    """What the property asks, however it is called and written."""
    sentence = asked.sentence
    parts = (getattr(sentence, one.name) for one in fields(sentence))
    told = tuple(normal(part) if isinstance(part, Condition) else part for part in parts)
    return repr((type(sentence), told, asked.even_for_an_instant, asked.start))


def _standings(old: Circuit, new: Circuit) -> dict[str, str]:
    def says(state: Any) -> str:
        return repr((sorted(state.positions.items()), sorted(state.values.items())))

    return _by_meaning(old.standings, new.standings, says)


def _by_meaning(
    old: Mapping[str, Any], new: Mapping[str, Any], says: Callable[[Any], str]
) -> dict[str, str]:
    """New names of what only the new one has by that name, as many of either that say the same."""
    groups: dict[str, Group] = defaultdict(lambda: ([], []))
    for side, (mine, others) in enumerate(((old, new), (new, old))):
        for name, thing in mine.items():
            if name not in others:
                groups[says(thing)][side].append(name)
    pairs = (group for group in groups.values() if len(group[0]) == len(group[1]))
    return {was: now for group in pairs for was, now in zip(*group, strict=True)}


class _Work:
    """Pairs found so far between two circuits."""

    def __init__(self, old: Circuit, new: Circuit) -> None:
        self.old, self.new = old, new
        self.was, self.now = _names(old), _names(new)
        self.readers = _readers_of(old), _readers_of(new)
        self.things: dict[str, str] = {}
        self.places: dict[str, dict[str, str]] = {}

    def pair(self) -> None:
        while self._positions() or self._things(loose=False) or self._things(loose=True):
            pass

    # ---- things

    def _things(self, *, loose: bool) -> bool:
        """The next pairs; no position of what is not paired yet counts if loose."""
        groups = [group for kind in KINDS for group in self._alike(kind, loose=loose)]
        pairs: dict[str, str] = {}
        for olds, news in groups:
            if len(olds) == 1 and self._fit(olds[0], news[0]):
                pairs[olds[0]] = news[0]
        for olds, news in groups if not pairs else ():
            fits = [(old, new) for old in olds for new in news if self._fit(old, new)]
            if fits:
                pairs = dict([max(fits, key=lambda pair: self._same(dict([pair])))])
                break
        self.things |= pairs
        return bool(pairs)

    def _alike(self, kind: str, *, loose: bool) -> Iterator[Group]:
        """The unpaired of one kind, as many of either circuit, that say the same."""
        before, after = getattr(self.old, kind), getattr(self.new, kind)
        paired = {*self.things.values()}
        gone = [name for name in before if name not in self.now and name not in self.things]
        come = [name for name in after if name not in self.was and name not in paired]
        if not gone or not come:
            return
        veils = self._veils({}, {}, loose=loose)
        alike: dict[str, Group] = defaultdict(lambda: ([], []))
        for side, (names, things) in enumerate(((gone, before), (come, after))):
            for name in names:
                alike[_says(things[name], veils[side])][side].append(name)
        yield from (group for group in alike.values() if len(group[0]) == len(group[1]))

    def _fit(self, name: str, other: str) -> bool:
        """Positions called otherwise can be paired as well, and what reads the two bears it out."""
        before = self.old.positions.get(name, ())
        if {*before} != {*self.new.positions.get(other, ())}:
            return bool(self._placed(name, other, {name: other}))
        return self._borne_out(name, other, {name: other}, {})

    def _veils(
        self, things: dict[str, str], places: dict[str, dict[str, str]], *, loose: bool
    ) -> tuple[Renaming, Renaming]:
        """How each circuit reads with these pairs too, and what is not paired yet veiled."""
        things, places = {**self.things, **things}, {**self.places, **places}
        gone = self.was - self.now - {*things}
        come = self.now - self.was - {*things.values()}
        blurred: list[dict[str, dict[str, str]]] = [{}, {}]
        if loose:
            unsure = [*self._unsure(things, places)]
            blurred[0] = _blurred(self.old, {*gone, *(one for one, _ in unsure)})
            blurred[1] = _blurred(self.new, {*come, *(other for _, other in unsure)})
        return (
            Renaming({**things, **dict.fromkeys(gone, _UNKNOWN)}, {**places, **blurred[0]}),
            Renaming(dict.fromkeys(come, _UNKNOWN), blurred[1]),
        )

    def _unsure(
        self, things: dict[str, str], places: dict[str, dict[str, str]]
    ) -> Iterator[tuple[str, str]]:
        """What is paired, but not its positions yet."""
        after = self.new.positions
        for name, before in self.old.positions.items():
            other = things.get(name, name)
            if other in after and name not in places and {*before} != {*after[other]}:
                yield name, other

    # ---- positions

    def _positions(self) -> bool:
        """New names of the positions of one thing that is paired."""
        for name in self.old.positions:
            other = self.things.get(name, name)
            if other in self.new.positions and name not in self.places:
                found = self._placed(name, other, {})
                if found:
                    self.places[name] = found
                    return True
        return False

    def _placed(self, name: str, other: str, things: dict[str, str]) -> dict[str, str]:
        """New names of the one's positions by which it says what the other does."""
        before, after = self.old.positions[name], self.new.positions[other]
        gone = [place for place in before if place not in after]
        come = [place for place in after if place not in before]
        if not gone or len(gone) != len(come) or len(gone) > _MOST_PLACES:
            return {}
        every = [dict(zip(gone, order, strict=True)) for order in permutations(come)]
        fits = [each for each in every if self._borne_out(name, other, things, {name: each})]
        return max(fits, key=lambda each: self._same(things, {name: each}), default={})

    # ---- what bears a pair out

    def _borne_out(
        self, name: str, other: str, things: dict[str, str], places: dict[str, dict[str, str]]
    ) -> bool:
        """Both say the same then, and so does something that reads them, if anything does."""
        veils = self._veils(things, places, loose=True)
        was, now = (_told(one, veil) for one, veil in zip((self.old, self.new), veils, strict=True))
        if was[name][0] != now[other][0]:
            return False
        pairs = [(name, other)] if was[name][1] or now[other][1] else []
        for reader in self.readers[0].get(name, ()):
            pairs.append((reader, things.get(reader, self.things.get(reader, reader))))
        if not pairs and not self.readers[1].get(other):
            return True
        come = [now[reader] for reader in self.readers[1].get(other, ()) if reader not in self.was]
        return any(
            was[one] == now.get(two) or (two not in now and was[one] in come) for one, two in pairs
        )

    def _same(self, things: dict[str, str], places: dict[str, dict[str, str]] | None = None) -> int:
        """How many statements are the same with these pairs too, by the names known then."""
        veils = self._veils(things, places or {}, loose=False)
        was, now = (_told(one, veil) for one, veil in zip((self.old, self.new), veils, strict=True))
        names = {**self.things, **things}
        return sum(now.get(names.get(name, name)) == says for name, says in was.items())


def _blurred(circuit: Circuit, names: Iterable[str]) -> dict[str, dict[str, str]]:
    """The positions of these, all called the same."""
    places = circuit.positions
    return {name: dict.fromkeys(places[name], _SOMEWHERE) for name in names if name in places}


def _says(thing: Any, veil: Renaming) -> str:
    return repr(normal_thing(renamed_thing(thing, veil)))


def _told(circuit: Circuit, veil: Renaming) -> dict[str, tuple[str, tuple[str, ...]]]:
    """By name what each statement says, and the rules on it."""
    rules: dict[str, list[str]] = defaultdict(list)
    for rule in rules_of(circuit):
        bare = replace(rule, name="", title="") if isinstance(rule, Interlock) else rule
        rules[rule.control].append(_says(bare, veil))
    return {
        name: (_says(thing, veil), tuple(sorted(rules[name])))
        for kind in KINDS
        for name, thing in getattr(circuit, kind).items()
    }


def _readers_of(circuit: Circuit) -> dict[str, tuple[str, ...]]:
    found: dict[str, list[str]] = defaultdict(list)
    for reader, read in readers(circuit):
        for name in read - {reader}:
            found[name].append(reader)
    return {name: tuple(dict.fromkeys(who)) for name, who in found.items()}


def _names(circuit: Circuit) -> set[str]:
    return {name for kind in KINDS for name in getattr(circuit, kind)}
