"""Extents of the text become bands; each says what is wrong with its size or sign."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from airproof.base.quantities import PRESSURE, STANDARD_ATMOSPHERE, Dimension
from airproof.circuit.kinds import Band
from airproof.language import syntax
from airproof.language.forms import check_dimension, written
from airproof.language.names import Problems

NOTHING = Band(Fraction(0), Fraction(0))


@dataclass(frozen=True, slots=True)
class BandReader:
    """Reads extents and measures; `name` is the thing they belong to."""

    problems: Problems
    name: str

    def band(self, extent: syntax.Extent) -> Band:
        """Least and greatest value; the reader of texts has seen that ranges run upwards."""
        tolerance = extent.tolerance
        if tolerance is not None and tolerance.unit.name == "%" and extent.first.unit.absolute:
            self.problems.add("percent_of_absolute", tolerance.span, written=written(tolerance))
        return Band(extent.low, extent.high)

    def pressure(self, extent: syntax.Extent) -> Band:
        """A band of pressures, none below a complete vacuum [bar]."""
        band = self.band(extent)
        if band.low < -STANDARD_ATMOSPHERE:
            self.problems.add("below_vacuum", extent.span, name=self.name)
        return band

    def above_zero(self, extent: syntax.Extent) -> Band:
        """A band of sizes, times or rates that must all be above 0."""
        band = self.band(extent)
        if band.low <= 0:
            data = {"name": self.name, "written": written(extent.first)}
            code = "not_above_zero" if extent.tolerance is None else "tolerance_reaches_zero"
            self.problems.add(code, extent.span, **data)
        return band

    def least_zero(self, extent: syntax.Extent) -> Band:
        """A band of rates that may begin at 0 and must not end there."""
        band = self.band(extent)
        if band.low < 0 or band.high == 0:
            data = {"name": self.name, "written": written(extent.first)}
            self.problems.add("not_above_zero", extent.span, **data)
        return band

    def measure_above_zero(self, measure: syntax.Measure) -> Fraction:
        """One size, time or speed that must be above 0."""
        if measure.value <= 0:
            data = {"name": self.name, "written": written(measure)}
            self.problems.add("not_above_zero", measure.span, **data)
        return measure.value

    def start(self, extent: syntax.Extent | None, span_of: syntax.Name, offer: str) -> Band:
        """The start of what must have one."""
        if extent is None:
            self.problems.add("missing_start", span_of.span, name=self.name, offer=offer)
            return NOTHING
        return self.pressure(extent)

    def within(self, starts: Band, limits: Band, extent: syntax.Extent) -> Band:
        """The start of what has a range; a problem if any of it lies outside."""
        if starts.low < limits.low or starts.high > limits.high:
            self.problems.add("start_outside", extent.span, name=self.name)
        return starts

    def of_dimension(self, extent: syntax.Extent, due: Dimension) -> bool:
        """Whether both ends have the dimension; a problem otherwise."""
        ends = [end for end in (extent.first, extent.last) if end is not None]
        fitting = [check_dimension(self.problems, end, due, self.name) for end in ends]
        return all(fitting)


def pressure_of(measure: syntax.Measure, problems: Problems, name: str) -> Fraction | None:
    """One pressure [bar], or None if the measure is something else."""
    return measure.value if check_dimension(problems, measure, PRESSURE, name) else None
