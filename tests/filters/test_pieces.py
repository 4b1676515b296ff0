"""Pieces of a mask, against SciPy's own labels, objects and centres of mass."""

import cv2
import numpy as np
import pytest
from scipy import ndimage

from app.filters.pieces import find_pieces


def a_mask(share: float, shape: tuple[int, int] = (90, 130)) -> np.ndarray:
    chance = np.random.default_rng(round(100 * share))
    soft = cv2.GaussianBlur(chance.random(shape, np.float32), (0, 0), 1.5)
    return (soft > np.quantile(soft, 1 - share)).astype(np.uint8)


@pytest.mark.parametrize("share", [0.02, 0.2, 0.7])
def test_pieces_lie_where_scipy_finds_them(share):
    mask = a_mask(share)
    found = find_pieces(mask)
    labels, count = ndimage.label(mask, np.ones((3, 3)))
    assert len(found.box) == count + 1 > 2
    for number, (down, across) in enumerate(ndimage.find_objects(labels), start=1):
        row = found.labels[labels == number][0]
        own = labels == number
        assert (found.labels[own] == row).all()
        width, height = across.stop - across.start, down.stop - down.start
        assert found.box[row].tolist() == [across.start, down.start, width, height, own.sum()]
        assert found.middle[row] == pytest.approx(ndimage.center_of_mass(own))
        assert found.longest[row] == max(width, height)
    assert np.array_equal(found.place, np.flatnonzero(mask))
    assert np.array_equal(found.owner, found.labels.ravel()[found.place])


@pytest.mark.parametrize("mask", [np.zeros((5, 9), np.uint8), np.zeros((1, 1), np.uint8)])
def test_an_empty_mask_has_no_pieces(mask):
    found = find_pieces(mask)
    assert found.box.tolist() == [[0, 0, 0, 0, 0]]
    assert not found.labels.any()
    assert not len(found.place)
