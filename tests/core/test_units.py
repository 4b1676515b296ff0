"""Millimetres and pixels."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.units import MM_PER_INCH, mm_to_px, px_to_mm


def test_an_inch_is_25_4_mm():
    assert MM_PER_INCH == 25.4
    assert mm_to_px(25.4, 600) == 600
    assert px_to_mm(300, 300) == 25.4


@given(st.floats(0, 1e5), st.floats(1, 1e5))
def test_there_and_back_is_the_same_length(length, ppi):
    assert px_to_mm(mm_to_px(length, ppi), ppi) == pytest.approx(length, rel=1e-12)


@given(st.floats(0, 1e5), st.floats(1, 1e5))
def test_twice_the_resolution_is_twice_the_pixels(length, ppi):
    assert mm_to_px(length, 2 * ppi) == pytest.approx(2 * mm_to_px(length, ppi), rel=1e-12)
