"""What would print: against scipy's connected components, and veil against drawn hatch."""

import cv2
import numpy as np
import pytest
from scipy import ndimage

from app.filters.drop_specks import DropSpecks
from app.filters.even_light import EvenLight
from app.filters.keep_marks import KeepMarks
from app.proof.cells import grid_of, side_of, spread, tally
from app.proof.marks import Drawn, drawn_on
from app.proof.prove import Order, prove
from app.proof.residue import least_of, share_not_clear, would_print
from app.replay.page import lifted
from app.replay.printing import Wide
from core.press.presses import Press
from core.sheet import whole
from core.steps.fold import replay
from core.steps.steplist import StepList
from tests.proof.proof_pages import BLACK, PAPER, PPI, hatch, paper, scan, strokes, toned, white_for

EIGHT = np.ones((3, 3), int)


def bare(shape, ppi):
    grid = grid_of(shape, side_of(ppi))
    return Drawn.of(np.zeros(grid, bool), np.zeros(grid, bool))


def dirt(height, width, seed=1):
    rng = np.random.default_rng(seed)
    plane = np.where(rng.random((height, width)) < 0.03, rng.integers(0, 40, (height, width)), 0)
    room = plane[height // 3 : height // 3 + 20, 5:60]
    room[...] = rng.integers(0, 12, room.shape)
    return plane.astype(np.uint8)


@pytest.mark.parametrize("ppi", [100, 300, 600, 1200])
@pytest.mark.parametrize("shape", [(200, 300), (197, 301), (3, 5)])
def test_regions_are_those_of_scipy(ppi, shape):
    alpha = dirt(*shape)
    press = Press(may_print=1, holds=3)
    found = would_print(alpha, bare(shape, ppi), press, ppi=ppi, ppi_printed=ppi)
    side = side_of(ppi)
    printing = alpha >= 3
    wide = np.zeros([side * n for n in grid_of(shape, side)], bool)
    wide[: shape[0], : shape[1]] = printing
    cells = wide.reshape(wide.shape[0] // side, side, -1, side).any(axis=(1, 3))
    labels, count = ndimage.label(cells, structure=EIGHT)
    assert found.count == count
    by_pixel = np.kron(labels, np.ones((side, side), int))[: shape[0], : shape[1]]
    pixels = ndimage.sum(printing, by_pixel, np.arange(1, count + 1)) if count else np.zeros(0)
    square = (25.4 / ppi) ** 2
    assert found.area == pytest.approx(pixels.sum() * square)
    cover = np.array([alpha[(by_pixel == n) & printing].mean() / 255 for n in range(1, count + 1)])
    assert found.will == pytest.approx(pixels[cover >= 0.03].sum() * square)
    if count and count <= 200:
        assert sorted(round(region.area / square) for region in found.regions) == sorted(pixels)


def test_the_worst_comes_first():
    found = would_print(dirt(200, 300), bare((200, 300), 300), Press(), ppi=300, ppi_printed=300)
    verdicts = [region.verdict for region in found.regions]
    assert verdicts == sorted(verdicts, key=["will print", "may print"].index)
    ink = [r.area * r.cover for r in found.regions if r.verdict == "will print"]
    assert ink == pytest.approx(sorted(ink, reverse=True))
    assert [region.number for region in found.regions] == list(range(1, len(verdicts) + 1))


def test_a_box_says_where_the_region_lies():
    alpha = np.zeros((600, 600), np.uint8)
    alpha[300:312, 240:252] = 9
    found = would_print(alpha, bare(alpha.shape, 600), Press(), ppi=600, ppi_printed=1200)
    [region] = found.regions
    assert region.box == pytest.approx((10.16, 12.7, 0.508, 0.508), abs=1e-6)
    assert region.area == pytest.approx(144 * (25.4 / 1200) ** 2)


@pytest.mark.parametrize("bits", [8, 16])
def test_both_depths_are_judged_alike(bits):
    alpha = dirt(90, 120)
    plane = alpha if bits == 8 else alpha.astype(np.uint16) * 257
    found = would_print(plane, bare(alpha.shape, 300), Press(), ppi=300, ppi_printed=300)
    assert found.area == pytest.approx((alpha >= 3).sum() * (25.4 / 300) ** 2)


@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("order", ["falling", "any"])
def test_a_table_counts_as_the_alpha_it_would_make(bits, order):
    rng = np.random.default_rng(6)
    full = 2**bits - 1
    plane = rng.integers(0, full + 1, (130, 95)).astype(f"u{bits // 8}")
    codes = np.sort(rng.integers(0, 256, full + 1))[::-1]
    table = (codes if order == "falling" else rng.permutation(codes)) * (full // 255)
    table = table.astype(plane.dtype)
    made, counted = tally(table[plane], 200, 4), tally(plane, 200, 4, table=table)
    assert (made.pixels == counted.pixels).all()
    assert (made.alpha == counted.alpha).all()
    assert made.pixels.sum() == (table[plane] // (full // 255) >= 200).sum()


@pytest.mark.parametrize("share", [0.01, 0.5, 1.0])
@pytest.mark.parametrize("least", [0, 30])
def test_only_what_is_within_is_counted_be_it_much_or_little(share, least):
    rng = np.random.default_rng(8)
    alpha = rng.integers(0, 256, (258, 190)).astype(np.uint8)
    within = rng.random(grid_of(alpha.shape, 4)) < share
    cells = tally(alpha, least, 4, within=within)
    inside = np.kron(within, np.ones((4, 4), bool))[:258, :190]
    assert cells.pixels.sum() == ((alpha >= least) & inside).sum()
    assert cells.alpha.sum() == alpha[(alpha >= least) & inside].sum()
    assert not cells.pixels[~within].any()


@pytest.mark.parametrize("ppi", [72, 150, 300, 600, 2400])
def test_a_tally_counts_every_pixel(ppi):
    alpha = np.random.default_rng(0).integers(0, 256, (131, 77)).astype(np.uint8)
    cells = tally(alpha, 100, side_of(ppi))
    assert cells.pixels.sum() == (alpha >= 100).sum()
    assert cells.alpha.sum() == alpha[alpha >= 100].sum()


def test_cells_spread_over_their_own_pixels():
    mask = np.random.default_rng(0).random((20, 31)) < 0.5
    wide = spread(mask, 4, (79, 122))
    assert (wide == np.kron(mask, np.ones((4, 4), bool))[:79, :122]).all()


def test_limits_are_whole_code_values():
    assert [least_of(percent) for percent in (0.01, 0.4, 1, 3, 50, 100)] == [1, 1, 3, 8, 128, 255]


@pytest.fixture(scope="module")
def drawn_page():
    """Strokes, and hatching that a white point of 226 leaves 4 % dark."""
    page = strokes(paper())
    faint = 226 - 0.04 * (226 - BLACK)
    return scan(hatch(page, faint))


def test_a_clear_ground_is_clean(drawn_page):
    proof = prove(drawn_page, toned(226), Order(Press()))
    assert proof.clean
    assert proof.not_clear == 0
    assert proof.residue.regions == ()
    assert proof.remedies == ()


def test_a_veil_of_one_percent_may_print(drawn_page):
    proof = prove(drawn_page, toned(white_for(0.012)), Order(Press()))
    assert not proof.clean
    assert {region.verdict for region in proof.residue.regions} == {"may print"}
    # nearly all of the paper, which the grain breaks a little
    assert proof.residue.area > 0.6 * (600 / 300 * 25.4) ** 2


def test_a_veil_of_four_percent_will_print(drawn_page):
    proof = prove(drawn_page, toned(white_for(0.04)), Order(Press()))
    assert proof.residue.regions[0].verdict == "will print"
    assert proof.residue.will > 0.8 * proof.residue.area
    assert proof.not_clear > 0.99


def test_a_drawn_hatch_of_four_percent_is_faint_ink_and_not_dirt(drawn_page):
    proof = prove(drawn_page, toned(226), Order(Press()))
    cover = proof.out.alpha[300:500, 150:450]
    assert 0.035 < cover[cover > 0].max() / 255 < 0.06
    assert proof.residue.count == 0
    assert proof.weak.lost_count == 0
    hatched = [region for region in proof.weak.faint
               if 12 < region.middle[0] < 39 and 23 < region.middle[1] < 43]
    assert sum(region.area for region in hatched) > 20
    assert {region.verdict for region in hatched} == {"faint ink"}


def test_what_the_steps_of_a_list_take_for_dust_is_dust_to_the_proof():
    page = strokes(paper(), tone=120)  # no ink is black, and all the dust is paler than the lines
    for middle in ((150, 300), (300, 420), (420, 520), (520, 330)):
        cv2.circle(page, middle, 2, 200.0, -1)
    even = StepList("", (EvenLight(),))
    cleared = StepList("", (*even.steps, KeepMarks(), DropSpecks()))
    drawn = drawn_on(lifted(replay(even, scan(page))), scan(page))
    left = np.invert(whole(replay(cleared, scan(page)).page).grey)
    assert (drawn.marks == (tally(left, 1, side_of(PPI)).pixels > 0)).all()
    assert ndimage.label(drawn.dust, EIGHT)[1] == 4


def test_the_gutter_that_a_list_leaves_is_dirt():
    page = strokes(paper())
    shadow = np.clip((np.arange(600) - 480) / 120, 0, 1) ** 2 * 25  # falls off over 10 mm
    proof = prove(scan(page - shadow), toned(226), Order(Press()))
    assert proof.residue.will > 50
    assert proof.residue.regions[0].middle[0] > 40


def test_printed_smaller_the_same_dirt_is_smaller(drawn_page):
    order = Order(Press(), size=Wide(25.4))
    half = prove(drawn_page, toned(white_for(0.04)), order)
    whole = prove(drawn_page, toned(white_for(0.04)), Order(Press()))
    assert half.residue.area == pytest.approx(whole.residue.area / 4)
    assert half.out.ppi_printed == 600


def test_a_page_without_paper_or_without_ink():
    blank = prove(scan(paper(200, 200)), toned(226), Order(Press()))
    assert blank.clean
    assert blank.ink == 0
    black = prove(scan(np.full((200, 200), 12.0)), toned(226), Order(Press()))
    assert black.ink == 1


def test_share_not_clear_sees_what_may_not_print():
    alpha = np.zeros((80, 80), np.uint8)
    alpha[:40] = 1
    assert share_not_clear(alpha, bare((80, 80), 600), ppi=600) == pytest.approx(0.5)
    assert would_print(alpha, bare((80, 80), 600), Press(), ppi=600, ppi_printed=600).clean


def test_the_lists_own_keep_marks_does_not_judge_itself(drawn_page):
    strict = StepList("", (EvenLight(), KeepMarks(limit=20), *toned(PAPER).steps))
    judged = replay(strict, drawn_page)
    drawn = drawn_on(judged, drawn_page)
    kept = np.count_nonzero(judged.before.grey < 255)
    assert kept < 0.5 * drawn.marks.sum() * 4
    plain = drawn_on(replay(toned(PAPER), drawn_page), drawn_page)
    assert drawn.marks.any()
    assert (drawn.marks == plain.marks).all()


def test_what_the_light_was_evened_to_is_not_evened_again(drawn_page):
    evens = StepList("", (EvenLight(), *toned(PAPER).steps))
    drawn = drawn_on(replay(evens, drawn_page), drawn_page)
    plain = drawn_on(replay(toned(PAPER), drawn_page), drawn_page)
    assert (drawn.marks == plain.marks).all()
