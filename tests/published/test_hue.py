"""The hue hexagon (A. R. Smith, SIGGRAPH 1978) as the standard library's colorsys has it."""

import colorsys
from itertools import product

import numpy as np
import pytest
from numpy.testing import assert_allclose

from core.steps.grey import hue_of


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_hues_are_colorsys_own(dtype):
    full = np.iinfo(dtype).max
    some = [full * v // 17 for v in (0, 1, 4, 5, 8, 9, 12, 16, 17)]
    colours = list(product(some, repeat=3))
    expected = [360 * colorsys.rgb_to_hsv(*(v / full for v in colour))[0] for colour in colours]
    hues = hue_of(np.array([colours], dtype))[0]
    # 0 and 360 are one hue, and rounding may fall on either side
    away = np.abs((hues - expected + 180) % 360 - 180)
    assert_allclose(away, 0, atol=1e-9)
    assert hues.min() >= 0
    assert hues.max() < 360
