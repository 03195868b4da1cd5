"""Properties: their sentences as data, their times and where they start."""

from __future__ import annotations

from fractions import Fraction

from airproof.base.diagnostics import nearest
from airproof.circuit.conditions import AllOf, Condition, Not
from airproof.circuit.properties import (
    AfterNever,
    Lasts,
    Never,
    OnceLasted,
    OnlyAfter,
    Possible,
    Property,
    Sentence,
    Within,
)
from airproof.language import syntax
from airproof.language.draft import Here

SEVERITIES = ("catastrophic", "critical", "marginal", "negligible")


def read_property(here: Here, statement: syntax.Property) -> None:
    """`property NAME "title"` with its clauses and its sentence."""
    name = here.name(statement.name)
    start = None
    if statement.start is not None:
        entry = here.table.find(statement.start, here.scope, "state")
        start = entry.name if entry else None
    here.draft.properties[name] = Property(
        name,
        statement.title.text,
        _Sentences(here, statement.name).read(statement.sentence),
        statement.instant,
        start,
        _severity(here, statement),
        statement.reason.text if statement.reason else None,
        statement.hazard.text if statement.hazard else None,
    )


def _severity(here: Here, statement: syntax.Property) -> str | None:
    severity = statement.severity
    if severity is None:
        return None
    if severity.text not in SEVERITIES:
        meant = nearest(severity.text, SEVERITIES)
        here.problems.add("unknown_severity", severity.span, meant, word=severity.text)
    return severity.text


class _Sentences:
    """Reads the sentence of one property; a tolerance in it is an error."""

    def __init__(self, here: Here, name: syntax.Name) -> None:
        self._here = here
        self._name = name

    def read(self, node: syntax.Sentence) -> Sentence:
        match node:
            case syntax.Never(act=act, meanwhile=None):
                return Never(self._condition(act))
            case syntax.Never(act=act, meanwhile=meanwhile):
                return Never(AllOf((self._condition(act), self._condition(meanwhile))))
            case syntax.Always(condition=condition):
                return Never(Not(self._condition(condition)))
            case syntax.Possible(goal=goal):
                return Possible(self._condition(goal))
            case syntax.Whenever():
                return self._whenever(node)
            case _:
                return self._remembering(node)

    def _whenever(self, node: syntax.Whenever) -> Sentence:
        cause, answer = self._condition(node.cause), self._condition(node.answer)
        if node.within is None:
            return Never(AllOf((cause, Not(answer))))
        return Within(cause, answer, self._time(node.within))

    def _remembering(
        self, node: syntax.OnlyAfter | syntax.AfterNever | syntax.OnceLasted | syntax.Lasts
    ) -> Sentence:
        match node:
            case syntax.OnlyAfter(act=act, leave=leave, since=since):
                return OnlyAfter(
                    self._condition(act), self._condition(leave), self._optional(since)
                )
            case syntax.AfterNever(cause=cause, bad=bad, until=until):
                return AfterNever(
                    self._condition(cause), self._condition(bad), self._optional(until)
                )
            case syntax.OnceLasted(cause=cause, lasted=lasted, answer=answer):
                first, then = self._condition(cause), self._condition(answer)
                return OnceLasted(first, then, self._time(lasted))
            case syntax.Lasts(state=state, bound=bound, limit=limit):
                return Lasts(self._condition(state), bound, self._time(limit))

    def _condition(self, node: syntax.Condition | None) -> Condition:
        return self._here.condition(node, exact=True)

    def _optional(self, node: syntax.Condition | None) -> Condition | None:
        return None if node is None else self._condition(node)

    def _time(self, measure: syntax.Measure) -> Fraction:
        return self._here.bands(self._name).measure_above_zero(measure)
