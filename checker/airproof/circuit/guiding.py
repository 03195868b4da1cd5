"""Many random runs of one circuit that go deep: some begin afresh, others where few have been.

The same circuit, start and seed give the same runs, whatever is judged on them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from airproof.circuit.aims import aims_of
from airproof.circuit.exploring import Explorer, Node
from airproof.circuit.offers import Offer
from airproof.circuit.passing import Mood

AFRESH = 4  # one run in so many begins at a start, the others go on from a state of an earlier one
SHORTEST, LONGEST = 4, 28  # new steps of one run
DEEPEST = 120  # steps from the start
KEPT = 12  # states remembered for each aim
OFTEN = 100  # states that meet an aim, after which it is none any more
RECENT = 200  # states with news from which a run may go on


@dataclass(slots=True)
class Run:
    """A run: the state that it goes on from (a start, or one of an earlier run), and its own."""

    origin: Node
    nodes: list[Node]


@dataclass(slots=True)
class _Known:
    """A state that brought news: so many facts that had not been seen together before."""

    node: Node
    news: int
    picks: int = 0


class Guide:
    """Draws the runs of one explorer."""

    def __init__(self, explorer: Explorer) -> None:
        board = explorer.board
        self.explorer, self.rng = explorer, explorer.rng
        self._aims = aims_of(board, explorer.watches)
        self._known: list[_Known] = []
        self._together: dict[int, int] = {}  # for each fact the facts seen with it
        self._ignored = board.rested | board.all_fresh
        flows = enumerate(explorer.circuit.flows)
        self._flow_bit = {name: 1 << (board.size + at) for at, name in flows}
        self._memory_at = board.size + len(self._flow_bit)
        self._taken: dict[int, int] = {}
        self._forced = any(offer.due for offer in explorer.offers.hands)

    def runs(self, count: int) -> Iterator[Run]:
        """So many runs, fewer if no start is found."""
        for at in range(count):
            origin = self._origin(at)
            if origin is None:
                return
            yield Run(origin, list(self._run(origin)))

    def _origin(self, at: int) -> Node | None:
        if at % AFRESH == 0 or not self._known:
            node = self.explorer.start()
            if node is not None:
                self._learn(node, 0)
            if node is not None or not self._known:
                return node
        if self._aims and self.rng.random() < 0.8:
            chosen = self.rng.sample(self._aims, min(2, len(self._aims)))
            aim = min(chosen, key=lambda aim: aim.picks)
            aim.picks += 1
            if aim.nearest:
                return self.rng.choice(aim.nearest)
        few = [self.rng.choice(self._known[-RECENT:]) for _ in range(3)]
        best = max(few, key=lambda known: known.news / (1 + known.picks))
        best.picks += 1
        return best.node

    def _run(self, node: Node) -> Iterator[Node]:
        mood, seen = self._mood(), self._facts(node)
        for _ in range(self.rng.randint(SHORTEST, LONGEST)):
            after = self._step(node, mood)
            if after is not None:
                seen = self._learn(after, seen)
                node = after
                yield node
                if node.depth >= DEEPEST:
                    return

    # ---- one step

    def _mood(self) -> Mood:
        rng, passing = self.rng, self.explorer.passing
        lazy, calm = rng.choice((0.0, 0.0, 0.2, 0.5)), rng.choice((0.0, 0.5, 0.7))
        return Mood(
            greed=rng.choice((0.5, 0.8, 0.95)),
            stir=rng.choice((0.5, 0.9)),
            idle=frozenset(at for at in range(passing.count) if rng.random() < lazy),
            still=frozenset(c for c in self.explorer.circuit.controls if rng.random() < calm),
            hands=rng.choice((0.1, 0.3, 0.5)),
        )

    def _step(self, node: Node, mood: Mood) -> Node | None:
        """What is due moves, time passes, or something that may move does."""
        explorer, rng, facts = self.explorer, self.rng, node.spot.facts
        free = explorer.offers.by_itself(facts)
        due = [offer for offer in free if offer.due and offer.due(facts)]
        if self._forced:
            hands = explorer.offers.by_hand(facts)
            due += [offer for offer in hands if offer.due and offer.due(facts)]
        escape = not due or explorer.passing.on_edge(facts)  # a supply may go where nothing is due
        if due and rng.random() < (0.4 if escape else 0.8):
            return self._together_move(
                node, rng.sample(due, min(len(due), rng.choice((1, 1, 2, 9))))
            )
        if escape and rng.random() >= mood.hands:
            after = explorer.passed(node, mood)
            if after is not None:
                return after
        return self._freely(node, mood, free)

    def _freely(self, node: Node, mood: Mood, free: Sequence[Offer]) -> Node | None:
        explorer, rng = self.explorer, self.rng
        handles = list(explorer.circuit.range_controls)
        if handles and rng.random() < 0.3:
            return explorer.turned(node, rng.choice(handles))
        hands = [o for o in explorer.offers.by_hand(node.spot.facts) if o.name not in mood.still]
        offers = free if free and (not hands or rng.random() < 0.4) else hands
        if not offers:
            return explorer.passed(node, mood)
        chosen = [self._rarer(rng.choice(offers), rng.choice(offers))]
        if rng.random() < 0.25:
            chosen += rng.sample([*free, *hands], min(len(free) + len(hands), rng.choice((1, 2))))
        return self._together_move(node, chosen)

    def _rarer(self, one: Offer, other: Offer) -> Offer:
        taken = self._taken
        rare = min(one, other, key=lambda offer: taken.get(id(offer), 0))
        taken[id(rare)] = taken.get(id(rare), 0) + 1
        return rare

    def _together_move(self, node: Node, offers: Sequence[Offer]) -> Node | None:
        """All of them in one step, one of each component."""
        return self.explorer.switched(node, list({o.name: o for o in offers}.values()))

    # ---- what is new

    def _facts(self, node: Node) -> int:
        """The facts whose company is news: positions, sides of landmarks, flows, memories."""
        facts = node.spot.facts & ~self._ignored
        for flow in node.amounts:
            facts |= self._flow_bit[flow]
        at = self._memory_at
        for memory in node.memories:
            if memory.flags:
                facts |= memory.flags << at
            at += 8
        return facts

    def _learn(self, node: Node, before: int) -> int:
        """Remembers the state if it brings news; gives its facts."""
        facts, news, together = self._facts(node), 0, self._together
        fresh = facts & ~before
        while fresh:
            fact = fresh & -fresh
            fresh ^= fact
            seen = together.get(fact, 0)
            if facts & ~seen:
                news += (facts & ~seen).bit_count()
                together[fact] = seen | facts
        if news:
            self._known.append(_Known(node, news))
            self._compare(node)
        return facts

    def _compare(self, node: Node) -> None:
        """Remembers the state for the aims that it comes as close to as any."""
        facts, spent = node.spot.facts, False
        for aim in self._aims:
            close = aim.closeness(facts, node.memories)
            if close >= aim.most:
                aim.met += 1
                spent = spent or aim.met > OFTEN
            if close > aim.best:
                aim.best, aim.nearest, aim.picks = close, [node], 0
            elif close == aim.best:
                if len(aim.nearest) < KEPT:
                    aim.nearest.append(node)
                else:
                    aim.nearest[self.rng.randrange(KEPT)] = node
        if spent:
            self._aims = [aim for aim in self._aims if aim.met <= OFTEN]
