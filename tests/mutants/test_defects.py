"""Every planted defect still fits the program, and is one."""

from __future__ import annotations

import ast

import pytest

from mutants.planting import CHECKOUT, Defect, defects

DEFECTS = defects()


def test_there_are_enough_of_them_in_every_part() -> None:
    """No part of the program goes without planted defects, and no name is used twice."""
    assert len({defect.name for defect in DEFECTS}) == len(DEFECTS) >= 60
    rooms = {defect.file.split("/", 1)[0] for defect in DEFECTS}
    assert rooms >= {"circuit", "transition", "engines", "certify"}


@pytest.mark.parametrize("defect", DEFECTS, ids=lambda defect: defect.name)
def test_it_can_be_planted(defect: Defect) -> None:
    """Its text is there once, and the program with it can be read and is another one."""
    source = (CHECKOUT / defect.path).read_text(encoding="utf-8")
    planted = defect.planted(source)
    assert ast.dump(ast.parse(planted)) != ast.dump(ast.parse(source))


@pytest.mark.parametrize("defect", DEFECTS, ids=lambda defect: defect.name)
def test_it_is_said_what_it_breaks_and_who_should_see_it(defect: Defect) -> None:
    """Words that say something, and tests that are there."""
    assert len(defect.breaks.split()) >= 4
    assert defect.same is None or len(defect.same.split()) >= 8
    for test in (test for some in defect.asked for test in some):
        assert (CHECKOUT / test.split("::", 1)[0]).exists(), test
