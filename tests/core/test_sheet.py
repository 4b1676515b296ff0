"""A page, its bands, and bands put together again."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.fault import Cancelled
from core.sheet import BAND_ROWS, Paper, Sheet, full_scale, spans, whole
from tests.strategies import DEPTHS, scans


class Banded:
    """A page that is given by bands only, as a file is."""

    def __init__(self, sheet):
        self.sheet = sheet
        self.asked = []

    @property
    def shape(self):
        return self.sheet.shape

    def rows(self, top, bottom):
        assert 0 <= top < bottom <= self.shape[0]
        self.asked.append((top, bottom))
        return self.sheet.rows(top, bottom)


def tall_sheet(dtype=np.uint8):
    height = 2 * BAND_ROWS + 5
    grey = (np.arange(height * 3).reshape(height, 3) % 251).astype(dtype)
    return Sheet(ppi=300, grey=grey, colour=np.stack([grey, grey + 1, grey + 2], axis=2))


@pytest.mark.parametrize(("dtype", "full"), [(np.uint8, 255), (np.uint16, 65535)])
def test_full_scale_is_the_largest_value(dtype, full):
    assert full_scale(np.zeros((1, 1), dtype)) == full
    assert Sheet(ppi=300, alpha=np.zeros((2, 3), dtype)).full == full


def test_a_sheet_without_a_plane_is_refused():
    with pytest.raises(ValueError, match="needs a plane"):
        Sheet(ppi=300)


@pytest.mark.parametrize("other", [np.zeros((3, 2), np.uint8), np.zeros((2, 3), np.uint16)])
def test_planes_of_two_sizes_or_depths_are_refused(other):
    with pytest.raises(ValueError, match="one size and one depth"):
        Sheet(ppi=300, grey=np.zeros((2, 3), np.uint8), alpha=other)


def test_a_sheet_knows_its_size_by_whichever_plane_it_has():
    plane = np.zeros((4, 6), np.uint8)
    for sheet in (Sheet(ppi=300, grey=plane), Sheet(ppi=300, alpha=plane),
                  Sheet(ppi=300, colour=np.zeros((4, 6, 3), np.uint8))):
        assert sheet.shape == (4, 6)
        assert sheet.height == 4


def test_a_band_is_a_view_of_every_plane():
    sheet = tall_sheet()
    band = sheet.rows(10, 20)
    assert band.shape == (10, 3)
    assert np.shares_memory(band.grey, sheet.grey)
    assert np.shares_memory(band.colour, sheet.colour)
    assert (band.grey == sheet.grey[10:20]).all()
    assert band.alpha is None


@given(st.integers(0, 2000), st.integers(1, 300))
def test_spans_cover_a_page_once_and_in_order(height, rows):
    covered = [row for top, bottom in spans(height, rows) for row in range(top, bottom)]
    assert covered == list(range(height))
    assert all(bottom - top <= rows for top, bottom in spans(height, rows))


@pytest.mark.parametrize("dtype", DEPTHS)
@pytest.mark.parametrize("threads", [1, 3])
def test_bands_put_together_are_the_page(dtype, threads):
    sheet = tall_sheet(dtype)
    with ThreadPoolExecutor(threads) as pool:
        again = whole(Banded(sheet), pool.map)
    assert (again.grey == sheet.grey).all()
    assert (again.colour == sheet.colour).all()
    assert again.grey.dtype == dtype
    assert (again.alpha, again.ppi, again.ink) == (None, 300, sheet.ink)


@given(scans(colour=False))
def test_a_page_of_one_band_comes_back_too(sheet):
    assert (whole(Banded(sheet)).grey == sheet.grey).all()


def test_what_only_bands_know_is_kept():
    lifted = Sheet(ppi=120, alpha=np.zeros((3, 2), np.uint8), ink=(9, 8, 7))
    assert whole(Banded(lifted)).ink == (9, 8, 7)
    own = replace(lifted, colour=np.zeros((3, 2, 3), np.uint8), ink=None)
    assert whole(Banded(own)).ink is None


def test_the_watcher_sees_every_band_and_may_stop_it():
    seen = []
    whole(Banded(tall_sheet()), watch=lambda done, total: seen.append((done, total)))
    assert seen == [(128, 261), (256, 261), (261, 261)]

    def stop(done, total):
        raise Cancelled

    with pytest.raises(Cancelled):
        whole(Banded(tall_sheet()), watch=stop)


def test_paper_without_colour_has_its_grey_in_every_channel():
    assert Paper(peak=228.5, noise=3).colour == (228.5, 228.5, 228.5)
    assert Paper(peak=228.5, noise=3, channels=(230, 228, 220)).colour == (230, 228, 220)
