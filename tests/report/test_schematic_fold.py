"""A sheet too large for the paper in two rows, and what hangs lowest put where there is room."""

from __future__ import annotations

import itertools

import pytest

from airproof.language import load
from airproof.report.schematic import paper, plan
from airproof.report.schematic.gather import sheet_of
from airproof.report.schematic.layout import Placed
from airproof.report.schematic.tuck import fitted
from airproof.report.schematic.untwist import untwisted
from airproof.resources import folder

WORKED = folder("models") / "worked"


def test_a_long_sheet_is_fitted_to_the_paper() -> None:
    """The winder's letters grow, and nothing but places changes."""
    sheet, before = untwisted(sheet_of(load(WORKED / "winder.circuit").circuit))
    after = fitted(sheet, before)
    assert paper.printed(after.size) > 1.2 * paper.printed(before.size)
    assert after.size[0] < before.size[0]
    assert after.corners.keys() == before.corners.keys()
    assert [link for link, _ in after.courses] == [link for link, _ in before.courses]


def test_every_line_still_meets_its_ports() -> None:
    """From port to port, level and upright by turns."""
    made = plan(load(WORKED / "winder.circuit").circuit)
    for link, course in made.placed.courses:
        for end, at in ((link.start, course[0]), (link.end, course[-1])):
            corner, frame = made.placed.corners[end.block], made.sheet.frames[end.block]
            port = frame.ports[end.port]
            x = corner[0] + (frame.size[0] if port.side == "right" else 0)
            assert at == pytest.approx((x, corner[1] + port.row), abs=0.02)
        for a, b in itertools.pairwise(course):
            assert abs(a[0] - b[0]) < 0.02 or abs(a[1] - b[1]) < 0.02


@pytest.mark.parametrize("name", ["press", "tram_door"])
def test_what_prints_well_stays_as_it_is(name: str) -> None:
    """No fold without need."""
    sheet, before = untwisted(sheet_of(load(WORKED / f"{name}.circuit").circuit))
    assert fitted(sheet, before) == before


def test_nothing_is_no_trouble() -> None:
    """A sheet without blocks."""
    sheet, _ = untwisted(sheet_of(load(WORKED / "press.circuit").circuit))
    empty = Placed({}, (), (0.0, 0.0))
    assert fitted(sheet, empty) == empty


@pytest.mark.parametrize(
    ("size", "sort"),
    [((900.0, 300.0), "half"), ((1300.0, 1500.0), "tall"), ((1800.0, 700.0), "broad")],
)
def test_each_picture_is_printed_in_the_way_that_suits_it(
    size: tuple[float, float], sort: str
) -> None:
    """Two to a page where the letters are large enough; else whichever way makes them larger."""
    assert paper.sort_of(size) == sort
    others = [paper.points(size, each) for each in ("tall", "broad")]
    if sort != "half":
        assert paper.printed(size) == max(others)
