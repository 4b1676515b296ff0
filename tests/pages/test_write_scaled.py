"""Area averages, against exact fractions, numpy, Pillow and OpenCV."""

from fractions import Fraction
from itertools import pairwise

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from PIL import Image

from app.pages.scaled import Cells, Gathering, average

PLANES = hnp.arrays(st.sampled_from([np.uint8, np.uint16]),
                    hnp.array_shapes(min_dims=2, max_dims=2, max_side=24))


def overlaps(length, small):
    """How much of each pixel lies in each cell, as exact fractions."""
    edge = Fraction(length, small)
    return [
        [max(Fraction(0), min((j + 1) * edge, Fraction(i + 1)) - max(j * edge, Fraction(i)))
         for i in range(length)] for j in range(small)
    ]


def by_fractions(plane, height, width):
    """The definition, cell by cell."""
    rows, columns = overlaps(plane.shape[0], height), overlaps(plane.shape[1], width)
    area = Fraction(plane.shape[0], height) * Fraction(plane.shape[1], width)
    out = np.zeros((height, width), plane.dtype)
    for j, row in enumerate(rows):
        for i, column in enumerate(columns):
            total = sum(r * c * int(plane[y, x])
                        for y, r in enumerate(row) if r for x, c in enumerate(column) if c)
            out[j, i] = int(total / area + Fraction(1, 2))
    return out


@given(PLANES, st.data())
def test_it_is_the_definition_exactly(plane, data):
    height = data.draw(st.integers(1, plane.shape[0]))
    width = data.draw(st.integers(1, plane.shape[1]))
    np.testing.assert_array_equal(average(plane, height, width),
                                  by_fractions(plane, height, width))


@given(PLANES, st.data())
def test_bands_make_no_difference(plane, data):
    height = data.draw(st.integers(1, plane.shape[0]))
    width = data.draw(st.integers(1, plane.shape[1]))
    cuts = sorted(data.draw(st.sets(st.integers(1, plane.shape[0]))) | {0, plane.shape[0]})
    cells = Cells(plane.shape, (height, width))
    gathering = Gathering(cells)
    parts = [cells.mean(gathering.add(cells.sums(plane[a:b], a), b - a), plane.itemsize * 8)
             for a, b in pairwise(cuts)]
    np.testing.assert_array_equal(np.concatenate(parts), average(plane, height, width))


def noise(height, width, kind=np.uint8):
    return np.random.default_rng(2).integers(0, np.iinfo(kind).max + 1, (height, width), kind)


@pytest.mark.parametrize("factor", [1, 2, 3, 7])
@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
def test_whole_factors_are_plain_means(factor, kind):
    plane = noise(42 * factor, 60 * factor, kind)
    mean = plane.reshape(42, factor, 60, factor).mean(axis=(1, 3))
    small = average(plane, 42, 60)
    assert small.dtype == kind
    assert np.abs(small - mean).max() <= 0.5


@pytest.mark.parametrize("factor", [2, 3, 5])
def test_against_pillow_reduce(factor):
    plane = noise(300, 240)
    pillow = np.asarray(Image.fromarray(plane).reduce(factor), np.int64)
    small = average(plane, 300 // factor, 240 // factor)
    assert np.abs(small - pillow).max() <= 1


@pytest.mark.parametrize("size", [(100, 77), (33, 120), (299, 239)])
def test_against_opencv_inter_area(size):
    plane = noise(300, 240)
    opencv = cv2.resize(plane, size[::-1], interpolation=cv2.INTER_AREA).astype(np.int64)
    assert np.abs(average(plane, *size) - opencv).max() <= 1


@pytest.mark.parametrize("value", [0, 1, 254, 255])
def test_an_even_plane_stays_even(value):
    assert (average(np.full((311, 97), value, np.uint8), 40, 31) == value).all()


def test_a_band_too_wide_for_32_bit_sums():
    plane = np.full((128, 70_000), 255, np.uint8)
    assert (average(plane, 3, 7) == 255).all()


@pytest.mark.parametrize("size", [(0, 1), (1, 0), (5, 4), (4, 5)])
def test_it_never_enlarges_nor_vanishes(size):
    with pytest.raises(ValueError, match="no larger than the page"):
        average(np.zeros((4, 4), np.uint8), *size)
