"""Cutting edges off."""

import numpy as np
import pytest

from core.fault import Refused
from core.sheet import Sheet
from core.steps.crop import Crop
from tests.strategies import DEPTHS

PPI = 254  # ten pixels are a millimetre


@pytest.mark.parametrize("dtype", DEPTHS)
def test_each_edge_is_cut_where_it_lies(dtype):
    plane = (np.arange(60 * 80) % 250).astype(dtype).reshape(60, 80)
    sheet = Sheet(ppi=PPI, grey=plane, alpha=plane, colour=np.stack([plane] * 3, axis=2))
    done = Crop(left=1, top=2, right=3, bottom=0.5).apply(sheet)
    kept = plane[20:55, 10:50]
    assert (done.grey == kept).all()
    assert (done.alpha == kept).all()
    assert (done.colour == kept[..., None]).all()
    assert done.grey.flags.c_contiguous
    assert not np.shares_memory(done.grey, plane)


def test_lengths_are_cut_to_the_nearest_pixel_at_any_resolution():
    sheet = Sheet(ppi=PPI, grey=np.zeros((30, 30), np.uint8))
    assert Crop(left=0.04).apply(sheet).shape == (30, 30)
    assert Crop(left=0.06).apply(sheet).shape == (30, 29)
    fine = Sheet(ppi=2 * PPI, grey=np.zeros((60, 60), np.uint8))
    assert Crop(left=1, top=0.5).apply(fine).shape == (50, 40)
    assert Crop(left=1, top=0.5).apply(sheet).shape == (25, 20)


def test_nothing_cut_is_the_page():
    sheet = Sheet(ppi=300, grey=np.array([[7]], np.uint8))
    assert Crop().apply(sheet).grey.tolist() == [[7]]


@pytest.mark.parametrize("step", [
    Crop(left=3), Crop(right=3), Crop(top=2), Crop(left=1.5, right=1.5), Crop(bottom=2000),
])
def test_a_page_cut_to_nothing_is_refused(step):
    sheet = Sheet(ppi=PPI, grey=np.zeros((20, 30), np.uint8))
    with pytest.raises(Refused, match="nothing of the page is left"):
        step.apply(sheet)


def test_one_pixel_may_be_left():
    sheet = Sheet(ppi=PPI, grey=np.zeros((20, 30), np.uint8))
    assert Crop(left=1.5, right=1.4, top=1.9).apply(sheet).shape == (1, 1)
