"""Strips of rows, worked side by side."""

import cv2
import numpy as np
import pytest

from app.filters.strips import side_by_side, strips


@pytest.fixture(params=[1, 2, 5])
def _threads(request):
    before = cv2.getNumThreads()
    cv2.setNumThreads(request.param)
    yield
    cv2.setNumThreads(before)


@pytest.mark.usefixtures("_threads")
@pytest.mark.parametrize("height", [0, 1, 256, 3000])
def test_every_part_is_done_once(height):
    done = np.zeros(height, int)

    def work(strip):
        done[strip[0]] += 1

    side_by_side(work, strips(height, rows=7))
    assert (done == 1).all()


@pytest.mark.usefixtures("_threads")
def test_what_goes_wrong_in_a_part_is_not_lost():
    def work(part):
        if part == 3:
            raise ValueError("the third")

    with pytest.raises(ValueError, match="the third"):
        side_by_side(work, range(20))
