"""Dust off, drawn marks kept however small."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from scipy import ndimage
from scipy.sparse.csgraph import connected_components
from skimage import measure

from app.filters.drop_specks import DropSpecks, Filled, Fixed, dust_mask
from app.filters.pinholes import pinhole_mask
from app.filters.specks import FIRM, Ground, find_specks
from core.matte import to_depth
from core.sheet import Paper, Sheet
from sample_pages.request import Request, render
from tests.strategies import DEPTHS

PPI = 300
MM = PPI / 25.4
PAPER = 230


def page_of(height_mm=60, width_mm=60):
    return np.full((round(height_mm * MM), round(width_mm * MM)), PAPER, np.uint8)


def spot(page, y_mm, x_mm, across_mm, tone, *, shape=None):
    """A round spot, as a scanner's lens shows it."""
    lens = cv2.GaussianBlur(
        discs(page.shape, [(y_mm, x_mm)], across_mm) if shape is None else shape, (0, 0), 0.5)
    page[:] = np.rint(page + (tone - page.astype(float)) * lens).astype(np.uint8)


def discs(shape, places, across_mm):
    """Cover, 0-1, of round spots at places (down, across) in mm."""
    fine = np.zeros((shape[0] * 4, shape[1] * 4), np.uint8)
    for y_mm, x_mm in places:
        centre = (round(x_mm * MM * 4), round(y_mm * MM * 4))
        cv2.circle(fine, centre, max(1, round(across_mm / 2 * MM * 4)), 255, -1)
    return cv2.resize(fine, shape[::-1], interpolation=cv2.INTER_AREA) / 255


def stroke(page, start_mm, end_mm, wide_mm, tone):
    fine = np.zeros((page.shape[0] * 4, page.shape[1] * 4), np.uint8)
    ends = [tuple(round(length * MM * 4) for length in reversed(end)) for end in (start_mm, end_mm)]
    cv2.line(fine, *ends, 255, max(1, round(wide_mm * MM * 4)))
    spot(page, 0, 0, 0, tone,
         shape=cv2.resize(fine, page.shape[::-1], interpolation=cv2.INTER_AREA) / 255)


def grained(page, noise=2.0, seed=4):
    rough = np.random.default_rng(seed).normal(0, noise, page.shape)
    return np.clip(np.rint(page + rough), 0, 254).astype(np.uint8)


def dropped(page, **fields):
    return DropSpecks(**fields).apply(Sheet(ppi=PPI, grey=page)).grey


def darkest(page, y_mm, x_mm, about_mm=0.4):
    y, x, about = (round(length * MM) for length in (y_mm, x_mm, about_mm))
    return int(page[y - about : y + about + 1, x - about : x + about + 1].min())


@pytest.mark.parametrize("dtype", DEPTHS)
@pytest.mark.parametrize(("across_mm", "tone"), [(0.1, 120), (0.2, 150), (0.3, 170), (0.45, 60)])
def test_a_lone_speck_becomes_exact_white_with_its_rim(across_mm, tone, dtype):
    page = page_of()
    spot(page, 30, 30, across_mm, tone)
    done = dropped(to_depth(grained(page), 8 * np.dtype(dtype).itemsize))
    assert done.dtype == dtype
    full = np.iinfo(dtype).max
    assert done[round(30 * MM), round(30 * MM)] == full
    assert darkest(done, 30, 30, 1) >= 218 * (full // 255)


def test_the_size_is_what_is_asked_for():
    page = page_of()
    spot(page, 30, 30, 0.6, 70)
    assert darkest(dropped(page, size=0.4), 30, 30) < 90
    assert darkest(dropped(page, size=0.9), 30, 30) >= 218


def test_a_hair_goes_and_a_pencil_line_of_its_length_stays():
    page = page_of()
    stroke(page, (20, 20), (23, 21), 0.05, 110)
    stroke(page, (40, 20), (43, 21), 0.4, 185)
    done = dropped(grained(page, 1))
    assert done[round(21.5 * MM), round(20.5 * MM)] == 255
    assert darkest(done, 41.5, 20.5) < 195


def test_the_full_stop_and_the_dot_of_an_i_stay():
    page = page_of()
    stroke(page, (28, 20), (30, 20), 0.35, 30)  # the i
    spot(page, 27, 20, 0.4, 30)
    spot(page, 30, 22, 0.4, 30)
    spot(page, 45, 45, 0.4, 30)  # as dark, but nothing near it
    done = dropped(grained(page))
    assert darkest(done, 27, 20) < 60
    assert darkest(done, 30, 22) < 60
    assert darkest(done, 45, 45) >= 218


def test_a_dot_that_the_lens_has_paled_stays_beside_a_letter_alone():
    page = page_of()
    stroke(page, (28, 20), (30, 20), 0.35, 30)
    stroke(page, (51, 10), (51, 50), 0.35, 30)
    for y_mm in (27, 40, 50):
        spot(page, y_mm, 20.5, 0.15, 80)
    done = dropped(grained(page))
    assert FIRM < 1 - darkest(page, 27, 20.5) / PAPER < 0.55
    assert darkest(done, 27, 20.5) < 140
    assert darkest(done, 40, 20.5) >= 218
    assert darkest(done, 50, 20.5, 0.3) >= 218


@pytest.mark.parametrize("dtype", DEPTHS)
def test_the_pale_tip_of_a_stroke_stays_and_as_much_at_its_side_goes(dtype):
    page = page_of()
    for x_mm, (y_tip, x_tip) in ((20, (39.75, 20)), (40, (30, 40.5))):
        stroke(page, (15, x_mm), (39.4, x_mm), 0.4, 30)
        spot(page, y_tip, x_tip, 0.4, 175)
    done = dropped(to_depth(grained(page, 1), 8 * np.dtype(dtype).itemsize))
    one = np.iinfo(dtype).max // 255
    assert darkest(done, 39.8, 20, 0.05) < 200 * one
    assert darkest(done, 30, 40.6, 0.05) >= 218 * one


@pytest.mark.parametrize("slope", [0, 0.3])
def test_three_dots_in_an_even_row_stay_and_three_that_lie_anyhow_go(slope):
    page, row = page_of(), [20.0, 21.5, 23.0]
    for x in row:
        spot(page, 15 + slope * (x - 20), x, 0.5, 40)
    for y, x in [(45, 20), (46.2, 21.1), (44.6, 22.4)]:
        spot(page, y, x, 0.5, 40)
    done = dropped(page)
    half = page.shape[0] // 2
    assert np.array_equal(done[:half], page[:half])
    assert done[half:].min() >= PAPER


@pytest.mark.parametrize("tone", [40, 120, 170])
def test_stipple_and_mechanical_dots_stay_at_any_strength(tone):
    page, random = page_of(), np.random.default_rng(8)
    places = [(y + dy, x + dx) for y in np.arange(10, 25, 1.1) for x in np.arange(10, 25, 1.1)
              for dy, dx in [random.uniform(-0.3, 0.3, 2)]]
    screen = [(y, x) for y in np.arange(35, 50, 0.6) for x in np.arange(10, 25, 0.6)]
    tones = discs(page.shape, places, 0.3) + discs(page.shape, screen, 0.25)
    spot(page, 0, 0, 0, tone, shape=np.minimum(tones, 1))
    before = (page < 218).sum()
    assert (dropped(page) < 218).sum() == before


@pytest.mark.parametrize("seed", [2, 3, 4])
def test_a_stippled_tone_fades_to_its_last_dots_and_dust_far_from_it_goes(seed):
    chance, page = np.random.default_rng(seed), page_of()
    places = np.clip(chance.normal((40, 40), 4.5, (180, 2)), 22, 58)
    sizes = chance.uniform(0.2, 0.45, len(places))
    for (y_mm, x_mm), across_mm in zip(places, sizes, strict=True):
        spot(page, y_mm, x_mm, across_mm, 45)
    lone = [(6, 8), (10, 50), (50, 6), (12, 30)]
    for y_mm, x_mm in lone:
        spot(page, y_mm, x_mm, 0.3, 60)
    done = dropped(grained(page))
    kept = np.array([darkest(done, y_mm, x_mm, 0.1) < 200 for y_mm, x_mm in places])
    apart = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    of_tone = connected_components(apart < 3)[1]
    assert kept[of_tone == np.bincount(of_tone).argmax()].all()
    assert kept.mean() > 0.95
    assert all(darkest(done, y_mm, x_mm, 0.1) == 255 for y_mm, x_mm in lone)


def test_the_crumbs_at_the_end_of_a_dry_stroke_stay():
    page = page_of()
    stroke(page, (30, 10), (30, 30), 0.5, 50)
    crumbs = [(30 + 0.2 * (-1) ** number, 30.4 + 0.5 * number) for number in range(6)]
    spot(page, 0, 0, 0, 90, shape=discs(page.shape, crumbs, 0.25))
    done = dropped(grained(page))
    assert all(darkest(done, y, x, 0.1) < 140 for y, x in crumbs)


def test_a_stroke_of_which_only_crumbs_are_left_stays():
    """Far apart and of unlike strength, as the peaks of rough paper take graphite."""
    page = page_of()
    crumbs = [(30 + 0.1 * number, 20 + 0.9 * number) for number in range(9)]
    for number, (y_mm, x_mm) in enumerate(crumbs):
        spot(page, y_mm, x_mm, 0.3, (110, 180)[number % 2])
    done = dropped(grained(page))
    assert all(darkest(done, y, x, 0.1) < 200 for y, x in crumbs)


def test_the_smaller_and_paler_dots_about_a_stippled_tone_stay():
    page = page_of()
    tone = [(30 + 0.9 * row, 30 + 0.9 * column) for row in range(5) for column in range(5)]
    strays = [(27.6, 29), (36.4, 33), (31, 36.2), (35, 27.5)]
    spot(page, 0, 0, 0, 50, shape=discs(page.shape, tone, 0.4))
    spot(page, 0, 0, 0, 110, shape=discs(page.shape, strays, 0.3))
    done = dropped(grained(page))
    assert all(darkest(done, y, x, 0.1) < 180 for y, x in tone + strays)


def test_pale_dust_between_strokes_of_black_ink_goes_too():
    page = page_of()
    for y in np.arange(20, 40, 2):
        stroke(page, (y, 10), (y, 50), 0.4, 30)
    spot(page, 29, 30, 0.25, 180)
    done = dropped(grained(page))
    assert darkest(done, 29, 30, 0.3) >= 218
    assert darkest(done, 28, 30, 0.1) < 60


def test_a_page_whose_paper_was_taken_away_loses_what_is_left_round_a_speck():
    page = page_of()
    spot(page, 30, 30, 0.2, 120)
    stroke(page, (10, 10), (10, 50), 0.4, 30)
    near = cv2.dilate((page < 225).astype(np.uint8), np.ones((7, 7), np.uint8)) > 0
    kept = np.where(near, grained(page), 255).astype(np.uint8)
    done = dropped(kept, limit=Fixed(tone=218))
    assert (done[round(25 * MM) :] == 255).all()
    assert np.array_equal(done[: round(20 * MM)], kept[: round(20 * MM)])


def test_dots_of_ink_of_one_kind_stay_far_from_any_mark_and_one_of_another_goes():
    page = page_of()
    freckles = [(24, 22), (25.5, 28), (30.2, 24.6), (31, 29.5), (28.8, 27)]
    spot(page, 0, 0, 0, 50, shape=discs(page.shape, freckles, 0.3))
    spot(page, 50, 50, 0.3, 50)
    spot(page, 27, 24, 0.12, 60)
    done = dropped(grained(page))
    assert all(darkest(done, y, x, 0.1) < 100 for y, x in freckles)
    assert darkest(done, 50, 50) > 217
    assert darkest(done, 27, 24) > 217


def test_what_is_darker_in_a_faint_stroke_stays_and_the_same_apart_from_it_goes():
    page = page_of()
    stroke(page, (20, 10), (20, 50), 0.5, 223)
    spot(page, 20, 30, 0.25, 200)
    spot(page, 40, 30, 0.25, 200)
    near = cv2.dilate((page < 228).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    kept = np.where(near, grained(page, noise=0.7), 255).astype(np.uint8)
    done = dropped(kept, limit=Fixed(tone=218))
    upper = slice(0, round(30 * MM))
    assert np.array_equal(done[upper], kept[upper])
    assert (done[upper.stop :] == 255).all()


def test_a_dark_speck_among_pale_strokes_is_of_another_kind_and_goes():
    page = page_of()
    for y in np.arange(20, 40, 2.4):
        stroke(page, (y, 10), (y, 50), 0.3, 195)
    for x_mm, tone in ((20, 70), (40, 188)):
        spot(page, 28.4, x_mm, 0.3, tone)
    done = dropped(grained(page, noise=1.0))
    assert darkest(done, 28.4, 20, 0.3) > 217
    assert darkest(done, 28.4, 40, 0.1) < 200


def joined(page, reach_mm, noise=1.0):
    """The page with its paper taken away but for so much about what lies on it."""
    about = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * round(reach_mm * MM) + 1,) * 2)
    near = cv2.dilate((page < 225).astype(np.uint8), about) > 0
    return np.where(near, grained(page, noise), 255).astype(np.uint8)


def test_a_speck_between_pale_strokes_goes_though_paper_was_kept_from_one_to_the_other():
    page = page_of()
    for y in np.arange(20, 40, 2.4):
        stroke(page, (y, 10), (y, 50), 0.3, 195)
    before = page.copy()
    spot(page, 28.4, 30, 0.25, 110)
    done = dropped(joined(page, 0.7), limit=Fixed(tone=218))
    assert darkest(done, 28.4, 30, 0.2) >= 218
    strokes = before < 200
    assert np.array_equal(done[strokes], joined(page, 0.7)[strokes])


def test_a_bead_in_line_with_a_broken_stroke_stays_and_one_aside_of_it_goes():
    page = page_of()
    stroke(page, (30, 10), (30, 30), 0.4, 100)
    spot(page, 0, 0, 0, 160, shape=discs(page.shape, [(30, 30.8), (29, 20)], 0.3))
    done = dropped(joined(page, 0.7), limit=Fixed(tone=218))
    assert darkest(done, 30, 30.8, 0.1) < 180
    assert darkest(done, 29, 20, 0.1) >= 218


def test_scraps_of_bare_paper_that_were_kept_go_and_a_long_pale_piece_stays():
    page = page_of()
    stroke(page, (10, 10), (10, 50), 0.4, 30)
    near = cv2.dilate((page < 225).astype(np.uint8), np.ones((7, 7), np.uint8)) > 0
    scraps = discs(page.shape, [(20, 20), (22, 35), (11.4, 30)], 0.9) > 0.5
    long = np.zeros(page.shape, np.bool_)
    long[round(40 * MM) : round(40.5 * MM), round(20 * MM) : round(25 * MM)] = True
    kept = np.where(near | scraps | long, grained(page, noise=1.5), 255).astype(np.uint8)
    done = dropped(kept, limit=Fixed(tone=218))
    assert (done[scraps & ~near] == 255).all()
    assert np.array_equal(done[~scraps], kept[~scraps])


def with_a_crumb(at, tone, *, length=1.2):
    """How dark a crumb of this tone is after, beside a pen's lines in one corner."""
    page = page_of()
    for y in (8, 10, 12):
        stroke(page, (y, 5), (y, 25), 0.4, 40)
    stroke(page, at, (at[0] + length, at[1]), 0.3, tone)
    near = cv2.dilate((page < 226).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    kept = np.where(near, page, 255).astype(np.uint8)
    done = dropped(kept, limit=Fixed(tone=218))
    assert np.array_equal(done[: round(14 * MM)], kept[: round(14 * MM)])
    return darkest(done, at[0] + length / 2, at[1], 0.1)


def test_a_crumb_longer_than_a_speck_goes_where_it_is_all_alone_and_paler_than_the_ink():
    assert with_a_crumb((40, 40), 150) == 255
    assert with_a_crumb((40, 40), 45) < 100
    assert with_a_crumb((15, 15), 150) < 170
    assert with_a_crumb((40, 40), 150, length=4) < 170


@pytest.mark.parametrize(("ink", "stays"), [(30, False), (195, True)])
def test_a_pale_piece_that_was_kept_beside_far_darker_ink_is_the_papers_relief(ink, stays):
    page = page_of()
    for y in (26, 34):
        stroke(page, (y, 10), (y, 50), 0.5, ink)
    stroke(page, (30, 30), (31.1, 30), 0.35, 205)
    kept = np.where(page < 226, page, 255).astype(np.uint8)
    assert (darkest(dropped(kept, limit=Fixed(tone=218)), 30.5, 30, 0.1) < 210) == stays


def relief_beside(tone):
    """What is left of broad soft spots, each near another, between strokes of this tone."""
    page = page_of()
    for y in np.arange(20, 40, 2):
        stroke(page, (y, 10), (y, 50), 0.5, tone)
    places = [(29, 26 + 0.8 * number) for number in range(6)]
    spot(page, 0, 0, 0, 206, shape=discs(page.shape, places, 0.45))
    done = dropped(grained(page, noise=1.5), limit=Fixed(tone=218))
    return [darkest(done, y, x, 0.1) for y, x in places]


def test_what_is_broad_and_far_paler_than_all_about_it_is_the_papers_relief():
    assert min(relief_beside(tone=30)) > 217
    assert max(relief_beside(tone=185)) < 212


@pytest.mark.parametrize("ppi", [300, 600])
def test_twice_the_resolution_loses_the_same_specks(ppi):
    page = page_of()
    for number, across in enumerate((0.12, 0.2, 0.3, 0.5)):
        spot(page, 10 + 12 * number, 30, across, 100)
    stroke(page, (8, 5), (50, 5), 0.4, 30)
    scale = ppi // PPI
    large = cv2.resize(page, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC)
    done = DropSpecks().apply(Sheet(ppi=ppi, grey=large)).grey
    assert (done[:, round(20 * MM) * scale :] >= 218).all()
    assert (done < 60).sum() == (large < 60).sum()


@pytest.mark.parametrize("threads", [1, 4])
def test_threads_change_no_pixel(threads):
    page, used = grained(page_of()), cv2.getNumThreads()
    spot(page, 30, 30, 0.2, 120)
    try:
        cv2.setNumThreads(threads)
        done = dropped(page)
    finally:
        cv2.setNumThreads(used)
    assert np.array_equal(done, dropped(page))


@given(hnp.arrays(np.bool_, hnp.array_shapes(min_dims=2, max_dims=2, min_side=1, max_side=24)))
def test_connected_marks_are_those_of_scipy_and_scikit_image(marks):
    """Against scipy.ndimage.label and skimage.measure.label, both with corners connected."""
    plane = np.where(marks, 200, PAPER).astype(np.uint8)  # pale, so that no part is firm ink
    specks = find_specks(plane, 25.4, Ground(float(PAPER), 222, taken=False), longest=1e6)
    labels, count = ndimage.label(marks, np.ones((3, 3)))
    assert len(specks.place) == count == measure.label(marks, connectivity=2).max()
    assert np.array_equal(np.sort(specks.area), np.sort(np.bincount(labels.ravel())[1:]))
    longest = [max(side.stop - side.start for side in box) for box in ndimage.find_objects(labels)]
    assert np.array_equal(np.sort(specks.longest), np.sort(longest))


@given(hnp.arrays(st.sampled_from(DEPTHS), hnp.array_shapes(min_dims=2, max_dims=2, max_side=12)))
def test_any_page_goes_through_and_only_gets_whiter(plane):
    done = dropped(plane)
    assert done.shape == plane.shape
    assert ((done == plane) | (done == np.iinfo(plane.dtype).max)).all()


@pytest.mark.parametrize("tone", [0, 128, 230, 255])
def test_an_even_page_is_left_alone(tone):
    page = np.full((90, 90), tone, np.uint8)
    assert np.array_equal(dropped(page, pinholes=Filled()), page)


def test_colour_and_alpha_lose_the_same_specks():
    page = page_of()
    spot(page, 30, 30, 0.2, 120)
    colour = DropSpecks().apply(Sheet(ppi=PPI, colour=np.stack([page] * 3, axis=2))).colour
    assert (colour[round(30 * MM), round(30 * MM)] == 255).all()
    lifted = np.invert(np.where(page == PAPER, 255, page).astype(np.uint8))
    assert not DropSpecks().apply(Sheet(ppi=PPI, alpha=lifted)).alpha.any()


def test_a_mark_is_told_by_the_papers_own_noise():
    settled = DropSpecks().settle(Paper(peak=230, noise=6))
    assert settled.limit == Fixed(tone=212, paper=230)
    assert settled.settle(Paper(peak=200, noise=1)) is settled
    assert DropSpecks().settle(Paper(peak=5, noise=6)).limit == Fixed(tone=0, paper=5)
    assert DropSpecks().needs_paper
    assert not settled.needs_paper


def test_dust_on_a_made_page_goes_and_the_drawing_stays():
    drawn = render(Request(scene="mill-across-the-water", seed=41, paper="smooth", dust=40,
                           gutter=0, fall_off=0))
    grey = cv2.cvtColor((drawn.scan >> 8).astype(np.uint8), cv2.COLOR_RGB2GRAY)
    mask = dust_mask(grey, drawn.ppi, DropSpecks().size)
    # hairs paler than the paper's grain are for keep marks
    paper = float(np.median(grey[drawn.cover < 0.001]))
    plain = drawn.dust & (drawn.cover < 0.01) & (grey < paper - 25)
    away = cv2.dilate((drawn.cover > 0.05).astype(np.uint8), np.ones((13, 13), np.uint8)) == 0
    assert plain.sum() > 200
    assert mask[plain & away].mean() >= 0.97
    assert mask[plain].mean() >= 0.85
    drawing = np.where(cv2.dilate(drawn.dust.astype(np.uint8), np.ones((7, 7))) > 0, 0, drawn.cover)
    assert (drawing * mask).sum() / drawing.sum() < 0.001


def solid_with_holes():
    page = page_of(40, 40)
    page[round(5 * MM) : round(30 * MM), round(5 * MM) : round(30 * MM)] = 30
    stroke(page, (35, 5), (35, 35), 0.6, 30)
    spot(page, 15, 15, 0.2, 200)
    spot(page, 20, 20, 0.8, 225)
    spot(page, 35, 20, 0.2, 200)
    return page


def test_pinholes_stay_unless_asked_for():
    page = solid_with_holes()
    assert np.array_equal(dropped(page), page)


@pytest.mark.parametrize("dtype", DEPTHS)
def test_pinholes_are_filled_by_size_and_in_wide_ink_alone(dtype):
    unit = np.iinfo(dtype).max // 255
    page = to_depth(solid_with_holes(), 8 * np.dtype(dtype).itemsize)
    done = dropped(page, pinholes=Filled()) / unit
    assert done[round(15 * MM), round(15 * MM)] == 30
    assert done[round(20 * MM), round(20 * MM)] > 200
    assert done[round(35 * MM), round(20 * MM)] > 120
    assert dropped(page, pinholes=Filled(hole=1.5))[round(20 * MM), round(20 * MM)] == 30 * unit
    narrow = dropped(page, pinholes=Filled(solid=0.4))
    assert narrow[round(35 * MM), round(20 * MM)] <= 60 * unit


def test_pinholes_of_a_lifted_page_are_filled_with_ink():
    page = solid_with_holes()
    alpha = np.invert(page)
    done = DropSpecks(pinholes=Filled()).apply(Sheet(ppi=PPI, alpha=alpha)).alpha
    assert done[round(15 * MM), round(15 * MM)] == 225


@given(hnp.arrays(np.uint8, hnp.array_shapes(min_dims=2, max_dims=2, max_side=12)))
def test_any_page_may_be_asked_for_pinholes(plane):
    assert pinhole_mask(plane, 300, 0.3, 1.5).shape == plane.shape
