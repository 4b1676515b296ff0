"""Quarter turns."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given

from core.sheet import Sheet
from core.steps.turn import Turn
from tests.strategies import DEPTHS, scans

PLANE = np.array([[1, 2, 3], [4, 5, 6]])
TURNED = {
    90: [[4, 1], [5, 2], [6, 3]], 180: [[6, 5, 4], [3, 2, 1]], 270: [[3, 6], [2, 5], [1, 4]],
}


@pytest.mark.parametrize("dtype", DEPTHS)
@pytest.mark.parametrize("angle", TURNED)
def test_turns_are_clockwise_in_every_plane(angle, dtype):
    plane = PLANE.astype(dtype)
    sheet = Sheet(ppi=300, grey=plane, alpha=plane, colour=np.stack([plane] * 3, axis=2))
    done = Turn(angle=angle).apply(sheet)
    for turned in (done.grey, done.alpha, *np.moveaxis(done.colour, 2, 0)):
        assert turned.tolist() == TURNED[angle]
        assert turned.dtype == dtype
    assert done.grey.flags.c_contiguous


@given(scans(colour=True))
def test_four_quarters_and_two_halves_are_no_turn(sheet):
    sheet = replace(sheet, ppi=71)
    quarters = sheet
    for _ in range(4):
        quarters = Turn(angle=90).apply(quarters)
    halves = Turn(angle=180).apply(Turn(angle=180).apply(sheet))
    back = Turn(angle=270).apply(Turn(angle=90).apply(sheet))
    for again in (quarters, halves, back):
        assert (again.colour == sheet.colour).all()
        assert again.ppi == 71
        assert again.grey is None
