"""Units and their exact conversion to the base units: bar, litre, s, mm.

A dimension is a product of powers of the base units; a unit of the text is a
factor, a dimension and, for absolute pressures, an offset.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

STANDARD_ATMOSPHERE = Fraction("1.01325")  # bar; ISO 2533
PASCAL = Fraction(1, 100_000)  # bar
INCH = Fraction("25.4")  # mm; the international inch
# The pound-force is 0.45359237 kg times the standard acceleration 9.80665 m/s^2.
POUND_FORCE = Fraction("0.45359237") * Fraction("9.80665")  # N
PSI = POUND_FORCE / Fraction("0.0254") ** 2 * PASCAL
INCH_OF_MERCURY = Fraction("3386.389") * PASCAL  # conventional, mercury at 0 degrees Celsius
CUBIC_INCH = Fraction("0.016387064")  # litre


@dataclass(frozen=True, slots=True)
class Dimension:
    """Powers of bar, litre, s, mm, degree Celsius and degree of arc."""

    pressure: int = 0
    volume: int = 0
    time: int = 0
    length: int = 0
    temperature: int = 0
    angle: int = 0

    @property
    def powers(self) -> tuple[int, ...]:
        return (
            self.pressure,
            self.volume,
            self.time,
            self.length,
            self.temperature,
            self.angle,
        )

    def times(self, other: Dimension, power: int = 1) -> Dimension:
        """This dimension times a power of the other."""
        mine, theirs = self.powers, other.powers
        return Dimension(*(a + power * b for a, b in zip(mine, theirs, strict=True)))


COUNT = Dimension()
PRESSURE = Dimension(pressure=1)
VOLUME = Dimension(volume=1)
TIME = Dimension(time=1)
LENGTH = Dimension(length=1)
TEMPERATURE = Dimension(temperature=1)
ANGLE = Dimension(angle=1)
PRESSURE_RATE = Dimension(pressure=1, time=-1)
AMOUNT_RATE = Dimension(pressure=1, volume=1, time=-1)
CONDUCTANCE = Dimension(volume=1, time=-1, pressure=-1)

BASE_NAMES = ("bar", "litre", "s", "mm", "degC", "deg")

# What a person calls a dimension, and the unit to offer first.
SPOKEN: dict[Dimension, tuple[str, str]] = {
    PRESSURE: ("a pressure", "bar"),
    VOLUME: ("a volume", "litre"),
    TIME: ("a time", "s"),
    LENGTH: ("a length", "mm"),
    TEMPERATURE: ("a temperature", "degC"),
    ANGLE: ("an angle", "deg"),
    PRESSURE_RATE: ("a speed of pressure", "bar/s"),
    AMOUNT_RATE: ("an amount of air per time", "bar.litre/s"),
    CONDUCTANCE: ("a conductance", "l/(s bar)"),
    COUNT: ("a plain number", ""),
}


@dataclass(frozen=True, slots=True)
class Unit:
    """`value unit` is `value * factor + offset` in base units."""

    name: str
    factor: Fraction
    dimension: Dimension
    offset: Fraction = Fraction(0)

    @property
    def absolute(self) -> bool:
        return self.offset != 0

    def to_base(self, value: Fraction) -> Fraction:
        """The value in base units, exactly."""
        return value * self.factor + self.offset


PLAIN = Unit("", Fraction(1), COUNT)
PERCENT = Unit("%", Fraction(1, 100), COUNT)

_ATOMS: dict[str, tuple[Fraction, Dimension]] = {
    "bar": (Fraction(1), PRESSURE),
    "mbar": (Fraction(1, 1000), PRESSURE),
    "Pa": (PASCAL, PRESSURE),
    "kPa": (1000 * PASCAL, PRESSURE),
    "MPa": (1_000_000 * PASCAL, PRESSURE),
    "psi": (PSI, PRESSURE),
    "inHg": (INCH_OF_MERCURY, PRESSURE),
    "litre": (Fraction(1), VOLUME),
    "litres": (Fraction(1), VOLUME),
    "l": (Fraction(1), VOLUME),
    "ml": (Fraction(1, 1000), VOLUME),
    "cubic inch": (CUBIC_INCH, VOLUME),
    "cubic inches": (CUBIC_INCH, VOLUME),
    "s": (Fraction(1), TIME),
    "ms": (Fraction(1, 1000), TIME),
    "min": (Fraction(60), TIME),
    "h": (Fraction(3600), TIME),
    "mm": (Fraction(1), LENGTH),
    "cm": (Fraction(10), LENGTH),
    "m": (Fraction(1000), LENGTH),
    "km": (Fraction(1_000_000), LENGTH),
    "in": (INCH, LENGTH),
    "degC": (Fraction(1), TEMPERATURE),
    "deg": (Fraction(1), ANGLE),
}

_ATOM = "(?:cubic[ \t\n]+inch(?:es)?|[A-Za-z]+)"
_COMPOUND = re.compile(
    rf"({_ATOM}(?:[.]{_ATOM})*|1)(?:/({_ATOM}|\([ ]*{_ATOM}(?:[ .]+{_ATOM})*[ ]*\)))?( abs)?"
)


def unit_names() -> tuple[str, ...]:
    """Every simple unit and the usual ratios, for suggestions."""
    ratios = ("bar/s", "mm/s", "bar.litre/s", "l/(s bar)", "bar abs")
    return (*_ATOMS, *ratios)


@cache
def find_unit(text: str) -> Unit | None:
    """The unit written so, or None if there is no such unit."""
    name = re.sub(r"\s*/\s*", "/", re.sub(r"\s+", " ", text.strip()))
    name = f"1{name}" if name.startswith("/") else name
    if name in ("", "%"):
        return PERCENT if name else PLAIN
    match = _COMPOUND.fullmatch(name.replace("bar litre", "bar.litre").replace("bar l/", "bar.l/"))
    return _compound(name, match) if match else None


def _compound(name: str, match: re.Match[str]) -> Unit | None:
    above, below, absolute = match.groups()
    unit = Unit(name, Fraction(1), COUNT)
    for group, power in ((above, 1), ((below or "").strip("() "), -1)):
        for atom in _atoms(group):
            if atom not in _ATOMS:
                return None
            factor, dimension = _ATOMS[atom]
            unit = Unit(name, unit.factor * factor**power, unit.dimension.times(dimension, power))
    if not absolute:
        return unit
    if unit.dimension != PRESSURE:
        return None
    return Unit(name, unit.factor, PRESSURE, -STANDARD_ATMOSPHERE)


def _atoms(product: str) -> list[str]:
    if product in ("", "1"):
        return []
    return re.findall(_ATOM, product)


def spoken(dimension: Dimension) -> str:
    """What a person calls the dimension: `a pressure`, or its base units."""
    return SPOKEN[dimension][0] if dimension in SPOKEN else base_unit(dimension)


def base_unit(dimension: Dimension) -> str:
    """The base unit of a dimension as the language writes it; empty for a plain number."""
    if dimension == CONDUCTANCE:
        return SPOKEN[CONDUCTANCE][1]
    pairs = list(zip(BASE_NAMES, dimension.powers, strict=True))
    above = ".".join(name for name, power in pairs for _ in range(power))
    below = [name for name, power in pairs for _ in range(-power)]
    if not below:
        return above
    return f"{above or '1'}/{below[0] if len(below) == 1 else '(' + ' '.join(below) + ')'}"
