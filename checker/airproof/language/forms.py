"""Comparisons: what a form weighs up, in one dimension, against one constant."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction

from airproof.base.quantities import COUNT, PRESSURE, Dimension, base_unit, spoken
from airproof.base.source import Span
from airproof.circuit.conditions import Compare, Order, Truth, compare, form_of
from airproof.circuit.kinds import ATMOSPHERE
from airproof.language import syntax
from airproof.language.names import Problems, Scope, Table


@dataclass(frozen=True, slots=True)
class Sum:
    """Named weights and a constant; `terms` and `constants` as they stand in the text."""

    weights: dict[str, Fraction] = field(default_factory=dict)
    terms: list[tuple[syntax.Term, Dimension]] = field(default_factory=list)
    constants: list[tuple[syntax.Measure, Fraction]] = field(default_factory=list)

    @property
    def constant(self) -> Fraction:
        return sum((sign * measure.value for measure, sign in self.constants), Fraction(0))

    @property
    def dimension(self) -> Dimension | None:
        return self.terms[0][1] if self.terms else None


@dataclass(frozen=True, slots=True)
class FormReader:
    """Reads comparisons in one scope."""

    table: Table
    scope: Scope
    problems: Problems

    def comparison(self, node: syntax.Comparison) -> Compare | Truth | None:
        """`left order right` as form, order and constant; None after a problem."""
        found = self._difference(node.left, node.right, ())
        if found is None:
            return None
        return self._settled(found, node.order, node.tolerance, node.span)

    def offset(self, node: syntax.Offset) -> Compare | Truth | None:
        """`left is by below right` as right - left >= by; None after a problem."""
        below = node.side == "below"
        high, low = (node.right, node.left) if below else (node.left, node.right)
        found = self._difference(high, low, (node.by,))
        if found is None:
            return None
        return self._settled(found, ">=", node.tolerance, node.span)

    def _difference(
        self, left: syntax.Form, right: syntax.Form, less: Iterable[syntax.Measure]
    ) -> Sum | None:
        """left - right - less, if all of it is of one dimension."""
        before = len(self.problems)
        total = Sum()
        complete = self._add(total, left, Fraction(1)) & self._add(total, right, Fraction(-1))
        total.constants.extend((measure, Fraction(-1)) for measure in less)
        if complete:
            self._check_dimensions(total)
        return total if complete and len(self.problems) == before else None

    def _add(self, total: Sum, form: syntax.Form, factor: Fraction) -> bool:
        complete = True
        for part in form.parts:
            if isinstance(part, syntax.Constant):
                total.constants.append((part.measure, factor * part.sign))
            else:
                complete = self._add_term(total, part, factor) and complete
        return complete

    def _add_term(self, total: Sum, term: syntax.Term, factor: Fraction) -> bool:
        if self.scope.full(term.name.text) == ATMOSPHERE:
            total.terms.append((term, PRESSURE))
            return True
        entry = self.table.find(term.name, self.scope, "value")
        if entry is None:
            return False
        had = total.weights.get(entry.name, Fraction(0))
        total.weights[entry.name] = had + factor * term.weight
        total.terms.append((term, entry.dimension or COUNT))
        return True

    def _check_dimensions(self, total: Sum) -> None:
        due = total.dimension
        if due is None:
            return
        for term, dimension in total.terms[1:]:
            if dimension != due:
                self._other_term(term, dimension, total)
        for measure, _ in total.constants:
            check_dimension(self.problems, measure, due, total.terms[0][0].name.text)

    def _other_term(self, term: syntax.Term, dimension: Dimension, total: Sum) -> None:
        first, due = total.terms[0]
        data = {
            "name": term.name.text,
            "is": spoken(dimension),
            "other": first.name.text,
            "due": spoken(due),
        }
        self.problems.add("terms_differ", term.span, **data)

    def _settled(
        self, found: Sum, order: Order, tolerance: syntax.Measure | None, span: Span
    ) -> Compare | Truth | None:
        if not any(found.weights.values()):
            if any(term.name.text in self.scope.ports for term, _ in found.terms):
                return Truth(_holds(order, found.constant))  # a port bound so decides it
            self.problems.add(_why_empty(found), span)
            return None
        if not self._absolute_is_clear(found):
            return None
        allowed = self._tolerance(found, tolerance)
        if allowed is None:
            return None
        return compare(form_of(found.weights), order, -found.constant, allowed)

    def _absolute_is_clear(self, found: Sum) -> bool:
        """`bar abs` needs one pressure against one constant: 1.01325 bar is taken off once."""
        absolute = [measure for measure, _ in found.constants if measure.unit.absolute]
        alone = len(found.constants) == 1 and len(found.terms) == 1
        if not absolute or (alone and abs(found.terms[0][0].weight) == 1):
            return True
        self.problems.add("absolute_in_sum", absolute[0].span, written=written(absolute[0]))
        return False

    def _tolerance(self, found: Sum, tolerance: syntax.Measure | None) -> Fraction | None:
        if tolerance is None:
            return Fraction(0)
        if tolerance.unit.name == "%":
            absolute = any(measure.unit.absolute for measure, _ in found.constants)
            if absolute or found.constant == 0:
                code = "percent_of_absolute" if absolute else "percent_of_nothing"
                self.problems.add(code, tolerance.span, written=written(tolerance))
                return None
            return abs(found.constant) * tolerance.value
        due = found.dimension or COUNT
        name = found.terms[0][0].name.text
        return tolerance.value if check_dimension(self.problems, tolerance, due, name) else None


def _holds(order: Order, value: Fraction) -> bool:
    """Whether `value order 0`."""
    return {">=": value >= 0, ">": value > 0, "<=": value <= 0, "<": value < 0}[order]


def _why_empty(found: Sum) -> str:
    if not found.terms:
        return "compares_constants"
    return "cancels_out" if found.weights else "compares_atmosphere"


def check_dimension(problems: Problems, measure: syntax.Measure, due: Dimension, name: str) -> bool:
    """Whether the measure has the dimension of the named value; otherwise a problem."""
    if measure.unit.dimension == due and measure.unit.name != "%":
        return True
    data = {
        "written": written(measure),
        "is": spoken(measure.unit.dimension),
        "name": name,
        "due": spoken(due),
        "offer": f"{measure.written} {base_unit(due)}".strip(),
    }
    bare = measure.unit.name == ""
    problems.add("bare_number" if bare else "other_dimension", measure.span, **data)
    return False


def written(measure: syntax.Measure) -> str:
    """The measure as it stands in the text."""
    return f"{measure.written} {measure.unit.name}".strip()
