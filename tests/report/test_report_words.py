"""Conditions, sentences and numbers in words."""

from __future__ import annotations

from fractions import Fraction

import pytest

from airproof.circuit.conditions import (
    NO,
    YES,
    AllOf,
    AnyOf,
    At,
    Compare,
    Condition,
    Expired,
    Flowing,
    GoneTo,
    Not,
    OnTheWay,
    Order,
    compare,
    form_of,
)
from airproof.circuit.properties import (
    AfterNever,
    KeptRule,
    Lasts,
    Never,
    OnceLasted,
    OnlyAfter,
    Possible,
    Sentence,
    SupplyRule,
    Within,
)
from airproof.report.figures import exact, plain
from airproof.report.words import condition, form, rule, sentence
from circuit.small import Number, is_

A, B, C = At("lever", "lift"), At("rope", "slack"), Expired("notice")


def sums(order: Order, constant: Number, tolerance: Number = 0, **weights: Number) -> Compare:
    whole = form_of({name: Fraction(weight) for name, weight in weights.items()})
    return compare(whole, order, Fraction(constant), Fraction(tolerance))


@pytest.mark.parametrize(
    ("tree", "words"),
    [
        (is_("main", ">=", 5, "0.1"), "main >= 5 bar +- 0.1 bar"),
        (sums(">", 0, aux=1, pipe=-1), "pipe is below aux"),
        (sums("<", 0, aux=1, pipe=-1), "aux is below pipe"),
        (sums(">=", 0, aux=1, pipe=-1), "aux >= pipe"),
        (sums(">=", "0.15", aux=1, pipe=-1), "pipe is 0.15 bar below aux"),
        (sums("<=", "-0.15", aux=1, pipe=-1), "aux is 0.15 bar below pipe"),
        (sums(">=", "-0.5", aux=1, pipe=-1), "aux >= pipe - 0.5 bar"),
        (sums(">", 1, aux=1, pipe=-1), "aux > pipe + 1 bar"),
        (sums("<", "-0.3", "0.1", pipe="2.5", aux=-1), "aux > 2.5 times pipe + 0.3 bar +- 0.1 bar"),
        (sums(">=", 3, a=1, b=2), "a + 2 times b >= 3 bar"),
        (is_("level", "<", 7), "level < 7 mm"),
        (is_("cars", ">=", 2), "cars >= 2"),
        (A, "lever is lift"),
        (Not(A), "lever is not lift"),
        (OnTheWay("lockout"), "lockout is moving"),
        (Not(OnTheWay("lockout")), "lockout is not moving"),
        (Not(C), "notice has not expired"),
        (Not(Flowing("lift")), "lift is not flowing"),
        (GoneTo("lever", "lift"), "lever has gone to lift"),
        (Not(GoneTo("lever", "lift")), "not (lever has gone to lift)"),
        (Not(is_("main", ">=", 5, "0.1")), "main < 5 bar +- 0.1 bar"),
        (AllOf((A, AnyOf((B, C)))), "lever is lift and (rope is slack or notice has expired)"),
        (AllOf((A, AllOf((B, C)))), "lever is lift and rope is slack and notice has expired"),
        (Not(AllOf((A, Not(B)))), "lever is not lift or rope is slack"),
        (YES, "always"),
        (Not(NO), "always"),
        (Not(YES), "never"),
        (AnyOf(()), "never"),
    ],
)
def test_conditions(tree: Condition, words: str) -> None:
    """Each condition is put as the language puts it, `not` pushed down to what it denies."""
    assert condition(tree, {"level": "mm", "cars": ""}) == words


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (Never(AllOf((A, B))), "never lever is lift and rope is slack"),
        (Never(Not(A)), "always lever is lift"),
        (OnlyAfter(A, B, None), "lever is lift only after rope is slack"),
        (OnlyAfter(A, B, C), "lever is lift only after rope is slack since notice has expired"),
        (AfterNever(A, B, C), "after lever is lift, never rope is slack until notice has expired"),
        (AfterNever(A, B, None), "after lever is lift, never rope is slack"),
        (Within(A, B, Fraction(9)), "whenever lever is lift, rope is slack within 9 s"),
        (OnceLasted(A, B, Fraction(9)), "once lever is lift has lasted 9 s, rope is slack"),
        (Lasts(A, "least", Fraction(1, 2)), "lever is lift lasts at least 0.5 s"),
        (Lasts(A, "most", Fraction(2)), "lever is lift lasts at most 2 s"),
        (Possible(A), "possible lever is lift"),
    ],
)
def test_sentences(said: Sentence, words: str) -> None:
    """Each sentence form reads as it is written."""
    assert sentence(said, {}) == words


def test_rules_of_assumptions() -> None:
    """Assumptions on controls and on supplies read as they are written."""
    kept = KeptRule("lever", "only", "lift", B)
    assert rule(kept, {}) == "lever moves to lift only while rope is slack"
    locked = KeptRule("lever", "locked", "lift", B)
    assert rule(locked, {}) == "lever is locked in lift while rope is slack"
    fed = SupplyRule((is_("main", ">=", 4), is_("main", "<=", 9)))
    assert rule(fed, {}) == "always main >= 4 bar and main <= 9 bar"


def test_a_form_by_itself() -> None:
    """A weighted sum keeps its signs."""
    assert form(form_of({"aux": Fraction(1), "pipe": Fraction(-5, 2)})) == "aux - 2.5 times pipe"
    assert form(form_of({"aux": Fraction(-1)})) == "-aux"


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (Fraction(0), "0"),
        (Fraction(11, 2), "5.5"),
        (Fraction(-1, 2), "-0.5"),
        (Fraction(1, 1000), "0.001"),
        (Fraction(47, 7), "about 6.71"),
        (Fraction(-1, 3000), "about 0"),
        (Fraction(1200), "1200"),
        (Fraction(39999, 10000), "3.9999"),
    ],
)
def test_numbers_for_people(value: Fraction, words: str) -> None:
    """Short decimals are exact, all others say that they are rounded."""
    assert plain(value) == words


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (Fraction(11, 2), "5.5"),
        (Fraction(-47, 7), "-47/7"),
        (Fraction(3), "3"),
        (Fraction(1, 2**12), "0.000244140625"),
        (Fraction(1, 2**13), "1/8192"),
    ],
)
def test_numbers_for_programs(value: Fraction, text: str) -> None:
    """Text of a number loses nothing."""
    assert exact(value) == text
    assert Fraction(text) == value
