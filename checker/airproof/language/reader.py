"""Lark's trees to the smallest nodes: spans, names, titles, measures, extents."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction

from lark import Token, Tree

from airproof.base.diagnostics import Problem
from airproof.base.quantities import (
    AMOUNT_RATE,
    CONDUCTANCE,
    LENGTH,
    PLAIN,
    PRESSURE,
    PRESSURE_RATE,
    SPOKEN,
    TIME,
    VOLUME,
    Dimension,
    Unit,
    base_unit,
    find_unit,
    spoken,
)
from airproof.base.source import Span
from airproof.language import syntax
from airproof.language.words import RESERVED

Node = Tree[Token]
Child = Node | Token | None

# Dimensions whose values make no sense at or below 0, and below 0.
POSITIVE = (VOLUME, LENGTH, CONDUCTANCE)
NOT_NEGATIVE = (TIME, PRESSURE_RATE, AMOUNT_RATE)


class Reader:
    """Reads the pieces of one statement and collects what is wrong with them."""

    def __init__(self, path: str, offset: int) -> None:
        self.path = path
        self.offset = offset  # lines before the statement's first
        self.problems: list[Problem] = []

    def problem(self, code: str, span: Span, **data: str) -> None:
        """Notes a problem."""
        self.problems.append(Problem(code, span, data))

    def span(self, part: Child) -> Span:
        """Where the tree or token stands in the text."""
        if isinstance(part, Tree):
            return self._span(part.meta)
        if part is None:
            raise TypeError("nothing stands nowhere")
        return self._span(part)

    def _span(self, place: object) -> Span:
        line, column = getattr(place, "line", 1), getattr(place, "column", 1)
        end_line, end_column = getattr(place, "end_line", 1), getattr(place, "end_column", 1)
        return Span(self.path, line + self.offset, column, end_line + self.offset, end_column)

    def name(self, tree: Child) -> syntax.Name:
        """A name in use."""
        token = _only(tree)
        return syntax.Name(str(token), self.span(token))

    def new_name(self, tree: Child) -> syntax.Name:
        """A name that the statement gives; dots and words of the language are refused."""
        name = self.name(tree)
        if "." in name.text:
            self.problem("dotted_name", name.span, name=name.text)
        elif name.text in RESERVED:
            self.problem("reserved_name", name.span, name=name.text)
        return name

    def title(self, tree: Child) -> syntax.Title:
        """A quoted text, its escapes resolved."""
        token = _only(tree)
        return syntax.Title(re.sub(r"\\(.)", r"\1", token[1:-1]), self.span(token))

    def measure(self, tree: Child, dimension: Dimension | None = None) -> syntax.Measure:
        """A number with its unit, checked against the dimension that is due (None: any)."""
        sign, number, unit = _three(tree)
        measure = self.measured(tree, sign, number, unit)
        if dimension is not None:
            self._check_dimension(measure, dimension)
        return measure

    def measured(
        self, tree: Child, sign: Token | None, number: Token, unit: Token | None
    ) -> syntax.Measure:
        """The number and unit that stand in the tree."""
        return self._measure(tree, sign, number, _unit(unit))

    def _measure(
        self, tree: Child, sign: Token | None, number: Token, unit: Unit
    ) -> syntax.Measure:
        written = f"{sign if sign == '-' else ''}{number}"
        return syntax.Measure(unit.to_base(Fraction(written)), unit, written, self.span(tree))

    def _check_dimension(self, measure: syntax.Measure, dimension: Dimension) -> None:
        if measure.unit.dimension == dimension and measure.unit.name != "%":
            self._check_sign(measure, dimension)
            return
        unit = SPOKEN[dimension][1] if dimension in SPOKEN else base_unit(dimension)
        data = {"due": spoken(dimension), "number": measure.written, "unit": unit}
        if measure.unit == PLAIN:
            self.problem("missing_unit", measure.span, **data)
        else:
            self.problem("other_unit", measure.span, found=measure.unit.name, **data)

    def _check_sign(self, measure: syntax.Measure, dimension: Dimension) -> None:
        below = measure.value < 0 and dimension in NOT_NEGATIVE
        if below or (measure.value <= 0 and dimension in POSITIVE):
            data = {"due": spoken(dimension), "number": measure.written}
            self.problem("not_positive", measure.span, **data)

    def tolerance(self, tree: Child, dimension: Dimension | None = None) -> syntax.Measure:
        """What follows `+-`: a share, or a measure of the same dimension."""
        measure = self.measure(tree)
        if measure.written.startswith("-"):
            self.problem("negative_tolerance", measure.span)
        elif measure.unit.absolute:
            self.problem("absolute_tolerance", measure.span, unit=measure.unit.name)
        elif measure.unit.name != "%" and dimension not in (None, measure.unit.dimension):
            self._check_dimension(measure, dimension or PRESSURE)
        return measure

    def extent(self, tree: Child, dimension: Dimension | None = None) -> syntax.Extent:
        """A value, a value with a tolerance, or a range; a range runs upwards."""
        if not isinstance(tree, Tree):
            raise TypeError("an extent is a tree")
        measures = [child for child in tree.children if isinstance(child, Tree)]
        if tree.data == "range":
            return self._range(tree, measures, dimension)
        first = self.measure(measures[0], dimension)
        tolerance = None
        if tree.data == "tolerated":
            tolerance = self.tolerance(measures[1], dimension or first.unit.dimension)
        return syntax.Extent(first, None, tolerance, self.span(tree))

    def _range(
        self, tree: Node, measures: Sequence[Node], dimension: Dimension | None
    ) -> syntax.Extent:
        last = self.measure(measures[1], dimension)
        sign, number, unit = _three(measures[0])
        if unit is None:
            first = self._measure(measures[0], sign, number, last.unit)
        else:
            first = self.measure(measures[0], dimension)
        if first.unit.dimension != last.unit.dimension:
            self._check_dimension(last, first.unit.dimension)
        elif first.value > last.value:
            self.problem("range_backwards", self.span(tree))
        return syntax.Extent(first, last, None, self.span(tree))


def _only(tree: Child) -> Token:
    if isinstance(tree, Tree) and isinstance(tree.children[0], Token):
        return tree.children[0]
    raise TypeError("expected a tree of one token")


def _three(tree: Child) -> tuple[Token | None, Token, Token | None]:
    if isinstance(tree, Tree):
        sign, number, unit = tree.children
        if isinstance(number, Token):
            return _token(sign), number, _token(unit)
    raise TypeError("expected a measure")


def _token(child: Child) -> Token | None:
    return child if isinstance(child, Token) else None


def _unit(token: Token | None) -> Unit:
    unit = find_unit(str(token)) if token is not None else PLAIN
    if unit is None:
        raise LookupError(f"the grammar knows the unit {token}, quantities does not")
    return unit
