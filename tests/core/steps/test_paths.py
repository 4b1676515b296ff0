"""Fields that hold several places: what is wrong is named with its place."""

import pytest

from app.filters.flats import Flats
from app.filters.holds import Hold
from core.steps.fields import Reader, load_record

FINE = {"at": [1, 2.5], "colour": "#010203"}


def faults_of(kind, **fields):
    reader = Reader({})
    load_record(kind, fields, "step 1", reader)
    return [str(fault) for fault in reader.faults]


@pytest.mark.parametrize(("fields", "said"), [
    ({"seeds": 5}, "5 is not an array"),
    ({"seeds": [FINE, 7]}, "seeds, place 2: 7 is not a place and its colour"),
    ({"seeds": [{"at": [1, 2]}]}, "an object is not a place"),
    ({"seeds": [{"at": [1, -2], "colour": "#010203"}]}, "seeds, place 1, at: an array is not a"),
    ({"seeds": [{"at": [1, 2], "colour": "red"}]}, "seeds, place 1, colour"),
    ({"joins": {}}, "an object is not an array"),
    ({"joins": [[[1, 2]]]}, "joins, line 1: a line has 2 to"),
    ({"cuts": [[[1, 2], [3, True]]]}, "cuts, line 1, place 2"),
])
def test_what_is_wrong_with_flats(fields, said):
    found = faults_of(Flats, **fields)
    assert len(found) == 1
    assert said in found[0]


def test_what_is_wrong_with_a_brush():
    assert "a line has 1 to" in faults_of(Hold, area={"how": "brush", "strokes": [[]]})[0]
    assert "place 1" in faults_of(Hold, area={"how": "brush", "strokes": [[[1, 2, 3]]]})[0]


def test_what_is_fine_is_read():
    reader = Reader({})
    made = load_record(Flats, {"seeds": [FINE], "cuts": [[[1, 2], [3, 4]]]}, "step 1", reader)
    assert not reader.faults
    assert made.seeds == (((1.0, 2.5), (1, 2, 3)),)
    assert made.cuts == (((1.0, 2.0), (3.0, 4.0)),)
    assert made.sentence() == (
        "Lay flats: gaps in the line up to 1 mm are shut, areas under 1 mm2 join a neighbour "
        "(no joins, 1 cut); each takes a colour of its own, no two alike (1 coloured place), and "
        "spreads up to 0.3 mm beneath the ink."
    )
