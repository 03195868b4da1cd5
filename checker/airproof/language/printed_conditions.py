"""Conditions, rules, sentences and numbers of a tree as text."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from airproof.language import syntax


def quoted(title: syntax.Title) -> str:
    """The title in quotes, escaped."""
    escaped = title.text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def name_list(names: Iterable[syntax.Name]) -> list[str]:
    """The names' letters."""
    return [name.text for name in names]


def measure_text(measure: syntax.Measure) -> str:
    """The number as written and its unit."""
    return f"{measure.written} {measure.unit.name}".rstrip()


def extent_text(extent: syntax.Extent) -> str:
    """`A`, `A .. B` or `A +- B`."""
    first = measure_text(extent.first)
    if extent.last is not None:
        return f"{first} .. {measure_text(extent.last)}"
    return first + _tolerance(extent.tolerance)


def _tolerance(tolerance: syntax.Measure | None) -> str:
    return "" if tolerance is None else f" +- {measure_text(tolerance)}"


def condition_text(condition: syntax.Condition) -> str:
    """The condition, with brackets only where they are needed."""
    match condition:
        case syntax.All():
            return " and ".join(_bracketed(part) for part in condition.parts)
        case syntax.Some():
            return " or ".join(_bracketed(part) for part in condition.parts)
        case syntax.Negation():
            return f"not {_bracketed(condition.part)}"
        case syntax.Comparison():
            return _comparison(condition)
        case syntax.Offset():
            by = f"is {measure_text(condition.by)} {condition.side}"
            pair = f"{_form(condition.left)} {by} {_form(condition.right)}"
            return pair + _tolerance(condition.tolerance)
    return _about_one(condition)


def _bracketed(condition: syntax.Condition) -> str:
    text = condition_text(condition)
    return f"({text})" if isinstance(condition, syntax.All | syntax.Some) else text


def _comparison(comparison: syntax.Comparison) -> str:
    order: str = comparison.order
    if comparison.words:
        order = "is below" if order == "<" else "is above"
    pair = f"{_form(comparison.left)} {order} {_form(comparison.right)}"
    return pair + _tolerance(comparison.tolerance)


def _about_one(condition: syntax.Condition) -> str:
    match condition:
        case syntax.Is():
            return f"{_is(condition)} {condition.position.text}"
        case syntax.IsMoving():
            return f"{_is(condition)} moving"
        case syntax.IsFlowing():
            return f"{_is(condition)} flowing"
        case syntax.HasExpired():
            return f"{condition.subject.text} has {'not ' * condition.negated}expired"
        case syntax.HasGoneTo():
            return f"{condition.subject.text} has gone to {condition.position.text}"
        case syntax.Signalled():
            return condition.name.text
    raise TypeError(f"no such condition: {type(condition).__name__}")


def _is(condition: syntax.Is | syntax.IsMoving | syntax.IsFlowing) -> str:
    return f"{condition.subject.text} is{' not' * condition.negated}"


def _form(form: syntax.Form) -> str:
    text = ""
    for part in form.parts:
        negative, body = _product(part)
        joint = (" - " if negative else " + ") if text else ("-" if negative else "")
        text += joint + body
    return text


def _product(part: syntax.Term | syntax.Constant) -> tuple[bool, str]:
    if isinstance(part, syntax.Constant):
        return part.sign < 0, measure_text(part.measure)
    size = abs(part.weight)
    weight = "" if size == 1 else f"{decimal(size)} times "
    return part.weight < 0, weight + part.name.text


def decimal(value: Fraction) -> str:
    """A fraction that came from a written number, as a decimal again, exactly."""
    digits = 0
    while (value * 10**digits).denominator != 1:
        digits += 1
    whole = str((value * 10**digits).numerator).rjust(digits + 1, "0")
    return whole if digits == 0 else f"{whole[:-digits]}.{whole[-digits:]}"


def rule_text(rule: syntax.Rule | syntax.AlwaysRule) -> str:
    """A rule on a control, or what is always so."""
    when = condition_text(rule.condition)
    if isinstance(rule, syntax.AlwaysRule):
        return f"always {when}"
    control, position = rule.control.text, rule.position.text
    match rule.kind:
        case "only":
            return f"{control} moves to {position} only while {when}"
        case "locked":
            return f"{control} is locked in {position} while {when}"
        case "forced":
            return f"{control} is forced to {position} when {when}"


def sentence_text(sentence: syntax.Sentence) -> str:
    """The sentence of a property."""
    match sentence:
        case syntax.Never():
            meanwhile = _more("while", sentence.meanwhile)
            return f"never {condition_text(sentence.act)}{meanwhile}"
        case syntax.Always():
            return f"always {condition_text(sentence.condition)}"
        case syntax.Possible():
            return f"possible {condition_text(sentence.goal)}"
        case syntax.Lasts():
            bound = f"lasts at {sentence.bound} {measure_text(sentence.limit)}"
            return f"{condition_text(sentence.state)} {bound}"
    return _paired(sentence)


def _paired(sentence: syntax.Sentence) -> str:
    match sentence:
        case syntax.Whenever():
            limit = "" if sentence.within is None else f" within {measure_text(sentence.within)}"
            answer = condition_text(sentence.answer)
            return f"whenever {condition_text(sentence.cause)}, {answer}{limit}"
        case syntax.OnlyAfter():
            pair = f"{condition_text(sentence.act)} only after {condition_text(sentence.leave)}"
            return pair + _more("since", sentence.since)
        case syntax.AfterNever():
            pair = f"after {condition_text(sentence.cause)}, never {condition_text(sentence.bad)}"
            return pair + _more("until", sentence.until)
        case syntax.OnceLasted():
            lasted = f"has lasted {measure_text(sentence.lasted)}"
            answer = condition_text(sentence.answer)
            return f"once {condition_text(sentence.cause)} {lasted}, {answer}"
    raise TypeError(f"no such sentence: {type(sentence).__name__}")


def _more(word: str, condition: syntax.Condition | None) -> str:
    return "" if condition is None else f" {word} {condition_text(condition)}"
