"""The record of decisions as text: what is read, what is added, what has changed since."""

from __future__ import annotations

import random
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from airproof.circuit.deeds import Deed, Done
from airproof.report.pack.changed import changes
from airproof.report.pack.decisions import DISPOSITIONS
from airproof.report.pack.keys import done_in, key_of_moves, moves_told
from airproof.report.pack.records import Present, added, read
from airproof.report.pack.toml_text import Unreadable

TEXTS = {"hoist.circuit": 'circuit hoist "Hoist"\nsupply main: 0 bar .. 8 bar\n# a comment\n'}
NOW = Present("f" * 64, TEXTS, {"low": "1" * 16, "gate": "2" * 16})

PERSON = (
    """\
# our own words, which stay
notes = "bring the drawings"

[[decision]]   # the first
property = 'low'
sequence = '1111111111111111'
fingerprint = '"""
    + "f" * 64
    + """'
disposition = "not credible because"
because = \"\"\"
the main
never falls so\"\"\"
owner = "M. Ortiz"   # the fitter
date = 2026-11-28
signatures = ["A", "B"]
mood = "good"

[rooms]
where = "shed 2"
"""
)


def test_a_new_record_has_an_entry_for_each_breach() -> None:
    """Blank ones, with the circuit's texts so that a later pack can say what changed."""
    record = read(added(read(""), NOW))
    assert [(one.property, one.sequence) for one in record.decisions] == list(NOW.sequences.items())
    assert all(one.blank() for one in record.decisions)
    assert record.circuits == {"f" * 64: TEXTS}


def test_nothing_is_added_twice() -> None:
    """A second call with the same breaches leaves the text as it is."""
    once = added(read(""), NOW)
    assert added(read(once), NOW) == once


def test_what_a_person_wrote_stays() -> None:
    """Byte for byte at the beginning; only the missing entry comes after it."""
    text = added(read(PERSON), NOW)
    assert text.startswith(PERSON)
    assert [one.property for one in read(text).decisions] == ["low", "gate"]
    data = tomllib.loads(text)
    assert data["notes"] == "bring the drawings"
    assert data["decision"][0]["mood"] == "good"
    assert data["rooms"] == {"where": "shed 2"}


def test_what_a_person_wrote_is_read() -> None:
    """Every field, a date without quotes too."""
    one = read(PERSON).decisions[0]
    assert one.disposition == "not credible because"
    assert one.because == "the main\nnever falls so"
    assert (one.owner, one.date, one.signatures) == ("M. Ortiz", "2026-11-28", ("A", "B"))


def test_a_decision_about_the_same_text_stands() -> None:
    """It stands for its property and sequence."""
    one = read(PERSON).about(NOW)["low"][0]
    assert one.stands()


def test_a_decision_about_another_sequence_stands() -> None:
    """It is still one of this text; where there is no breach any more, that is said."""
    one = read(PERSON).about(Present("f" * 64, TEXTS, {"low": "9" * 16}))["low"][0]
    assert one.stands()
    gone = read(PERSON).about(Present("f" * 64, TEXTS, {}))["low"][0]
    assert gone.changes == ("no breach is found now; the decision was about 1111111111111111",)


def test_what_moves_is_kept_and_read_back() -> None:
    """Of a new entry, so that a later search can do without; it is bound to the key."""
    moves = ("control gate shut open; device r out in", "time", "range dial")
    key = key_of_moves(moves)
    now = Present("f" * 64, TEXTS, {"gate": key}, {"gate": (moves, 5)})
    text = added(read(""), now)
    (one,) = read(text).decisions
    assert (one.moves, one.steps, one.blank()) == (moves, 5, True)
    assert done_in(one.moves, one.steps) == Done(
        frozenset({Deed("gate", "open"), Deed("r", "in"), Deed("dial", "")}), 5
    )
    assert list(moves_told(one.moves)) == [
        "gate moves from shut to open; r moves from out to in",
        "time passes",
        "dial is set anew",
    ]
    for wrong, word in ((text.replace("gate shut", "gate open"), "moves"), (text, "steps")):
        with pytest.raises(Unreadable, match=word) as refused:
            read(wrong.replace("steps = 5", "steps = -1"))
        assert text.split("\n")[refused.value.line - 1].startswith(word)


def test_only_this_text_is_disposed_of() -> None:
    """Blank entries and decisions about another text dispose of nothing."""
    record = read(PERSON)
    assert [one.sequence for one in record.disposed("low", "f" * 64)] == ["1" * 16]
    assert record.disposed("low", "e" * 64) == ()
    assert read(added(read(""), NOW)).disposed("low", "f" * 64) == ()


def test_a_changed_text_puts_a_decision_out_of_date() -> None:
    """The lines that went and came are told."""
    text = added(read(""), NOW)
    text = text.replace('disposition = ""', 'disposition = "accepted"', 1)
    later = {"hoist.circuit": TEXTS["hoist.circuit"].replace("8 bar", "9 bar")}
    one = read(text).about(Present("e" * 64, later, {"low": "1" * 16}))["low"][0]
    assert one.changes == ("was: supply main: 0 bar .. 8 bar", "is:  supply main: 0 bar .. 9 bar")
    assert not one.stands()


def test_changed_comments_are_called_so() -> None:
    """Nothing that was decided rests on a comment, but the text is another one."""
    later = {"hoist.circuit": "# new\n\n" + TEXTS["hoist.circuit"].replace("# a comment", "")}
    assert list(changes(TEXTS, later)) == [
        "only comments, spacing or file names; every statement reads as it did"
    ]


def test_a_file_under_another_name_is_the_same_file() -> None:
    """Only its statements are compared; so it is with an included file that reads as it did."""
    part = {"cab.circuit": "part cab\nend part\n"}
    before = {**TEXTS, **part}
    moved = {"hoist_b.circuit": TEXTS["hoist.circuit"], "shed/cab.circuit": part["cab.circuit"]}
    assert list(changes(before, moved)) == [
        "only comments, spacing or file names; every statement reads as it did"
    ]
    later = {"hoist_b.circuit": TEXTS["hoist.circuit"].replace("8 bar", "9 bar")}
    assert list(changes(TEXTS, later)) == [
        "was: supply main: 0 bar .. 8 bar",
        "is:  supply main: 0 bar .. 9 bar",
    ]
    swapped = {"other.circuit": "part lid\n", **TEXTS}
    assert "other.circuit: is:  part lid" in list(changes(TEXTS, swapped))


def test_a_hash_between_quotes_is_no_comment() -> None:
    """What stands behind it counts as changed."""
    before, now = {"a": 'reason "no #1"\n'}, {"a": 'reason "no #2"\n'}
    assert list(changes(before, now)) == ['was: reason "no #1"', 'is:  reason "no #2"']


def test_a_text_that_is_not_known_any_more() -> None:
    """Then it is said that it is not known what changed."""
    one = read(PERSON).about(Present("e" * 64, TEXTS, {"low": "1" * 16}))["low"][0]
    assert one.changes == ("the circuit's text; as it was then is not in the record",)


def test_several_files_are_told_apart() -> None:
    """An included file's lines are told with its name; a file that came is all new."""
    now = {**TEXTS, "part.circuit": "part cab\n"}
    assert list(changes(TEXTS, now)) == ["part.circuit: is:  part cab"]


@pytest.mark.parametrize("word", DISPOSITIONS)
def test_each_disposition_is_known(word: str) -> None:
    """As it is written on the sheet."""
    text = added(read(""), NOW).replace('disposition = ""', f'disposition = "{word}"', 1)
    assert read(text).decisions[0].disposition == word


@pytest.mark.parametrize(
    ("wrong", "line", "said"),
    [
        ("[[decision]]\nproperty = low\n", 2, "invalid value"),
        ("a = 1\na = 2\n", 2, "cannot overwrite"),
        ('[[decision]]\nproperty = "low"\n', 1, "needs a text for `sequence`"),
        ("decision = 3\n", 1, "begins with a line [[decision]]"),
        ("x = 1\n\n\ndecision = [3]\n", 4, "begins with a line [[decision]]"),
        (PERSON.replace('"not credible because"', '"acepted"'), 8, "did you mean `accepted`?"),
        (PERSON.replace('"not credible because"', "7"), 8, "`disposition` is a text"),
        (PERSON.replace('["A", "B"]', "[1]"), 14, "`signatures` is a list of texts"),
        (PERSON.replace("'low'", "''"), 5, "needs a text for `property`"),
        (PERSON + PERSON[PERSON.index("[[") : PERSON.index("[rooms]")], 19, "decided twice"),
        (PERSON + "[circuits]\nx = 1\n", 19, "`circuits` holds the texts"),
        ("x = " + "[" * 5000, 1, ""),
        ('x = "', 1, "unterminated string"),
        ("\ufeffx = 1\nx = 2\n", 2, "cannot overwrite"),
        ("# a decision = \ndecision = []\n", 2, "under a line [[decision]]"),
        (PERSON.replace("[[decision]]", "[decision]"), 4, "begins with a line [[decision]]"),
        (PERSON + "[[circuits]]\n", 19, "`circuits` holds the texts"),
        ("circuits = {}\n" + PERSON, 1, "under a line [circuits.fingerprint]"),
    ],
)
def test_a_mistake_is_answered_with_its_line(wrong: str, line: int, said: str) -> None:
    """Each kind of mistake, in a record that is otherwise right."""
    with pytest.raises(Unreadable) as refused:
        read(wrong)
    assert refused.value.line == line, refused.value.message
    assert said in refused.value.message.lower()


def test_a_record_of_another_shape_is_refused_when_it_is_read() -> None:
    """A list in one line cannot grow, so nobody searches for what could not be kept."""
    text = 'decision = [{property = "low", sequence = "1111111111111111", fingerprint = "f"}]\n'
    with pytest.raises(Unreadable, match="nothing can be added"):
        read(text)


@pytest.mark.parametrize("text", ["", "# mine\n", PERSON, "circuits.a.x = 'y'"])
def test_a_byte_order_mark_stays_and_says_nothing(text: str) -> None:
    """An editor's mark before the first letter: read as if it were not there, and kept."""
    marked = added(read(f"\ufeff{text}"), NOW)
    assert marked.startswith(f"\ufeff{text}")
    assert marked.count("\ufeff") == 1
    assert read(marked).decisions == read(added(read(text), NOW)).decisions


@given(st.text(), st.dictionaries(st.text(min_size=1), st.text(), max_size=3))
def test_any_text_of_a_circuit_can_be_kept(title: str, texts: dict[str, str]) -> None:
    """It is read back as it was, line ends apart, which TOML makes equal."""
    known = {**texts, "main": title}
    told = {name: text.encode("utf-8", "replace").decode() for name, text in known.items()}
    safe = {n.encode("utf-8", "replace").decode(): t for n, t in told.items()}
    present = Present("a" * 64, safe, {"p": "1" * 16})
    kept = read(added(read(""), present)).circuits["a" * 64]
    assert {n: t.replace("\r\n", "\n") for n, t in kept.items()} == {
        n: t.replace("\r\n", "\n") for n, t in safe.items()
    }


@pytest.mark.parametrize("seed", range(200))
def test_no_text_at_all_ends_in_a_traceback(seed: int) -> None:
    """Spoilt records are read or refused, never anything else."""
    draw = random.Random(seed)
    letters = list(PERSON)
    for _ in range(draw.randint(1, 6)):
        place = draw.randrange(len(letters))
        letters[place] = draw.choice("[]={}\"'\\\n\0#x1\u202e")
    text, line = "".join(letters), 1
    try:
        added(read(text), NOW)
    except Unreadable as error:
        line = error.line
    assert 1 <= line <= text.count("\n") + 1
