"""Tidy text and printed trees: the same tree, every comment, and nothing left to tidy."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from airproof.base.diagnostics import Rejected
from airproof.language import parse, print_document, tidy
from airproof.language.scan import lines_of
from language.trees import EVERYTHING, bare, circuit_files

FILES = circuit_files()


def comments(text: str) -> list[str]:
    """The comments without their `#`, in order."""
    found = [line.comment for line in lines_of(text, "")]
    return [comment.text.lstrip("#").strip() for comment in found if comment is not None]


def check(text: str) -> str:
    """Tidies the text and asserts all that tidying promises."""
    tidied = tidy(text, "text")
    assert bare(parse(tidied, "").statements) == bare(parse(text, "").statements)
    assert tidy(tidied, "text") == tidied
    assert comments(tidied) == comments(text)
    return tidied


def test_files_are_there() -> None:
    """The globs find the circuits of the checkout."""
    assert len(FILES) > 60


@pytest.mark.parametrize("file", FILES, ids=[file.stem for file in FILES])
def test_tidy_and_print_keep_the_tree(file: Path) -> None:
    """Every circuit of the checkout survives tidying and printing."""
    text = file.read_text(encoding="utf-8")
    check(text)
    printed = print_document(parse(text, ""))
    assert bare(parse(printed, "")) == bare(parse(text, ""))


def test_every_statement_survives() -> None:
    """The text with every statement survives tidying and printing."""
    check(EVERYTHING)
    printed = print_document(parse(EVERYTHING, ""))
    assert bare(parse(printed, "")) == bare(parse(EVERYTHING, ""))
    assert print_document(parse(printed, "")) == printed


UNTIDY = """\


#the yard
supply   main :0 bar..8bar ,starts 0bar


  # inside
flow f :main->pipe   while( main>=-1 bar and pipe is  open ),choke 1.2mm+-10%   #way
   one way


part cab
  ports feed ;
"""


def test_spaces_and_blank_lines() -> None:
    """Spaces, indents and blank lines become even; line breaks stay."""
    text = UNTIDY.replace("part cab\n  ports feed ;\n", "") + (
        "part cab\n  ports feed,out\n     # of the part\n"
        "  valve v: a,b\n        moves to a when m-n<2 bar\n          and s   # more\nend part"
    )
    assert check(text) == (
        "# the yard\n"
        "supply main: 0 bar .. 8 bar, starts 0 bar\n"
        "\n"
        "# inside\n"
        "flow f: main -> pipe while (main >= -1 bar and pipe is open), "
        "choke 1.2 mm +- 10 %  # way\n"
        "    one way\n"
        "\n"
        "part cab\n"
        "    ports feed, out\n"
        "    # of the part\n"
        "    valve v: a, b\n"
        "        moves to a when m - n < 2 bar\n"
        "            and s  # more\n"
        "end part\n"
    )


def test_what_is_no_circuit_is_refused() -> None:
    """Nothing is tidied that was not understood."""
    with pytest.raises(Rejected):
        tidy(UNTIDY, "text")


LINES = EVERYTHING.split("\n")
SPACES = st.sampled_from(["", " ", "   "])


@settings(derandomize=True, deadline=5000, max_examples=8)
@given(st.data())
def test_any_spacing_is_tidied(data: st.DataObject) -> None:
    """Blank lines, comments and wide spaces anywhere change nothing but themselves."""
    rows: list[str] = []
    for line in LINES:
        if data.draw(st.integers(0, 9)) == 0:
            rows.append(data.draw(st.sampled_from(["", "# note", "      # deep", "  #!x", "#"])))
        tail = data.draw(st.sampled_from(["", "", "", "  ", " # why", "#why"]))
        wide = line.replace(", ", f"{data.draw(SPACES)},{data.draw(SPACES)} ")
        rows.append(wide + tail if '"' not in line and "#" not in line else line)
    check("\n".join(rows))
