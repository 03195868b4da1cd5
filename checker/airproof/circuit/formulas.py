"""Yes-or-no questions about a whole number's bits, put together and then made quick to ask."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

Test = Callable[[int], bool]


@dataclass(frozen=True, slots=True)
class Every:
    """The bits of `mask` are just those of `value`."""

    mask: int
    value: int


@dataclass(frozen=True, slots=True)
class Some:
    """The bits of `mask` are not just those of `value`."""

    mask: int
    value: int


@dataclass(frozen=True, slots=True)
class All:
    parts: tuple[Formula, ...]


@dataclass(frozen=True, slots=True)
class Any:
    parts: tuple[Formula, ...]


Formula = Every | Some | All | Any

ALWAYS = Every(0, 0)
NEVER = Some(0, 0)


def has(bit: int) -> Formula:
    """The bit is set."""
    return Every(bit, bit)


def truth(value: bool) -> Formula:
    """The same whatever the bits."""
    return ALWAYS if value else NEVER


def opposite(formula: Formula) -> Formula:
    """True where the formula is false."""
    match formula:
        case Every(mask, value):
            return Some(mask, value)
        case Some(mask, value):
            return Every(mask, value)
        case All(parts):
            return Any(tuple(map(opposite, parts)))
        case Any(parts):
            return All(tuple(map(opposite, parts)))


def all_of(formulas: Iterable[Formula]) -> Formula:
    """True where all of them are."""
    mask = value = 0
    others: list[Formula] = []
    for part in _flat(formulas, All):
        if isinstance(part, Some) and part.mask.bit_count() == 1:
            part = Every(part.mask, part.mask ^ part.value)
        if not isinstance(part, Every):
            others.append(part)
        elif (value ^ part.value) & mask & part.mask:
            return NEVER
        else:
            mask, value = mask | part.mask, value | part.value
    if NEVER in others:
        return NEVER
    parts = [Every(mask, value), *others] if mask or not others else others
    return parts[0] if len(parts) == 1 else All(tuple(parts))


def any_of(formulas: Iterable[Formula]) -> Formula:
    """True where one of them is."""
    return opposite(all_of([opposite(part) for part in _flat(formulas, Any)]))


def _flat(formulas: Iterable[Formula], kind: type[All] | type[Any]) -> list[Formula]:
    found: list[Formula] = []
    for formula in formulas:
        if isinstance(formula, All | Any) and isinstance(formula, kind):
            found.extend(formula.parts)
        else:
            found.append(formula)
    return found


def compiled(formula: Formula) -> Test:
    """The formula as a function of the bits."""
    match formula:
        case Every(mask, value):
            return lambda bits: bits & mask == value
        case Some(mask, value):
            return lambda bits: bits & mask != value
        case All():
            mask, value, rest = split(formula)
            return lambda bits: bits & mask == value and rest(bits)
        case Any(parts):
            return _any(parts)


def split(formula: Formula) -> tuple[int, int, Test]:
    """Bits that must be just so, to be looked at first, and what is asked besides."""
    if isinstance(formula, Every):
        return formula.mask, formula.value, _always
    parts = formula.parts if isinstance(formula, All) else (formula,)
    if isinstance(parts[0], Every):
        return parts[0].mask, parts[0].value, _all(parts[1:])
    return 0, 0, _all(parts)


def _always(_: int) -> bool:
    return True


def _all(parts: tuple[Formula, ...]) -> Test:
    tests = tuple(map(compiled, parts))
    if len(tests) == 1:
        return tests[0]

    def every(bits: int) -> bool:
        for test in tests:  # noqa: SIM110 - a generator costs twice the time here
            if not test(bits):
                return False
        return True

    return every


def _any(parts: tuple[Formula, ...]) -> Test:
    plain = tuple((part.mask, part.value) for part in parts if isinstance(part, Every))
    tests = tuple(compiled(part) for part in parts if not isinstance(part, Every))

    def some(bits: int) -> bool:
        for mask, value in plain:
            if bits & mask == value:
                return True
        for test in tests:  # noqa: SIM110 - a generator costs twice the time here
            if test(bits):
                return True
        return False

    return some
