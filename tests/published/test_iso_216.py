"""Sheet sizes of ISO 216:2007 (A series, table 1) in pixels."""

from itertools import pairwise

import pytest

from core.units import mm_to_px, px_to_mm

A_SERIES = {
    "A0": (841, 1189), "A1": (594, 841), "A2": (420, 594), "A3": (297, 420), "A4": (210, 297),
    "A5": (148, 210), "A6": (105, 148),
}


def pixels(name, ppi):
    return tuple(round(mm_to_px(side, ppi)) for side in A_SERIES[name])


@pytest.mark.parametrize(("name", "ppi", "size"), [
    ("A6", 300, (1240, 1748)), ("A5", 300, (1748, 2480)), ("A4", 300, (2480, 3508)),
    ("A3", 300, (3508, 4961)), ("A4", 600, (4961, 7016)), ("A3", 600, (7016, 9921)),
    ("A4", 1200, (9921, 14031)), ("A4", 72, (595, 842)),
])
def test_sheets_have_the_pixels_that_scanners_give_them(name, ppi, size):
    """Pixel counts: common practice, no source."""
    assert pixels(name, ppi) == size


@pytest.mark.parametrize("ppi", [72, 300, 600, 1200])
@pytest.mark.parametrize("name", A_SERIES)
def test_pixels_are_the_sheets_millimetres_again(name, ppi):
    back = [px_to_mm(side, ppi) for side in pixels(name, ppi)]
    for side, mm in zip(back, A_SERIES[name], strict=True):
        assert abs(side - mm) <= 25.4 / ppi / 2


def test_each_sheet_is_the_one_before_cut_in_half():
    """ISO 216:2007, clause 3: halved parallel to the shorter side, fractions of a mm dropped."""
    sizes = list(A_SERIES.values())
    for (short, long), smaller in pairwise(sizes):
        assert smaller == (long // 2, short)
