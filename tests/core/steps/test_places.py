"""Points and outlines: read, written, described."""

import math

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.steps.fields import Reader
from core.steps.places import FARTHEST, MOST_CORNERS, Point, Polygon
from tests.strategies import places

POINT, OUTLINE = Point("point"), Polygon("outline")


def read(spec, value):
    reader = Reader({})
    return spec.load(value, "step 1, at", reader), reader.faults


@given(places)
def test_a_place_comes_back_as_it_was_written(place):
    assert read(POINT, POINT.dump(place)) == (place, [])
    jsonschema.validate(POINT.dump(place), POINT.schema())


@given(st.lists(places, min_size=3, max_size=20).map(tuple))
def test_an_outline_comes_back_as_it_was_written(corners):
    assert read(OUTLINE, OUTLINE.dump(corners)) == (corners, [])
    jsonschema.validate(OUTLINE.dump(corners), OUTLINE.schema())


@pytest.mark.parametrize("value", [
    None, 3, "1,2", [], [1], [1, 2, 3], [1, "2"], [True, 2], [-0.1, 2], [1, FARTHEST + 1],
    [math.nan, 1], [1, math.inf], [10**400, 1], {"x": 1, "y": 2}, [[1, 2]],
])
def test_what_is_no_place_is_a_fault(value):
    place, faults = read(POINT, value)
    assert place == (0.0, 0.0)
    assert [fault.where for fault in faults] == ["step 1, at"]
    assert "mm from the left" in faults[0].remedy


@pytest.mark.parametrize("value", [
    None, 3, [], [[0, 0], [1, 1]], {"corners": []}, [[0, 0]] * (MOST_CORNERS + 1),
])
def test_what_is_no_outline_is_one_fault(value):
    corners, faults = read(OUTLINE, value)
    assert corners == ()
    assert len(faults) == 1
    assert "3 to 2000 corners" in faults[0].what


def test_each_corner_is_named_by_its_fault():
    _, faults = read(OUTLINE, [[0, 0], [1, None], [2, 2], "here"])
    assert [fault.where for fault in faults] == ["step 1, at, corner 2", "step 1, at, corner 4"]


def test_whole_millimetres_are_written_without_a_point():
    assert POINT.dump((3.0, 4.25)) == [3, 4.25]
    assert OUTLINE.dump(((0.0, 1.0),) * 3) == [[0, 1]] * 3


def test_words():
    assert POINT.words((3.0, 4.25)) == "3 mm from the left and 4.25 mm from the top"
    corners = ((1.0, 2.0), (3.0, 2.0), (3.0, 9.55))
    assert OUTLINE.words(corners) == "3 corners, 1 to 3 mm across and 2 to 9.6 mm down"
    assert OUTLINE.words(()) == "no corners"
