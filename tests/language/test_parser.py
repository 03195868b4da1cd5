"""The parser: every statement, exact numbers, spans, and texts made to break it."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from fractions import Fraction
from typing import cast

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from airproof.base.diagnostics import Rejected
from airproof.base.quantities import PRESSURE, find_unit, unit_names
from airproof.language import load_text, parse, syntax
from airproof.language.grammar import parser
from airproof.language.words import HEADS, KEYWORDS, RESERVED
from language.trees import EVERYTHING, ROOT, circuit_files


def only(text: str) -> syntax.Statement:
    """The one statement of a text."""
    (statement,) = parse(text, "one").statements
    return statement


def condition(text: str) -> syntax.Condition:
    """A condition, read in a signal."""
    return cast(syntax.Signal, only(f"signal s: {text}")).condition


def first_code(text: str) -> str:
    """The code of the first problem of a text."""
    with pytest.raises(Rejected) as caught:
        parse(text, "bad")
    assert str(caught.value)
    return caught.value.problems[0].code


def test_every_kind_of_statement_is_read() -> None:
    """The text with every statement gives a node of every class of statement."""
    document = parse(EVERYTHING, "everything")
    classes = {type(statement) for statement in document.statements}
    assert classes == set(syntax.Statement.__args__)
    part = next(s for s in document.statements if isinstance(s, syntax.Part))
    assert [type(s).__name__ for s in part.body] == ["Control", "Flow"]
    assert [port.text for port in part.ports] == ["feed", "out"]
    assert (part.span.line, part.span.end_line) == (4, 9)


def test_every_circuit_of_the_checkout_is_read() -> None:
    """Worked, broken and table circuits all parse."""
    files = circuit_files()
    assert len(files) > 60
    for file in files:
        assert parse(file.read_text(encoding="utf-8"), file.name).statements


def test_spans_point_at_the_text() -> None:
    """A name's span covers its letters, in parts and continuation lines too."""
    document = parse(EVERYTHING, "everything")
    lines = EVERYTHING.split("\n")
    part = next(s for s in document.statements if isinstance(s, syntax.Part))
    lockout = next(
        s for s in document.statements if isinstance(s, syntax.Device) and s.name.text == "lockout"
    )
    flow = cast(syntax.Flow, part.body[1])
    for name in (part.name, flow.name, flow.target, lockout.moves[1].to):
        line = lines[name.span.line - 1]
        assert line[name.span.column - 1 : name.span.end_column - 1] == name.text
    assert lockout.span.end_line == lockout.span.line + 3


def test_units_are_exact() -> None:
    """Numbers become exact fractions of base units."""
    known = {
        "1 psi": Fraction("4.4482216152605") / Fraction("0.0254") ** 2 / 100000,
        "1 inHg": Fraction("0.03386389"),
        "250 mbar": Fraction(1, 4),
        "100 kPa": Fraction(1),
        "1 MPa": Fraction(10),
        "0 bar abs": Fraction("-1.01325"),
        "0.1 bar": Fraction(1, 10),
        "25e-2 bar": Fraction(1, 4),
    }
    for text, value in known.items():
        supply = cast(syntax.Supply, only(f"supply s: {text}"))
        assert supply.range.first.value == value, text
        assert supply.range.first.unit.dimension == PRESSURE


def test_the_grammar_and_quantities_know_the_same_units() -> None:
    """Every unit of `quantities` is read after a number, and with every other below a line."""
    for name in unit_names():
        for unit in (name, f"{name}/s", f"1/{name}"):
            if find_unit(unit) is None:
                assert "/" in name or " " in name, unit
                continue
            quantity = cast(syntax.Quantity, only(f"quantity q: starts 2 {unit}"))
            assert quantity.starts is not None
            assert quantity.starts.first.unit == find_unit(unit)


def test_extents() -> None:
    """Tolerances spread both ways, shares of the value; a range lends its unit to the left."""
    volume = cast(syntax.Volume, only("reservoir r: 3 litre +- 10 %, starts 0 .. 2 bar"))
    assert volume.size is not None
    assert volume.starts is not None
    assert (volume.size.low, volume.size.high) == (Fraction("2.7"), Fraction("3.3"))
    assert (volume.starts.low, volume.starts.high) == (Fraction(0), Fraction(2))
    assert volume.starts.first.unit.name == "bar"


def test_conditions_keep_their_shape() -> None:
    """`and` and `or` are flat, brackets nest, `not` binds to the next condition only."""
    three = condition("a is on and b is on and c")
    assert isinstance(three, syntax.All)
    assert [type(part).__name__ for part in three.parts] == ["Is", "Is", "Signalled"]
    mixed = condition("(a is on or b is on) and not c is on")
    assert isinstance(mixed, syntax.All)
    assert [type(part).__name__ for part in mixed.parts] == ["Some", "Negation"]


def test_forms_keep_signs_and_weights() -> None:
    """Signs, weights and constants of a form are kept in order."""
    one = condition("2.5 times pipe - aux + 0.3 bar is below -main +- 0.1 bar")
    assert isinstance(one, syntax.Comparison)
    parts = one.left.parts
    weights = [p.weight if isinstance(p, syntax.Term) else p.sign for p in parts]
    assert weights == [Fraction(5, 2), -1, 1]
    right = one.right.parts[0]
    assert isinstance(right, syntax.Term)
    assert right.weight == -1
    assert one.order == "<"
    assert one.tolerance is not None


def test_positions_may_be_called_like_words_of_the_language() -> None:
    """Short words of fitters are good names for positions and ports."""
    for word in ("on", "off", "in", "set", "starts", "open", "closed", "latched", "one", "drawing"):
        device = cast(syntax.Device, only(f"relay r: {word} while a is {word}, cut otherwise"))
        assert device.positions[0].text == word
        device = cast(
            syntax.Device, only(f"valve v: {word}, cut; starts {word}\n  moves to cut when a")
        )
        assert device.starts[0].text == word
        fit = cast(syntax.Fit, only(f"fit cab as cab1, {word} from main"))
        assert fit.bindings[0].port.text == word


def test_reserved_words_are_those_that_can_stand_where_a_name_can() -> None:
    """Derived from the parse table: no word takes the place of a name unless it is reserved."""
    spelled = {t.name: t.pattern.value.replace(r"(?!\w)", "") for t in parser().terminals}
    table = parser().parser.parser._parse_table
    clashing: set[str] = set()
    for actions in table.states.values():
        if actions.get("NAME", (None,))[0] is not None and str(actions["NAME"][0]) == "Shift":
            words = (spelled.get(name, "") for name in actions if name != "NAME")
            clashing |= {part for word in words for part in word.strip("()").split("|")}
    letters = {word for word in clashing if word.isalpha()}
    assert {"not", "below", "moving", "at"} <= letters
    assert letters <= RESERVED


def test_the_lists_of_words_agree_with_the_grammar() -> None:
    """Every head and keyword is a word of the grammar, and the other way round."""
    terminals = [t for t in parser().terminals if t.name != "UNIT"]
    spelled = [t.pattern.value.replace(r"(?!\w)", "").replace(r"\s+", " ") for t in terminals]
    phrases = {part for phrase in spelled for part in phrase.strip("()").split("|")}
    assert set(HEADS) <= phrases
    words = {word for phrase in phrases - set(HEADS) for word in phrase.split()}
    assert {word for word in words if word.isalpha()} <= KEYWORDS
    assert set(HEADS) & KEYWORDS == set()


def test_all_problems_of_a_text_are_found_at_once() -> None:
    """One bad statement hides no other."""
    bad = "supply main 7 bar\nflow f: main > pipe\npipe p: starts 0\n"
    text = f"{bad}supply ok: 7 bar\nflaw g: a -> b\n"
    with pytest.raises(Rejected) as caught:
        parse(text, "four")
    lines = [problem.span.line for problem in caught.value.problems if problem.span]
    assert lines == [1, 2, 3, 5]
    assert str(caught.value).count("^") >= 4


def test_very_many_problems_are_cut_short() -> None:
    """A text of nothing but mistakes ends soon and says that there are more."""
    with pytest.raises(Rejected) as caught:
        parse("flaw f: a -> b\n" * 5000, "many")
    assert len(caught.value.problems) == 101
    assert caught.value.problems[-1].code == "too_many"


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("x" * 10_000_000, "too_long"),
        ("signal s: " + "(" * 10_000 + "a" + ")" * 10_000, "nesting"),
        ("signal s: " + "not " * 10_000 + "a", "nesting"),
        ("signal s: " + "a and " * 20_000 + "a", "long_statement"),
        ("supply main: 7 bar\n" + " x\n" * 40_000, "long_statement"),
        ("supply main: 7 bar\n" + " x" * 4_000, "unexpected"),
        ("supply main: " + "9" * 100_000 + " bar", "number_size"),
        ("supply main: 1e999 bar", "number_size"),
        ("supply main: 1e-999999999999 bar", "number_size"),
        ("a" * 100_000 + " b", "long_name"),
        ("\0" * 1000, "control_letter"),
        ("", "no_statement"),
        ("\ufeff\r\n\r\n", "no_statement"),
        ('circuit c "\u202eevil"', "turning_mark"),
        ('circuit c "\x1b[31m"', "control_letter"),
        ("# \u2066hidden\nsupply main: 7 bar", "turning_mark"),
        ("supply \u05d0: 7 bar", "name_letters"),
        ("\ud800", "letter"),
    ],
)
def test_hostile_texts_are_refused_in_time(text: str, code: str) -> None:
    """Whatever the text, the refusal is readable and quick."""
    parser()
    before = time.process_time()
    assert first_code(text) == code
    assert time.process_time() - before < 4


def read_or_refused(read: Callable[[], object]) -> bool:
    """The reading succeeds, or every problem has a message."""
    try:
        return read() is not None
    except Rejected as refusal:
        return bool(refusal.problems) and all(p.message for p in refusal.problems)


@settings(derandomize=True, deadline=5000, max_examples=150)
@given(
    st.text(
        alphabet=st.sampled_from(list('ab(:;,."#\\\n\t =<>-+*%0159\0\u202e\u05d0')), max_size=80
    )
)
def test_any_letters_end_in_a_tree_or_a_refusal(text: str) -> None:
    """No text makes the parser fail in another way."""
    assert read_or_refused(lambda: parse(text, "any"))


WORDS = [*EVERYTHING.split(), "\n", "\n    ", "(", ")", ",", ";"]


@settings(derandomize=True, deadline=5000, max_examples=200)
@given(st.lists(st.sampled_from(WORDS), max_size=25))
def test_any_words_end_in_a_tree_or_a_refusal(words: list[str]) -> None:
    """Words of the language in any order are read or refused."""
    assert read_or_refused(lambda: load_text(" ".join(words), "any"))


def test_a_long_circuit_is_read_quickly() -> None:
    """A 200-line circuit takes well under 0.2 s; the bound leaves room for a busy machine."""
    text = (ROOT / "models" / "worked" / "winder.circuit").read_text(encoding="utf-8")
    parse(text, "warm")
    before = time.process_time()
    parse(text, "winder")
    per_line = (time.process_time() - before) / text.count("\n")
    assert per_line * 200 < 0.2


def test_base_does_not_import_lark() -> None:
    """`airproof --help` starts without the grammar."""
    rooms = "airproof.base.diagnostics, airproof.base.quantities"
    code = f"import sys, {rooms}; print('lark' in sys.modules)"
    run = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env={"PYTHONPATH": str(ROOT / "checker")},
    )
    assert run.stdout.strip() == "False"
