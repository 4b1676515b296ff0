"""Joining of pieces: sums hold, small ones go first, and a heavy line parts hatching."""

import cv2
import numpy as np
import pytest

from app.filters.adjacent import Edges, Lines, Pieces, measured
from app.filters.areas import Bounds, find_areas
from app.filters.grouping import Groups

PPI = 300
MM = PPI / 25.4


def px(value):
    return round(value * MM)


def some_edges(*edges):
    """Edges given by their two pieces and their length in mm."""
    low, high, length = (np.array(values) for values in zip(*edges, strict=True))
    nothing = np.zeros(len(low))
    return Edges(low, high, length.astype(float), nothing, nothing, nothing)


def some_pieces(*areas):
    """Pieces of so many mm2, from the first, of which nothing else is known."""
    count = len(areas) + 1
    area, *others = (np.zeros(count) for _ in range(7))
    area[1:] = areas
    ink, within, drawn, inner, weight, around = others
    return Pieces(np.zeros(count, np.bool_), area, ink, np.zeros((count, 8)), within, drawn,
                  inner, weight, around)


def hatched_page(middle, wide=0.17):
    """A box of 40 mm hatched all over, and a line down its middle."""
    page = np.zeros((px(44), px(60)), np.uint8)
    cv2.rectangle(page, (px(10), px(5)), (px(50), px(39)), 255, px(0.6))
    for shift in np.arange(-60, 60, 0.8):
        line = np.zeros_like(page)
        cv2.line(line, (px(30 + shift), px(2)), (px(40 + shift), px(42)), 255, max(1, px(wide)))
        inside = np.s_[px(5) : px(39), px(10) : px(50)]
        page[inside] |= line[inside]
    if middle:
        cv2.line(page, (px(30), px(5)), (px(30), px(39)), 255, px(middle))
    return page


@pytest.mark.parametrize(("middle", "parts"), [(0, False), (0.6, True)])
def test_hatching_is_one_area_and_a_heavy_line_parts_it(middle, parts):
    found = find_areas(hatched_page(middle), PPI, Bounds(gap=1.0, smallest=1.0))
    most = []
    for left in (12, 32):
        inside = found.labels[px(8) : px(36), px(left) : px(left + 16)]
        counts = np.bincount(inside.ravel())
        assert counts.max() > 0.95 * inside.size
        most.append(int(counts.argmax()))
    assert (most[0] != most[1]) is parts


def test_joined_pieces_have_the_sums_of_what_they_are_made_of():
    # Against measuring the same page anew with the pieces' numbers already made one.
    rng = np.random.default_rng(4)
    cells = np.kron(rng.integers(0, 256, (12, 15)), np.ones((20, 20))).astype(np.uint8)
    labels = np.kron(np.arange(1, 181).reshape(12, 15), np.ones((20, 20))).astype(np.uint16)
    bare = (cells < 51).astype(np.uint8)
    lines = Lines(cells, bare, np.zeros(cells.shape, np.float32), np.zeros_like(bare))
    into = np.arange(181)
    into[1:] = (np.arange(180) // 7) * 7 + 1
    groups = Groups(*measured(labels, lines, PPI))
    groups.join(into)
    edges, pieces = measured(into[labels].astype(np.uint16), lines, PPI)
    assert (groups.into == into).all()
    assert set(zip(groups.edges.low, groups.edges.high, strict=True)) == set(
        zip(edges.low, edges.high, strict=True))
    left = np.unique(into)[1:]
    for name in ("area", "ink", "turns"):
        made, anew = (getattr(of, name)[left] for of in (groups.pieces, pieces))
        assert made == pytest.approx(anew)


def test_small_pieces_join_from_the_smallest_up_along_their_longest_edge():
    # 1 is the smallest and goes into 2, which now touches 4 longer than 3
    edges = some_edges((1, 2, 3.0), (1, 4, 2.5), (2, 3, 2.0), (2, 4, 0.5), (3, 4, 9.0))
    groups = Groups(edges, some_pieces(0.2, 0.5, 5.0, 9.0))
    groups.join_small(1.0)
    assert groups.into.tolist() == [0, 4, 4, 3, 4]


def test_without_neighbours_a_small_piece_stays():
    groups = Groups(some_edges((2, 3, 1.0)), some_pieces(0.1, 5.0, 6.0))
    groups.join_small(1.0)
    assert groups.into.tolist() == [0, 1, 2, 3]
