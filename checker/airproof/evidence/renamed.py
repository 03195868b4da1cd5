"""What was found out about a circuit, told in the words of the same circuit renamed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TypeVar

from airproof.circuit.conditions import compare, form_of
from airproof.circuit.kinds import Circuit
from airproof.circuit.renamed import Renaming
from airproof.circuit.state import State
from airproof.evidence.certificate import Invariant
from airproof.evidence.health import Finding
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Retried, Verdict
from airproof.transition.literals import Bit, Edge, Literal

Value = TypeVar("Value")


@dataclass(frozen=True, slots=True)
class Retold:
    """Brings evidence from one circuit to the other, which is the same but for its words.

    names: of the one circuit in the other
    A certificate that comes out wrong proves nothing: whoever uses it checks it.
    """

    one: Circuit
    other: Circuit
    names: Renaming

    def verdict(self, verdict: Verdict) -> Verdict:
        """The verdict with what shows it; what it leans on is left out.

        Of what was asked of it again the answers are told, without their runs.
        """
        names = self.names.properties
        return replace(
            verdict,
            property=names.get(verdict.property, verdict.property),
            sequence=verdict.sequence and self.sequence(verdict.sequence),
            certificate=verdict.certificate and self.invariant(verdict.certificate),
            retried=tuple(map(self._again, verdict.retried)),
            leans=None,
        )

    def _again(self, one: Retried) -> Retried:
        device = None if one.device is None else self.names.thing(one.device)
        return replace(one, device=device, sequence=None)

    def finding(self, finding: Finding) -> Finding:
        """The finding by its new names."""
        told = tuple(self._told(finding, name) for name in finding.names)
        return replace(finding, names=told)

    def _told(self, finding: Finding, name: str) -> str:
        thing, link, place = name.partition(" is ")
        if link:
            return f"{self.names.thing(thing)} is {self.names.place(thing, place)}"
        if finding.code.startswith("standing"):
            return self.names.standings.get(name, name)
        return self.names.thing(name)

    def sequence(self, run: Sequence) -> Sequence:
        """The run, state by state."""
        steps = (
            replace(step, after=self._state(step.after), amounts=self._named(step.amounts))
            for step in run.steps
        )
        return Sequence(self._state(run.start), tuple(steps))

    def _state(self, state: State) -> State:
        names = self.names
        places = ((state.positions, "positions"), (state.leaving, "leaving"))
        told = {
            word: {names.thing(n): names.place(n, place) for n, place in found.items()}
            for found, word in places
        }
        return State(
            positions=told["positions"],
            values=self._named(state.values),
            leaving=told["leaving"],
            aged=frozenset(map(names.thing, state.aged)),
            timers=self._named(state.timers),
            fresh=frozenset(map(names.thing, state.fresh)),
            rested=state.rested,
            clocks=self._named(state.clocks),
        )

    def _named(self, found: Mapping[str, Value]) -> dict[str, Value]:
        return {self.names.thing(name): value for name, value in found.items()}

    def invariant(self, proof: Invariant) -> Invariant:
        """The proof, literal by literal."""
        clauses = tuple(tuple(map(self._literal, clause)) for clause in proof.clauses)
        return replace(proof, clauses=clauses)

    def _literal(self, literal: Literal) -> Literal:
        rung = literal.rung
        if isinstance(rung, Edge):
            return self._edge(rung, literal.so)
        word, _, rest = rung.key.partition(" ")
        if word in ("monitor", "rested"):
            return literal
        name, _, place = rest.partition(" ")
        thing = self.names.thing(name)
        if place:
            return Literal(Bit(f"{word} {thing} {self.names.place(name, place)}"), literal.so)
        turned = word == "position" and self._turned(name)
        return Literal(Bit(f"{word} {thing}"), literal.so is not turned)

    def _turned(self, name: str) -> bool:
        """Of two positions, what was the second is the first now."""
        before = self.one.positions[name]
        after = self.other.positions[self.names.thing(name)]
        return after[0] != self.names.place(name, before[0])

    def _edge(self, rung: Edge, so: bool) -> Literal:
        weights = {self.names.thing(name): weight for name, weight in rung.terms}
        told = compare(form_of(weights), rung.order, rung.constant)
        turned = Edge(told.form.terms, ">=" if told.order == ">=" else "<=", told.constant)
        return Literal(turned, so)
