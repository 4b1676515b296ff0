"""Which pieces become one area: outlines part, hatching does not."""

import cv2
import numpy as np
import pytest

from app.filters.areas import Bounds, find_areas
from app.filters.flats import Flats
from app.filters.strips import ROWS
from core.sheet import Sheet

PPI = 300
MM = PPI / 25.4
BOUNDS = Bounds(gap=1.0, smallest=1.0)


def px(value):
    return round(value * MM)


def box(page, left, top, right, bottom, wide=0.5):
    cv2.rectangle(page, (px(left), px(top)), (px(right), px(bottom)), 255, px(wide))


def hatched(page, left, top, right, bottom, angle, spacing, wide=0.17):
    """Lines at an angle within a box."""
    layer, middle = np.zeros_like(page), np.array([left + right, top + bottom]) / 2
    ahead = np.array([np.cos(angle), np.sin(angle)])
    for shift in np.arange(-40, 40, spacing):
        start = middle + shift * ahead[::-1] * (-1, 1)
        ends = [tuple(np.rint((start + way * 60 * ahead) * MM).astype(int)) for way in (-1, 1)]
        cv2.line(layer, *ends, 255, max(1, px(wide)))
    inside = np.s_[px(top) : px(bottom), px(left) : px(right)]
    page[inside] |= layer[inside]


def two_boxes(first, second, spacing=(0.9, 0.9)):
    """Two boxes side by side, each hatched at an angle."""
    page = np.zeros((px(40), px(60)), np.uint8)
    for left, angle, apart in ((8, first, spacing[0]), (28, second, spacing[1])):
        box(page, left, 8, left + 20, 32)
        if angle is not None:
            hatched(page, left, 8, left + 20, 32, angle, apart)
    return page


def shares(page, *places):
    """The area that has most of a box of 14 mm about each place, and its share of it."""
    flats = Flats().apply(Sheet(ppi=PPI, alpha=page)).flats
    found = []
    for x, y in places:
        inside = flats[px(y - 8) : px(y + 8), px(x - 7) : px(x + 7)]
        counts = np.bincount(inside.ravel())
        found.append((int(counts.argmax()), float(counts.max() / inside.size)))
    return found


@pytest.mark.parametrize("angles", [(0.9, 2.2), (0.9, None), (0.9, 0.9), (None, None)])
@pytest.mark.parametrize("spacing", [(0.7, 0.9), (0.6, 0.6), (1.2, 1.2)])
def test_what_an_outline_parts_stays_apart_however_it_is_hatched(angles, spacing):
    found = shares(two_boxes(*angles, spacing), (18, 20), (38, 20))
    assert found[0][0] != found[1][0]
    assert min(share for _, share in found) > 0.95


def test_a_small_piece_joins_along_its_longest_edge_and_a_large_one_does_not():
    page = np.zeros((px(30), px(40)), np.uint8)
    box(page, 5, 5, 35, 25)
    box(page, 10, 10, 15, 15)
    cv2.rectangle(page, (px(25), px(10)), (px(25.7), px(10.7)), 255, 2)
    found = find_areas(page, PPI, BOUNDS)
    at = found.at(np.array([(1.0, 1.0), (20.0, 20.0), (12.5, 12.5), (25.35, 25.35)]), PPI)
    assert found.count == 3
    assert len(set(at[:3].tolist())) == 3


def test_nothing_joins_over_a_cut_though_nothing_is_drawn_there():
    page = np.zeros((px(30), px(40)), np.uint8)
    box(page, 5, 5, 35, 25)
    cut = np.array([(20.0, 3.0), (20.0, 27.0)])
    found = find_areas(page, PPI, Bounds(1.0, 1.0, (cut,)))
    one, other = found.at(np.array([(10.0, 15.0), (30.0, 15.0)]), PPI)
    assert one != other


def test_a_thick_black_wall_parts_as_a_line_does():
    page = np.zeros((px(30), px(40)), np.uint8)
    box(page, 5, 5, 35, 25, 0.4)
    page[px(5) : px(25), px(16) : px(24)] = 255
    found = find_areas(page, PPI, BOUNDS)
    assert len(set(found.at(np.array([(10.0, 15.0), (30.0, 15.0), (1.0, 1.0)]), PPI))) == 3


def test_the_map_is_the_same_when_it_is_made_again():
    page = two_boxes(0.9, 2.2)
    assert (find_areas(page, PPI, BOUNDS).labels == find_areas(page, PPI, BOUNDS).labels).all()


def test_the_map_is_the_same_on_any_number_of_threads():
    page = np.tile(two_boxes(0.9, 2.2), (2, 2))  # taller than one strip
    threads = cv2.getNumThreads()
    maps = []
    try:
        for count in (1, 2):
            cv2.setNumThreads(count)
            maps.append(find_areas(page, PPI, BOUNDS).labels)
    finally:
        cv2.setNumThreads(threads)
    assert len(page) > ROWS
    assert (maps[0] == maps[1]).all()
