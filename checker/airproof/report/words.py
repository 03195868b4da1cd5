"""Conditions and sentences in the language's own words."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from airproof.circuit.conditions import (
    OPPOSITE,
    AllOf,
    AnyOf,
    At,
    Compare,
    Condition,
    Expired,
    Flowing,
    Form,
    GoneTo,
    Not,
    OnTheWay,
    Truth,
)
from airproof.circuit.kinds import Circuit
from airproof.circuit.properties import (
    AfterNever,
    KeptRule,
    Lasts,
    Never,
    OnceLasted,
    OnlyAfter,
    Possible,
    Sentence,
    Shows,
    SupplyRule,
    Within,
)
from airproof.report.figures import plain

Units = Mapping[str, str]


def units(circuit: Circuit) -> Units:
    """The unit of each quantity; everything else is in bar."""
    return {name: quantity.unit for name, quantity in circuit.quantities.items()}


def condition(tree: Condition, named: Units) -> str:
    """The condition as the language would put it, every `not` pushed down to what it denies."""
    return _words(inward(tree), named, within=None)


def inward(tree: Condition, denied: bool = False) -> Condition:
    """The same condition with `not` only in front of what has no opposite of its own."""
    match tree:
        case Not(part):
            return inward(part, not denied)
        case AllOf(parts) | AnyOf(parts):
            joined = AllOf if isinstance(tree, AllOf) != denied else AnyOf
            return joined(tuple(inward(part, denied) for part in parts))
        case Compare(form, order, constant, tolerance) if denied:
            return Compare(form, OPPOSITE[order], constant, tolerance)
        case Truth(value):
            return Truth(value != denied)
    return Not(tree) if denied else tree


def _words(tree: Condition, named: Units, within: type | None) -> str:
    match tree:
        case AllOf(parts) | AnyOf(parts):
            text = _joined(tree, named)
            loose = within is not None and within is not type(tree) and len(parts) > 1
            return f"({text})" if loose else text
        case Compare():
            return comparison(tree, named)
        case Not(part):
            return _plain_leaf(part, " not")
    return _plain_leaf(tree, "")


def _joined(tree: AllOf | AnyOf, named: Units) -> str:
    if not tree.parts:
        return "always" if isinstance(tree, AllOf) else "never"
    word = " and " if isinstance(tree, AllOf) else " or "
    return word.join(_words(part, named, type(tree)) for part in tree.parts)


def _plain_leaf(leaf: Condition, negation: str) -> str:
    match leaf:
        case At(name, position):
            return f"{name} is{negation} {position}"
        case OnTheWay(name):
            return f"{name} is{negation} moving"
        case Expired(name):
            return f"{name} has{negation} expired"
        case Flowing(name):
            return f"{name} is{negation} flowing"
        case GoneTo(name, position):
            said = f"{name} has gone to {position}"
            return f"not ({said})" if negation else said
        case Truth(value):
            return "always" if value != bool(negation) else "never"
    raise AssertionError(f"not a leaf: {leaf!r}")


def comparison(leaf: Compare, named: Units) -> str:
    """One comparison: `main >= 5 bar`, `pipe is below aux`, `pipe is 0.15 bar below aux`."""
    unit = named.get(leaf.form.names[0], "bar")
    tail = f" +- {amount(leaf.tolerance, unit)}" if leaf.tolerance else ""
    return (_difference(leaf, unit) or _sides(leaf, unit)) + tail


def amount(value: Fraction, unit: str) -> str:
    """A number with its unit; a plain count has none."""
    return f"{plain(value)} {unit}".rstrip()


def _difference(leaf: Compare, unit: str) -> str | None:
    """`A is below B` and `A is 1 bar below B`, for a difference of two that reads so."""
    if [weight for _, weight in leaf.form.terms] != [1, -1]:
        return None
    high, low = leaf.form.names
    if leaf.order in ("<", "<="):
        high, low = low, high
    rise = leaf.constant if leaf.order in (">", ">=") else -leaf.constant
    if leaf.order in ("<", ">"):
        return f"{low} is below {high}" if rise == 0 else None
    if rise == 0:
        return f"{high} >= {low}"
    return f"{low} is {amount(rise, unit)} below {high}" if rise > 0 else None


def _sides(leaf: Compare, unit: str) -> str:
    """Positive terms on the left, negative ones on the right with the constant."""
    left = [_term(name, weight) for name, weight in leaf.form.terms if weight > 0]
    right = [_term(name, -weight) for name, weight in leaf.form.terms if weight < 0]
    return f"{' + '.join(left)} {leaf.order} {_with_constant(right, leaf.constant, unit)}"


def _with_constant(terms: list[str], constant: Fraction, unit: str) -> str:
    if not terms or constant > 0:
        return " + ".join([*terms, amount(constant, unit)])
    less = f" - {amount(-constant, unit)}" if constant else ""
    return " + ".join(terms) + less


def _term(name: str, weight: Fraction) -> str:
    return name if weight == 1 else f"{plain(weight)} times {name}"


def form(weights: Form) -> str:
    """A form by itself: `aux - 2.5 times pipe`."""
    text = ""
    for name, weight in weights.terms:
        sign = (" - " if text else "-") if weight < 0 else (" + " if text else "")
        text += sign + _term(name, abs(weight))
    return text


def sentence(said: Sentence, named: Units) -> str:
    """A property's sentence in the language's words."""

    def say(tree: Condition) -> str:
        return condition(tree, named)

    match said:
        case Never(bad):
            return _never(bad, named)
        case OnlyAfter(act, leave, reset):
            return f"{say(act)} only after {say(leave)}" + (f" since {say(reset)}" if reset else "")
        case AfterNever(cause, bad, release):
            until = f" until {say(release)}" if release else ""
            return f"after {say(cause)}, never {say(bad)}{until}"
        case Within(cause, answer, limit):
            return f"whenever {say(cause)}, {say(answer)} within {amount(limit, 's')}"
        case OnceLasted(cause, answer, limit):
            return f"once {say(cause)} has lasted {amount(limit, 's')}, {say(answer)}"
        case Lasts(state, bound, limit):
            return f"{say(state)} lasts at {bound} {amount(limit, 's')}"
        case Possible(goal):
            return f"possible {say(goal)}"
        case Shows(views):
            return f"never first shown: {', then '.join(say(view) for view in views)}"


def _never(bad: Condition, named: Units) -> str:
    if isinstance(bad, Not):
        return f"always {condition(bad.part, named)}"
    return f"never {condition(bad, named)}"


def rule(kept: KeptRule | SupplyRule, named: Units) -> str:
    """An assumption's rule, or an interlock's of the same shape, in the language's words."""
    if isinstance(kept, SupplyRule):
        return "always " + " and ".join(comparison(part, named) for part in kept.comparisons)
    when = condition(kept.condition, named)
    return ruling(kept.rule, kept.control, kept.position, when)


def ruling(kind: str, control: str, position: str, when: str) -> str:
    """A rule on a control: only, locked or forced."""
    match kind:
        case "only":
            return f"{control} moves to {position} only while {when}"
        case "locked":
            return f"{control} is locked in {position} while {when}"
    return f"{control} is forced to {position} when {when}"
