"""Why something moved: whether it was due or allowed, and the facts that made it so."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from airproof.circuit.conditions import AllOf, AnyOf, Compare, Condition, Flowing, Not
from airproof.circuit.kinds import ATMOSPHERE, Circuit, Interlock
from airproof.circuit.properties import KeptRule
from airproof.circuit.readings import Instant, edges
from airproof.circuit.state import State
from airproof.circuit.switching import Moved
from airproof.circuit.tables import Tables
from airproof.report.figures import Figures
from airproof.report.words import comparison, condition, inward


@dataclass(frozen=True, slots=True)
class Teller:
    """Tells one story: its circuit and its way with figures."""

    tables: Tables
    figures: Figures

    @property
    def circuit(self) -> Circuit:
        return self.tables.circuit

    def move(self, move: Moved, before: State) -> str:
        """One move and its reason, as a sentence without its full stop."""
        view = Instant(self.tables, before)
        match move.kind:
            case "control":
                return self._hand(move) + self._permission(move, view)
            case "range":
                return self._setting(move)
            case "timer expires":
                return f"{move.name} expires"
            case "timer reset":
                runs = self.circuit.timers[move.name].runs
                return f"{move.name} is reset, because {self.because(Not(runs), view)}"
            case "arrives":
                return f"{move.name} arrives at {move.now}, having left {move.was}"
        return self._track(move) + self._call(move, view)

    def _hand(self, move: Moved) -> str:
        person = self.circuit.controls[move.name].worked_by
        track = f"from {move.was} to {move.now}"
        if person is None or person == "outside":
            return f"{move.name} moves {track}"
        return f"{person} moves {move.name} {track}"

    def _setting(self, move: Moved) -> str:
        person = self.circuit.range_controls[move.name].worked_by
        old = self.figures.bare(move.name, Fraction(move.was))
        new = self.figures.full(move.name, Fraction(move.now))
        if person is None or person == "outside":
            return f"{move.name} is set from {old} to {new}"
        return f"{person} sets {move.name} from {old} to {new}"

    def _permission(self, move: Moved, view: Instant) -> str:
        rules = self.tables.rules.get(move.name, ())
        reasons = (self._ruled(rule, move, view) for _, rule in rules)
        return "".join(f"; {reason}" for reason in reasons if reason)

    def _ruled(self, rule: Interlock | KeptRule, move: Moved, view: Instant) -> str | None:
        match rule.rule:
            case "only" if rule.position == move.now:
                return f"allowed, because {self.because(rule.condition, view)}"
            case "locked" if rule.position == move.was:
                return f"not locked, because {self.because(Not(rule.condition), view)}"
            case "forced" if view.plain(rule.condition)[0]:
                return f"forced, because {self.because(rule.condition, view)}"
        return None

    def _track(self, move: Moved) -> str:
        if move.kind == "turns round":
            return f"{move.name}, bound for {move.was}, turns round to {move.now}"
        verb = "sets off" if move.kind == "sets off" else "moves"
        return f"{move.name} {verb} from {move.was} to {move.now}"

    def _call(self, move: Moved, view: Instant) -> str:
        clauses = self.circuit.devices[move.name].moves
        calls = [clause.when for clause in clauses if clause.to == move.now]
        called = [call for call in calls if view.plain(call)[0]]
        if not called:
            return ""
        sure = [call for call in called if view.plain(call)[1]]
        on_the_way = move.kind == "turns round"  # never due at any speed
        word = "it is due" if sure and not on_the_way else "it may"
        return f"; {word}, because {self.because((sure or called)[0], view)}"

    def because(self, tree: Condition, view: Instant) -> str:
        """The facts in this state that let the condition count as true."""
        facts = dict.fromkeys(self._facts(inward(tree), view))
        return " and ".join(facts) or "nothing stands against it"

    def _facts(self, tree: Condition, view: Instant) -> Iterator[str]:
        match tree:
            case AllOf(parts):
                for part in parts:
                    yield from self._facts(part, view)
            case AnyOf(parts):
                able = [part for part in parts if view.plain(part)[0]]
                sure = [part for part in able if view.plain(part)[1]]
                yield from self._facts((sure or able or list(parts))[0], view)
            case Compare():
                yield self._measured(tree, view)
            case Flowing(flow):
                yield f"{flow} is flowing ({self._ends(flow, view.state)})"
            case _:
                yield condition(tree, self.figures.units)

    def _measured(self, leaf: Compare, view: Instant) -> str:
        values = view.state.values
        held = " and ".join(
            f"{name} is {self.figures.full(name, values[name])}" for name in leaf.form.names
        )
        asked = comparison(leaf, self.figures.units)
        if view.plain(leaf)[1]:
            return f"{held} ({asked})"
        if not leaf.tolerance:
            return f"{held}, at the edge of {asked}"
        if len(leaf.form.terms) > 1:
            return f"{held}, within the tolerance of {asked}"
        near, name = edges(leaf)[0], leaf.form.names[0]
        way = "up" if leaf.order in (">=", ">") else "down"
        return f"{held}, and it may move from {self.figures.full(name, near)} {way} ({asked})"

    def _ends(self, flow: str, state: State) -> str:
        ends = (self.circuit.flows[flow].source, self.circuit.flows[flow].target)
        return ", ".join(
            f"{end} {self.figures.full(end, state.values[end])}"
            for end in ends
            if end != ATMOSPHERE
        )
