"""Placing: places of the scan on a page that was cut and turned."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.filters.straighten import Given, Straighten
from core.placing import AS_SCANNED
from core.sheet import Sheet
from core.steps.crop import Crop
from core.steps.turn import Turn

LENGTH = st.floats(-500, 500)


@given(st.floats(-180, 180), LENGTH, LENGTH, LENGTH, LENGTH)
def test_there_and_back(degrees, x, y, right, down):
    placing = AS_SCANNED.turned(degrees, (x, y)).shifted(right, down)
    places = np.array([[1.0, 2.0], [300.0, -40.0]])
    assert np.allclose(placing.on_scan(placing.on_page(places)), places, atol=1e-6)


@pytest.mark.parametrize("steps", [
    (Crop(left=2, top=3),), (Turn(angle=90),), (Turn(angle=180),), (Turn(angle=270),),
    (Straighten(angle=Given(degrees=5)),), (Straighten(angle=Given(degrees=-3)), Turn(angle=270)),
    (Turn(angle=90), Crop(left=4, bottom=2), Straighten(angle=Given(degrees=2))),
], ids=repr)
def test_a_mark_is_where_its_placing_says(steps):
    grey = np.full((300, 400), 255, np.uint8)
    grey[148:153, 98:103] = 0  # its middle 10.05 mm from the left, 15.05 mm from the top
    sheet = Sheet(ppi=254, grey=grey)
    for step in steps:
        sheet = step.apply(sheet)
    rows, columns = np.nonzero(sheet.grey < 100)
    where = sheet.placing.on_page([(10.05, 15.05)])[0]
    assert abs((columns.mean() + 0.5) / 10 - where[0]) < 0.06
    assert abs((rows.mean() + 0.5) / 10 - where[1]) < 0.06
