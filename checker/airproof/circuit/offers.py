"""Switch steps on a board: which single moves there are, and what each does to the bits."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from airproof.circuit.board import TIMERS, Board
from airproof.circuit.conditions import Condition
from airproof.circuit.formulas import (
    ALWAYS,
    NEVER,
    Formula,
    Test,
    all_of,
    any_of,
    compiled,
    has,
    opposite,
    split,
)
from airproof.circuit.glances import Glance
from airproof.circuit.kinds import Control, Device, Interlock, Move, Timer
from airproof.circuit.properties import KeptRule
from airproof.circuit.switching import towards
from airproof.circuit.tables import Tables


@dataclass(frozen=True, slots=True)
class Offer:
    """One move of one component.

    mask, value, open: it may be made in a state, other moves aside, if the bits of `mask`
             are just those of `value`, and what `open` asks besides is so
    due:     it must be made before time passes, read off the bits of a step's inside
    allowed: what a control's rules ask once more of the state after the step, in which
             the bits of `own` are put back as they were
    clear, put: the bits that it takes away, and those it sets
    hand:    the bit of a control that has moved; 0 for what moves by itself
    """

    name: str
    mask: int
    value: int
    open: Test
    due: Test | None
    clear: int
    put: int
    hand: int = 0
    own: int = 0
    allowed: Test | None = None


@dataclass(frozen=True, slots=True)
class Offers:
    """All moves of a circuit but those of range controls.

    due: whether anything at all is due, whether it can move or not
    """

    board: Board
    hands: tuple[Offer, ...]
    others: tuple[Offer, ...]
    due: Test

    def by_itself(self, facts: int) -> list[Offer]:
        """What devices and timers may do, each alone."""
        return [o for o in self.others if facts & o.mask == o.value and o.open(facts)]

    def by_hand(self, facts: int) -> list[Offer]:
        """What controls may do, each alone."""
        return [o for o in self.hands if facts & o.mask == o.value and o.open(facts)]

    def after(self, facts: int, chosen: Sequence[Offer]) -> int | None:
        """The bits after these moves at once, one of a component; None if a rule forbids them."""
        after = facts & ~self.board.rested
        if facts & self.board.rested:
            after &= ~self.board.all_fresh
        for offer in chosen:
            after = after & ~offer.clear | offer.put | offer.hand
        for offer in chosen:
            if offer.allowed and not offer.allowed(after & ~offer.own | facts & offer.own):
                return None
        return after


def offers_of(board: Board, tables: Tables) -> Offers:
    """The circuit's moves on this board."""
    circuit = board.circuit
    maker = _Maker(board, tables, Glance(board, instant=True), Glance(board, instant=False))
    devices = [o for device in circuit.devices.values() for o in maker.of_device(device)]
    timers = [o for timer in circuit.timers.values() for o in maker.of_timer(timer)]
    due = [*maker.dues, *(maker.overdue(rule) for rule in circuit.interlocks.values())]
    return Offers(
        board=board,
        hands=tuple(o for c in circuit.controls.values() for o in maker.of_control(c)),
        others=(*devices, *timers),
        due=compiled(any_of(due)),
    )


class _Maker:
    def __init__(self, board: Board, tables: Tables, now: Glance, inside: Glance) -> None:
        self.board, self.tables, self.now, self.inside = board, tables, now, inside
        self.dues: list[Formula] = []

    def of_device(self, device: Device) -> Iterator[Offer]:
        for here in device.positions:
            yield from self._leaving(device, here)
            if device.moving is not None:
                for left in device.positions:
                    if left != here:
                        yield from self._on_the_way(device, left, here)

    def _leaving(self, device: Device, here: str) -> Iterator[Offer]:
        """From rest, at once or setting off."""
        rests = self.board.rests[device.name, here]
        for move in _elsewhere(device, here):
            left = here if device.moving is not None else None
            due = all_of((has(rests), self.inside.plain(move.when, "must")))
            self.dues.append(due)
            yield self._offer(device, rests, move.when, (move.to, left), due)

    def _on_the_way(self, device: Device, left: str, bound: str) -> Iterator[Offer]:
        """Arriving, or turning round."""
        board, name = self.board, device.name
        place = board.bound[name, bound] | board.left[name, left]
        aged = board.way[name] << board.shift
        yield Offer(
            name,
            *split(has(place | aged)),
            None,
            self._bits(device),
            board.standing(name, bound),
        )
        for move in _elsewhere(device, bound):
            from_there = bound if move.to == left else left
            yield self._offer(device, place, move.when, (move.to, from_there), None)

    def _offer(
        self,
        device: Device,
        place: int,
        when: Condition,
        goes: tuple[str, str | None],
        due: Formula | None,
    ) -> Offer:
        return Offer(
            device.name,
            *split(all_of((has(place), self.now.plain(when, "can")))),
            compiled(due) if due else None,
            self._bits(device),
            self.board.standing(device.name, *goes),
        )

    def _bits(self, device: Device) -> int:
        """Every bit that says where the device is."""
        board, name = self.board, device.name
        bits = 0
        for place in ((name, position) for position in device.positions):
            bits |= board.bound[place] | board.rests[place] | board.joins[place]
            bits |= board.left.get(place, 0)
        way = board.way.get(name, 0)
        return bits | way | way << board.shift

    def of_timer(self, timer: Timer) -> Iterator[Offer]:
        running, expired = (self.board.timer[timer.name, word] for word in TIMERS)
        yield Offer(timer.name, *split(has(running)), None, running, expired)
        awake = any_of((has(running), has(expired)))
        may = all_of((awake, opposite(self.now.plain(timer.runs, "must"))))
        due = all_of((has(expired), opposite(self.inside.plain(timer.runs, "can"))))
        self.dues.append(due)
        yield Offer(timer.name, *split(may), compiled(due), running | expired, 0)

    # ---- controls

    def overdue(self, rule: Interlock) -> Formula:
        """A control is not where an interlock forces it."""
        if rule.rule != "forced":
            return NEVER
        there = has(self.board.bound[rule.control, rule.position])
        return all_of((opposite(there), self.inside.plain(rule.condition, "must")))

    def of_control(self, control: Control) -> Iterator[Offer]:
        """Every single move of a control that is not sealed."""
        if control.sealed is not None:
            return
        for at, here in enumerate(control.positions):
            for to, there in enumerate(control.positions):
                if here != there and (not control.ordered or abs(at - to) == 1):
                    yield self._hand(control, here, there)

    def _hand(self, control: Control, here: str, there: str) -> Offer:
        board, name = self.board, control.name
        rules = [rule for _, rule in self.tables.rules[name]]
        bound, hand = board.bound[name, here], board.fresh[name]
        forced = any_of(self._forces(rule, control, here, there) for rule in rules)
        once = any_of((opposite(has(hand)), has(board.rested), forced))
        allowed = all_of(self._allows(rule, control, here, there) for rule in rules)
        due = any_of(
            all_of((has(bound), self.overdue(rule)))
            for rule in rules
            if isinstance(rule, Interlock) and towards(rule, control, here, there)
        )
        return Offer(
            name,
            *split(all_of((has(bound), once, allowed))),
            compiled(due) if due != NEVER else None,
            bound,
            board.bound[name, there],
            hand,
            hand | sum(board.bound[name, position] for position in control.positions),
            compiled(allowed) if rules else None,
        )

    def _forces(
        self, rule: Interlock | KeptRule, control: Control, here: str, there: str
    ) -> Formula:
        if rule.rule == "forced" and towards(rule, control, here, there):
            return self.now.plain(rule.condition, "can")
        return NEVER

    def _allows(
        self, rule: Interlock | KeptRule, control: Control, here: str, there: str
    ) -> Formula:
        match rule.rule:
            case "only":
                binds = there == rule.position
                return self.now.plain(rule.condition, "can") if binds else ALWAYS
            case "locked":
                binds = here == rule.position
            case "forced":
                binds = not towards(rule, control, here, there)
        return opposite(self.now.plain(rule.condition, "must")) if binds else ALWAYS


def _elsewhere(device: Device, here: str) -> Iterable[Move]:
    return (move for move in device.moves if move.to != here)
