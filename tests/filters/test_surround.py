"""What lies beyond the sheet goes; what is drawn to the scan's border stays."""

import cv2
import numpy as np
import pytest

from app.filters.evidence import find_evidence
from app.filters.keep_marks import KeepMarks, find_support
from app.filters.noise import measure_ground
from app.filters.surround import outside_sheet
from core.sheet import Sheet
from tests.filters.test_keep_marks import PAPER, PPI, page, strokes

SHAPE = (900, 700)  # 76 by 59 mm
SIDES = range(4)


def kept(plane, ppi=PPI, **fields):
    return KeepMarks(**{"sheet": True} | fields).apply(Sheet(ppi=ppi, grey=plane)).grey


def away(plane, ppi=PPI):
    ground = measure_ground(plane, ppi)
    return outside_sheet(ground, find_support(ground, find_evidence(ground), 3, 1.5))


def ragged(depth_mm, rows, seed=5):
    """A deckle's depth in pixels on each of so many rows."""
    random = np.random.default_rng(seed)
    rough = cv2.GaussianBlur(random.normal(size=(rows, 1)).astype(np.float32), (0, 0), 12)
    return (depth_mm + 0.2 * rough[:, 0] / rough.std()) * PPI / 25.4


def laid(scan, side, lid, depth_mm=4.0, shadow=0.0):
    """The scan with a lid beyond a ragged edge on one side, and a shadow beside it on the lid."""
    turned = np.rot90(scan, side).astype(np.float32)
    column = np.arange(turned.shape[1])[None, :]
    edge = ragged(depth_mm, len(turned))[:, None]
    beyond = lid - shadow * np.exp(-np.maximum(edge - column, 0) / 6)
    mixed = np.where(column < edge, beyond, turned)
    soft = cv2.GaussianBlur(mixed.astype(np.float32), (0, 0), 0.6)
    mixed = np.where(np.abs(column - edge) < 4, soft, mixed)
    return np.ascontiguousarray(np.rot90(np.rint(mixed).astype(np.uint8), -side))


@pytest.mark.parametrize("lid", [15, 110])
@pytest.mark.parametrize("side", SIDES)
def test_a_dark_lid_beyond_a_ragged_edge_goes_and_the_drawing_stays(side, lid):
    cover = strokes(count=5)
    scan = laid(page(cover, depth=120), side, lid)
    made = kept(scan)
    assert (made[cover < 0.01] < 255).mean() < 0.003
    assert (made[cover > 0.5] < 255).all()


@pytest.mark.parametrize("side", SIDES)
def test_a_dark_bed_goes_though_something_light_lies_on_it(side):
    bed = np.rot90(laid(page(strokes(count=5), depth=120), side, 60, depth_mm=8.0), side).copy()
    bed[300:370, 10:16] = PAPER
    made = np.rot90(kept(np.ascontiguousarray(np.rot90(bed, -side))), side)
    assert (made[:, 17:80] == 255).all()


@pytest.mark.parametrize("side", SIDES)
def test_the_shadow_of_the_edge_on_a_light_lid_goes(side):
    scan = laid(page(), side, PAPER + 4, shadow=70)
    assert (scan < PAPER - 40).mean() > 0.002
    assert (kept(scan) < 255).mean() < 0.001


def test_a_lid_all_round_goes():
    scan = page(strokes(count=5), depth=120)
    for side in SIDES:
        scan = laid(scan, side, 20, depth_mm=3.0)
    made = kept(scan)
    assert (made[strokes(count=5) > 0.5] < 255).all()
    assert (made[:30] == 255).all()
    assert (made[:, :30] == 255).all()


@pytest.mark.parametrize("side", SIDES)
def test_a_dark_lid_ends_where_soft_pencil_on_smooth_paper_begins(side):
    random = np.random.default_rng(3)
    scan = np.rint(PAPER + 0.4 * random.normal(size=SHAPE))
    grain = cv2.GaussianBlur(random.normal(size=SHAPE).astype(np.float32), (0, 0), 1.5)
    shade = np.clip(0.6 + 0.3 * grain / grain.std(), 0, 1)
    shade[:250, :260] = 0
    scan = np.rint(scan - 110 * shade).astype(np.uint8)
    made = kept(laid(scan, side, 50))
    assert (np.rot90(made, side)[60:-60, :30] == 255).mean() > 0.99
    inner = np.s_[90:-90, 90:-90]
    assert (made[inner][shade[inner] > 0.3] < 255).mean() > 0.99


def test_a_sheet_that_lies_askew_loses_the_wedge_beside_it():
    row, column = np.indices(SHAPE)
    scan = np.where(column < 30 - row / 18, 20, page()).astype(np.uint8)
    made = kept(scan)
    assert (made < 255).mean() < 0.002


def test_a_black_panel_with_paper_on_its_both_sides_stays():
    scan = page()
    scan[:200, 120:580] = 30
    made = kept(scan)
    assert (made[:195, 125:575] == 30).all()


def test_a_black_panel_in_the_corner_stays():
    scan = page()
    scan[:350, :300] = 30
    assert (kept(scan)[:345, :295] == 30).all()


def test_a_night_that_fills_most_of_the_page_stays():
    scan = page()
    scan[:400] = 30
    assert (kept(scan)[:395] == 30).all()


def test_lettering_in_a_black_strip_to_the_border_lets_it_stay():
    scan = page()
    scan[:200] = 30
    for column in range(40, 660, 60):
        scan[60:140, column : column + 36] = 228
    assert (kept(scan)[150:195] == 30).all()


def test_ink_along_the_whole_of_a_side_stays_if_it_is_asked_to():
    scan = page()
    scan[:200] = 30
    assert (kept(scan)[:195] == 255).all()
    assert (kept(scan, sheet=False)[:195] == 30).all()


def test_a_frame_drawn_near_the_border_stays():
    scan = page()
    cv2.rectangle(scan, (40, 40), (659, 859), 40, 5)
    made = kept(scan)
    assert not away(scan).any()
    assert (made[scan == 40] == 40).all()


def test_strokes_that_run_off_the_sheet_stay_to_the_very_border():
    cover = strokes(angle=0, gap=2.0, length=80, count=20)
    made = kept(page(cover, depth=150))
    ends = cover[:, :10] > 0.9
    assert ends.any()
    assert (made[:, :10][ends] < 255).all()


def test_blank_paper_ends_nowhere():
    for seed in (1, 2, 3):
        assert not away(page(seed=seed)).any()


def discs(places, radius_mm=3.0, tone=25):
    scan = page()
    for x, y in places:
        place = (round(x * PPI / 25.4), round(y * PPI / 25.4))
        cv2.circle(scan, place, round(radius_mm * PPI / 25.4), tone, -1, cv2.LINE_AA)
    return scan


def test_two_binding_holes_beside_one_edge_go():
    # ISO 838, from memory: 6 mm across, 12 mm from the edge, the same from the middle
    scan = discs([(12.0, 18.0), (12.0, 76.2 - 18.0)])
    assert (kept(scan) < 255).mean() < 0.0005


@pytest.mark.parametrize("places", [
    [(12.0, 18.0)], [(12.0, 18.0), (12.0, 45.0)], [(30.0, 25.0), (30.0, 76.2 - 25.0)],
])
def test_discs_that_are_no_pair_of_holes_stay(places):
    scan = discs(places)
    made = kept(scan)
    assert (made[scan == 25] == 25).all()


def hatched(scan):
    return np.minimum(scan, page(strokes(count=70, length=90), depth=150))


@pytest.mark.parametrize(
    ("move_mm", "radius_mm"), [((0, 0), 2.6), ((1.0, 0), 3.0), ((0, 3.0), 3.0)])
def test_round_blots_within_hatching_stay_even_where_holes_would_lie(move_mm, radius_mm):
    # a hand makes no two blots of one size, nor at one distance from the edge
    right, down = move_mm
    other = discs([(12.0 + right, 76.2 - 18.0 + down)], radius_mm)
    scan = hatched(np.minimum(discs([(12.0, 18.0)]), other))
    assert (kept(scan)[scan == 25] == 25).all()


@pytest.mark.parametrize("radius_mm", [2.75, 3.0])
def test_binding_holes_within_hatching_go_where_a_black_lid_shows(radius_mm):
    scan = hatched(discs([(12.0, 18.0), (12.0, 76.2 - 18.0)], radius_mm))
    made = kept(scan)
    holes = (scan == 25).astype(np.uint8)
    assert (made[holes > 0] == 255).all()
    apart = cv2.dilate(holes, np.ones((31, 31), np.uint8)) == 0
    assert np.array_equal(made[apart], kept(hatched(page()))[apart])


@pytest.mark.parametrize("shape", [(1, 1), (1, 400), (3, 3), (12, 500)])
def test_pages_smaller_than_a_cell_have_no_outside(shape):
    assert not away(np.full(shape, 231, np.uint8)).any()


def test_resolution_hardly_matters():
    scan = laid(page(), 0, 20)
    fine = cv2.resize(scan, None, fx=2, fy=2, interpolation=cv2.INTER_LINEAR)
    assert np.array_equal(away(scan).shape, away(fine, 600).shape)
    assert (away(scan) ^ away(fine, 600)).mean() < 0.01


def shaded_holes(tone, radius_mm=2.9):
    """A page with coarse shading all over, through which two holes show a lid of that tone."""
    random = np.random.default_rng(8)
    grain = cv2.GaussianBlur(random.normal(size=SHAPE).astype(np.float32), (0, 0), 2.5)
    scan = page(np.clip(grain / grain.std(), 0, 1).astype(np.float32), depth=90).astype(np.float32)
    for y in (18.0, 76.2 - 18.0):
        place = (round(12.0 * PPI / 25.4), round(y * PPI / 25.4))
        cv2.circle(scan, place, round(radius_mm * PPI / 25.4), tone, -1, cv2.LINE_AA)
    return np.rint(scan).astype(np.uint8)


def test_binding_holes_within_shading_go_where_a_grey_lid_shows():
    tone = 170
    taken = away(shaded_holes(tone))
    holes = shaded_holes(tone) == tone
    inner = cv2.erode(holes.astype(np.uint8), np.ones((9, 9))) > 0
    wide = cv2.resize(taken.astype(np.uint8), SHAPE[::-1], interpolation=cv2.INTER_NEAREST) > 0
    assert inner.any()
    assert wide[inner].all()
    assert wide.mean() < 3 * inner.mean()


def test_nothing_of_the_shading_itself_is_a_hole():
    scan = shaded_holes(170, radius_mm=0.5)
    assert not away(scan).any()
