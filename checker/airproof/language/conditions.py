"""Conditions: names looked up, signals replaced by what they stand for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from airproof.base.diagnostics import listed, nearest
from airproof.base.source import Span
from airproof.circuit.conditions import (
    YES,
    AllOf,
    AnyOf,
    At,
    Compare,
    Condition,
    Expired,
    Flowing,
    GoneTo,
    Not,
    OnTheWay,
    leaves,
)
from airproof.language import syntax
from airproof.language.forms import FormReader
from airproof.language.names import Entry, Problems, Scope, Table
from airproof.language.parts import Placed

MOST_LEAVES = 2_000  # of one condition with its signals written out
DEEPEST = 200  # brackets and `not` within one another, signals written out
LONGEST_CHAIN = 64  # signals that stand for signals


@dataclass(frozen=True, slots=True)
class Signals:
    """The signals of the circuit, each written out when it is first read."""

    texts: dict[str, tuple[syntax.Signal, Scope]]
    written_out: dict[str, Condition] = field(default_factory=dict)


def signals_of(placed: Iterable[Placed]) -> Signals:
    """Every signal by its full name, none written out yet."""
    texts: dict[str, tuple[syntax.Signal, Scope]] = {}
    for one in placed:
        if isinstance(one.statement, syntax.Signal):
            texts.setdefault(one.scope.full(one.statement.name.text), (one.statement, one.scope))
    return Signals(texts)


@dataclass(frozen=True, slots=True)
class ConditionReader:
    """Reads conditions in one scope.

    exact: a tolerance is an error here
    chain: the signals being written out, outermost first
    """

    table: Table
    signals: Signals
    scope: Scope
    problems: Problems
    exact: bool = False
    chain: tuple[str, ...] = ()

    def read(self, node: syntax.Condition) -> Condition:
        """The condition; `YES` stands where a problem was found."""
        found = self._read(node)
        code = _excess(found)
        if code is None:
            return found
        most = MOST_LEAVES if code == "condition_too_large" else DEEPEST
        self.problems.add(code, node.span, most=str(most))
        return YES

    def _read(self, node: syntax.Condition) -> Condition:
        match node:
            case syntax.All(parts=parts):
                return AllOf(tuple(self._read(part) for part in parts))
            case syntax.Some(parts=parts):
                return AnyOf(tuple(self._read(part) for part in parts))
            case syntax.Negation(part=part):
                return Not(self._read(part))
            case syntax.Comparison() | syntax.Offset():
                return self._compare(node)
            case syntax.Signalled():
                return self._signal(node)
            case syntax.HasGoneTo():
                return self._gone_to(node)
            case _:
                truth = self._plain(node)
                return Not(truth) if node.negated and truth != YES else truth

    def _plain(
        self, node: syntax.Is | syntax.IsMoving | syntax.IsFlowing | syntax.HasExpired
    ) -> Condition:
        match node:
            case syntax.Is(subject=subject, position=position):
                return self.at(subject, position) or YES
            case syntax.IsMoving(subject=subject):
                return self._on_the_way(subject)
            case syntax.IsFlowing(subject=subject):
                return self._flowing(subject)
            case syntax.HasExpired(subject=subject):
                timer = self.table.find(subject, self.scope, "timer")
                return Expired(timer.name) if timer else YES

    def _compare(self, node: syntax.Comparison | syntax.Offset) -> Condition:
        if self.exact and node.tolerance is not None:
            self.problems.add("tolerance_here", node.tolerance.span)
        reader = FormReader(self.table, self.scope, self.problems)
        if isinstance(node, syntax.Offset):
            return reader.offset(node) or YES
        return reader.comparison(node) or YES

    def at(self, subject: syntax.Name, position: syntax.Name) -> At | None:
        """`subject is position`, if it has that position."""
        entry = self.table.find(subject, self.scope, "positions")
        if entry is None or not self.has_position(entry, position):
            return None
        return At(entry.stands, position.text)

    def has_position(self, entry: Entry, position: syntax.Name) -> bool:
        """Whether the thing has the position; otherwise a problem."""
        if position.text in entry.positions:
            return True
        data = {
            "position": position.text,
            "name": entry.name,
            "word": entry.word,
            "positions": listed(entry.positions, "and"),
        }
        meant = nearest(position.text, entry.positions)
        if entry.positions:
            self.problems.add("unknown_position", position.span, meant, **data)
        return False

    def _on_the_way(self, subject: syntax.Name) -> Condition:
        entry = self.table.find(subject, self.scope, "device")
        if entry is None:
            return YES
        if not entry.moving:
            data = {"name": subject.text, "word": entry.word}
            self.problems.add("moves_at_once", subject.span, **data)
            return YES
        return OnTheWay(entry.stands)

    def _flowing(self, subject: syntax.Name) -> Condition:
        entry = self.table.find(subject, self.scope, "flow")
        if entry is None:
            return YES
        flows = tuple(Flowing(flow) for flow in entry.flows)
        return flows[0] if len(flows) == 1 else AnyOf(flows)

    def _gone_to(self, node: syntax.HasGoneTo) -> Condition:
        entry = self.table.find(node.subject, self.scope, "control")
        if entry is None or not self.has_position(entry, node.position):
            return YES
        return GoneTo(entry.stands, node.position.text)

    def _signal(self, node: syntax.Signalled) -> Condition:
        entry = self.table.find(node.name, self.scope, "signal")
        if entry is None:
            return YES
        condition = self.written_out(entry.name, node.span)
        if self.exact and any(isinstance(x, Compare) and x.tolerance for x in leaves(condition)):
            self.problems.add("tolerance_in_signal", node.span, name=node.name.text)
        return condition

    def written_out(self, name: str, span: Span) -> Condition:
        """What the signal of this full name stands for, problems at its first reader."""
        if name in self.signals.written_out:
            return self.signals.written_out[name]
        if name in self.chain or len(self.chain) >= LONGEST_CHAIN:
            self._endless(name, span)
            return YES
        statement, scope = self.signals.texts[name]
        chain = (*self.chain, name)
        reader = ConditionReader(self.table, self.signals, scope, self.problems, chain=chain)
        condition = reader.read(statement.condition)
        self.signals.written_out[name] = condition
        return condition

    def _endless(self, name: str, span: Span) -> None:
        if name in self.chain:
            loop = (*self.chain[self.chain.index(name) :], name)
            way = " -> ".join(f"`{each}`" for each in loop)
            self.problems.add("signal_in_itself", span, name=name, way=way)
        else:
            self.problems.add("signals_too_deep", span, most=str(LONGEST_CHAIN))


def _excess(condition: Condition) -> str | None:
    """What is too much about a condition, found without walking further than allowed."""
    stack = [(condition, 1)]
    count = 0
    while stack:
        here, depth = stack.pop()
        if depth > DEEPEST:
            return "condition_too_deep"
        if isinstance(here, Not):
            stack.append((here.part, depth + 1))
        elif isinstance(here, AllOf | AnyOf):
            stack.extend((part, depth + 1) for part in here.parts)
        else:
            count += 1
            if count > MOST_LEAVES:
                return "condition_too_large"
    return None
