"""Hairs go, also where they cross what is drawn; pieces of drawn lines stay."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from app.filters.drop_specks import DropSpecks, Fixed
from app.filters.hairs import find_hairs
from app.filters.specks import Ground
from app.filters.strands import find_strands
from core.matte import to_depth
from core.sheet import Sheet
from tests.strategies import DEPTHS

PPI = 300
MM = PPI / 25.4
PAPER = 230
LIMIT = Fixed(tone=220)


def page_of(height_mm=20, width_mm=20, ppi=PPI):
    return np.full((round(height_mm * ppi / 25.4), round(width_mm * ppi / 25.4)), PAPER, np.uint8)


def line(page, path_mm, wide_mm, tone, ppi=PPI):
    """A line through places (down, across) in mm, as a scanner's lens shows it."""
    fine = np.zeros((page.shape[0] * 4, page.shape[1] * 4), np.uint8)
    per_mm = 4 * ppi / 25.4
    corners = np.rint(np.array(path_mm)[:, ::-1] * per_mm).astype(np.int32)
    cv2.polylines(fine, [corners], False, 255, max(1, round(wide_mm * per_mm)))
    cover = cv2.resize(fine, page.shape[::-1], interpolation=cv2.INTER_AREA) / 255
    lens = cv2.GaussianBlur(cover, (0, 0), 0.036 * ppi / 25.4)
    page[:] = np.rint(page + (tone - page.astype(float)) * lens).astype(np.uint8)


def curl(y_mm, x_mm, radius_mm=1.5, turn=(0.3, 2.2)):
    """An arc about a place, as a hair lies."""
    angles = np.linspace(*turn, 20)
    return [(y_mm + radius_mm * np.sin(a), x_mm + radius_mm * np.cos(a)) for a in angles]


def dropped(page):
    return DropSpecks(limit=LIMIT).apply(Sheet(ppi=PPI, grey=page)).grey


def at(page, places_mm):
    return [int(page[round(y * MM), round(x * MM)]) for y, x in places_mm]


@pytest.mark.parametrize("dtype", DEPTHS)
@pytest.mark.parametrize("tone", [100, 140])
def test_a_hair_that_crosses_a_black_line_goes_on_both_sides_of_it(tone, dtype):
    page = page_of()
    line(page, [(10, 2), (10, 18)], 0.4, 30)
    hair = curl(10, 6, 4, (-0.5, 0.5))
    line(page, hair, 0.05, tone)
    assert max(at(page, hair[:5] + hair[-5:])) < PAPER - 5
    done = dropped(to_depth(page, 8 * np.dtype(dtype).itemsize))
    full = np.iinfo(dtype).max
    assert min(at(done, hair[:5] + hair[-5:])) == full
    assert np.array_equal(page < 100, done < 100 * (full // 255))


def test_a_hair_whose_end_lies_in_pencil_goes_up_to_the_pencil():
    page = page_of()
    rough = np.random.default_rng(3).random((round(8 * MM), page.shape[1])) < 0.45
    page[: len(rough)][rough] = 170
    line(page, [(7.5, 10), (8.6, 10.2), (9.8, 10.8), (11, 11.8)], 0.05, 120)
    done = dropped(page)
    assert min(at(done, [(9.2, 10.5), (9.8, 10.8), (10.4, 11.3)])) == 255
    shade = page[: len(rough) - 12]
    assert np.array_equal(done[: len(shade)], shade)


def test_a_hair_that_ends_at_black_lines_on_both_sides_goes():
    page = page_of()
    for down in (8.2, 10.8):
        line(page, [(down, 2), (down, 18)], 0.4, 30)
    hair = curl(9.5, 8, 1.6, (-0.7, 0.7))
    line(page, hair, 0.05, 120)
    done = dropped(page)
    assert min(at(done, hair[3:-3])) == 255
    assert np.array_equal(page < 100, done < 100)


def test_a_hair_between_hatching_in_black_goes():
    page = page_of()
    for across in np.arange(4, 16, 1.1):
        line(page, [(6, across), (14, across)], 0.3, 30)
    hair = [(8 + 0.1 * step, 7.75 + 0.005 * step) for step in range(40)]
    line(page, hair, 0.05, 150)
    done = dropped(page)
    assert min(at(done, hair[2:-2])) == 255
    assert np.array_equal(page < 100, done < 100)


def test_a_hair_across_faint_hatching_goes_and_the_hatching_stays():
    """It is as dark as the strokes, and much thinner."""
    page = page_of()
    for down in np.arange(4, 17, 1.5):
        line(page, [(down, 2), (down + 0.6, 18)], 0.4, 195)
    before = page.copy()
    hair = curl(10, 6, 4, (-0.6, 0.5))
    line(page, hair, 0.06, 130)
    done = dropped(page)
    assert np.count_nonzero((before < 212) & (done == 255)) < 0.01 * np.count_nonzero(before < 212)
    open_paper = (before == PAPER) & (page < 200)
    assert np.count_nonzero(done[open_paper] < 255) < 0.2 * np.count_nonzero(open_paper)


def test_thin_lines_among_lines_as_thin_stay():
    """A fine pen's flourishes are as thin and as even as hairs, and not alone."""
    page = page_of(30, 30)
    for row in range(4):
        for column in range(4):
            line(page, curl(5 + 6 * row, 4 + 6 * column, 2, (-0.6, 1.2 + 0.2 * column)), 0.08, 110)
    assert np.array_equal(dropped(page) < 218, page < 218)


def test_a_scrap_of_dry_brush_of_two_lines_side_by_side_stays():
    page = page_of()
    for apart in (0, 0.5):
        line(page, [(10 + apart, 8), (10.1 + apart, 9.5), (9.95 + apart, 11)], 0.08, 120)
    assert np.array_equal(dropped(page) < 218, page < 218)


@pytest.mark.parametrize("turn", [3.9, 5.6])
def test_a_hair_curled_into_a_ring_goes(turn):
    page = page_of()
    hair = curl(10, 10, 0.6, (0.3, 0.3 + turn))
    line(page, hair, 0.06, 110)
    assert min(at(dropped(page), hair)) == 255


def test_a_dark_hair_that_lies_alone_goes():
    """A hair is 0.05 to 0.1 mm thick and nearly black."""
    page = page_of()
    hair = curl(10, 8, 2.5, (-0.6, 0.6))
    line(page, hair, 0.07, 70)
    assert min(at(dropped(page), hair)) == 255


@pytest.mark.parametrize("tone", [20, 60, 110])
@pytest.mark.parametrize("wide_mm", [0.1, 0.14])
def test_a_thin_letter_between_broad_strokes_stays(wide_mm, tone):
    """It is as thin as a hair, and nothing near is; but no hair branches."""
    page = page_of()
    for down in (3, 17):
        line(page, [(down, 2), (down, 18)], 0.5, 25)
    line(page, [(9, 9.3), (10.1, 10.1)], wide_mm, tone)
    line(page, [(9, 10.7), (10.1, 10.1), (11.4, 9.4)], wide_mm, tone)
    assert np.array_equal(dropped(page) < 218, page < 218)


def test_a_thin_stroke_of_the_pen_beside_broad_ones_stays():
    """As the bar of a window: black, and heavier than a hair of 0.065 mm would be."""
    page = page_of()
    for across in (8.7, 11.3):
        line(page, [(4, across), (16, across)], 0.5, 25)
    line(page, [(8, 10), (10.5, 10.05)], 0.12, 60)
    assert np.array_equal(dropped(page) < 218, page < 218)


@pytest.mark.parametrize("tone", [150, 170])
def test_the_part_of_a_pen_line_where_the_ink_ran_dry_stays(tone):
    page = page_of()
    line(page, [(10.2, 2), (10.2, 8)], 0.15, 30)
    line(page, [(10.2, 10.6), (10.2, 18)], 0.15, 30)
    line(page, [(10.2, 8), (10.2, 10.6)], 0.08, tone)
    assert np.array_equal(dropped(page) < 218, page < 218)


@pytest.mark.parametrize("long_mm", [0.5, 0.7])
def test_a_short_piece_beside_pencil_of_its_strength_stays(long_mm):
    """As even and as thin as a hair, but so short that grain often is."""
    page = page_of()
    rough = np.random.default_rng(3).random((round(8 * MM), page.shape[1])) < 0.45
    page[: len(rough)][rough] = 170
    line(page, [(8.9, 10), (8.9 + long_mm / 9, 10 + long_mm)], 0.12, 170)
    done = dropped(page)
    assert np.array_equal(done < 200, page < 200)


def test_the_pieces_of_a_faint_line_broken_by_the_tooth_stay():
    page = page_of()
    for start in np.arange(3, 17, 1.4):
        line(page, [(10, start), (10, start + 0.9)], 0.12, 175)
    # a last piece, with nothing beyond it, is like a hair that runs into a mark
    middle = np.s_[:, round(4.2 * MM) : round(15.3 * MM)]
    assert np.array_equal(dropped(page)[middle] < 218, page[middle] < 218)


def test_fine_hatching_stays():
    page = page_of()
    for across in np.arange(5, 15, 0.9):
        line(page, [(8, across), (11, across + 1)], 0.05, 140)
    assert (dropped(page) < 218).sum() == (page < 218).sum()


@pytest.mark.parametrize("long_mm", [4, 8])
def test_long_pale_strokes_side_by_side_stay(long_mm):
    page = page_of(14, 16)
    for number in range(7):
        start = 2 + 1.7 * number, 1.5 + 0.9 * (number % 3)
        line(page, [start, (start[0] + 0.1, start[1] + long_mm)], 0.15, 212)
    assert np.array_equal(dropped(page), page)


def test_a_long_pale_line_that_was_ruled_stays_and_a_curled_one_as_pale_goes():
    page = page_of()
    line(page, [(3, 4), (4, 11)], 0.1, 200)
    line(page, curl(12, 8, 2.5, (0, 2.8)), 0.1, 200)
    upper, lower = np.s_[: round(8 * MM)], np.s_[round(8 * MM) :]
    assert page[upper].min() < PAPER - 20 > page[lower].min()
    done = dropped(page)
    assert np.array_equal(done[upper], page[upper])
    assert done[lower].min() >= PAPER


def test_a_long_hair_that_hardly_bends_goes_where_it_lies_alone():
    page = page_of()
    line(page, curl(10, -10, 20, (-0.145, 0.145)), 0.08, 150)
    assert page.min() < PAPER - 30
    assert dropped(page).min() >= PAPER


@pytest.mark.parametrize("wash", [None, 208])
def test_a_pale_hair_at_ink_goes_whatever_was_kept_of_the_page(wash):
    page = page_of(40, 40)
    line(page, [(30, 4), (30, 36)], 0.5, 30)
    line(page, curl(30, 20, 4, (-0.7, 0.9)), 0.08, 210)
    if wash is not None:
        page[round(4 * MM) : round(16 * MM), round(4 * MM) : round(36 * MM)] = wash
    about = cv2.dilate((page < PAPER - 2).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    rough = cv2.GaussianBlur(np.random.default_rng(4).normal(0, 4, page.shape), (0, 0), 0.8)
    kept = np.where(about, np.rint(np.clip(page + rough, 0, 254)), 255).astype(np.uint8)
    done = DropSpecks(limit=Fixed(tone=218, paper=PAPER)).apply(Sheet(ppi=PPI, grey=kept)).grey
    aside = np.abs(np.arange(page.shape[0]) / MM - 30) > 0.7
    hair = aside & (np.arange(page.shape[0]) > 20 * MM)
    assert (kept[hair] < 218).sum() > 40
    assert (done[hair] >= 218).all()
    assert np.array_equal(done[: round(18 * MM)], kept[: round(18 * MM)])


def test_the_dark_peaks_of_a_faint_mark_stay_where_the_paper_was_taken_away():
    page = page_of()
    lone = page_of()
    for across in (4, 10, 16):  # so far apart that none has a fellow
        line(page, [(10, across), (10.1, across + 0.1)], 0.2, 170)
    lone[:] = page
    kept = np.full(page.shape, 255, np.uint8)
    band = np.s_[round(9.6 * MM) : round(10.5 * MM)]
    kept[band] = np.where(np.indices(page.shape).sum(axis=0) % 3, 255, np.minimum(page, 226))[band]
    near = cv2.dilate((page < 222).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    kept[near] = page[near]
    alone = np.where(near, lone, 255).astype(np.uint8)
    assert np.array_equal(dropped(kept) < 200, kept < 200)
    assert (dropped(alone) == 255).all()


@pytest.mark.parametrize("ppi", [200, 300, 400, 600])
def test_the_same_hair_goes_at_any_resolution(ppi):
    page = page_of(ppi=ppi)
    line(page, curl(10, 10), 0.05, 120, ppi)
    done = DropSpecks(limit=LIMIT).apply(Sheet(ppi=ppi, grey=page)).grey
    assert (page < 200).any()
    assert (done >= 215).all()


def test_too_coarse_a_page_has_no_hairs():
    page = np.full((40, 40), PAPER, np.uint8)
    page[10:20, 20] = 150
    ground = Ground(float(PAPER), 222, taken=False)
    assert not find_hairs(page, 72, ground, np.zeros_like(page)).any()


@given(hnp.arrays(st.sampled_from(DEPTHS), hnp.array_shapes(min_dims=2, max_dims=2, max_side=14)),
       st.sampled_from([72.0, 100.0, 254.0]))
def test_any_page_may_be_searched(plane, ppi):
    full = int(np.iinfo(plane.dtype).max)
    ground = Ground(0.9 * full, round(0.85 * full), taken=False)
    found = find_hairs(plane, ppi, ground, np.zeros(plane.shape, np.uint8))
    assert found.shape == plane.shape
    assert not found[plane > 0.9 * full].any()


def test_a_piece_that_came_off_a_hair_is_nothing_that_goes_on():
    page = page_of()
    whole = curl(10, 6, 3, (-0.9, 0.9))
    line(page, whole[:16], 0.05, 70)
    line(page, whole[17:], 0.05, 70)  # a gap is between
    assert min(at(page, whole[2:14])) < PAPER - 40
    done = dropped(page)
    assert min(at(done, whole[1:15])) == 255


@pytest.mark.parametrize(("length_mm", "is_one"), [(1.2, False), (4.0, True)])
def test_a_fellow_runs_beside_a_stroke_and_is_no_scrap(length_mm, is_one):
    page = page_of()
    line(page, [(10, 6), (10, 13)], 0.08, 150)
    line(page, [(11, 9), (11, 9 + length_mm)], 0.08, 150)
    ground = Ground(float(PAPER), 222, taken=False)
    strands, _ = find_strands(page, PPI, ground, np.zeros_like(page))
    longest = np.array([int(strands.length.argmax())])
    assert strands.has_fellow(longest) == is_one
