"""Marks told from paper: what must hold however the evidence is weighed."""

from itertools import product

import cv2
import numpy as np
import pytest
from scipy import ndimage
from skimage import measure

from app.filters.evidence import ONE, find_evidence
from app.filters.keep_marks import Dark, KeepMarks
from app.filters.noise import measure_ground
from app.filters.white import whitened
from core.matte import to_depth
from core.sheet import Paper, Sheet, whole
from core.steps.fold import replay
from core.steps.lift import Lift, Own
from core.steps.steplist import StepList
from tests.strategies import DEPTHS

PPI = 300
SHAPE = (900, 700)  # 76 by 59 mm
PAPER = 225.0
SWING = 3.0  # one deviation of the tooth's shadow, in tones


def tooth(shape=SHAPE, seed=1, ppi=PPI, swing=SWING):
    """A relief of 0.4 to 1 mm lit from above: light and dark alike, as tones about 0."""
    random = np.random.default_rng(seed)
    scale = ppi / 300
    at = tuple(round(side / scale) for side in shape)
    height = sum(
        cv2.GaussianBlur(random.normal(size=at).astype(np.float32), (0, 0), sigma) * sigma * weight
        for sigma, weight in ((2.2, 1.0), (4.5, 1.0))
    )
    if scale != 1:
        height = cv2.resize(height, shape[::-1], interpolation=cv2.INTER_CUBIC)
    slope = np.gradient(cv2.GaussianBlur(height, (0, 0), 0.7 * scale), axis=0)
    return swing * slope / slope.std()


def strokes(shape=SHAPE, ppi=PPI, angle=30.0, gap=0.9, length=12.0, at=(0.5, 0.5), count=9,
            width=0.3):
    """Cover 0-1 of parallel strokes of ``length`` mm, ``gap`` mm apart, about a place."""
    scale, fine = ppi / 25.4, 4
    cover = np.zeros((shape[0] * fine, shape[1] * fine), np.uint8)
    along = np.array([np.cos(np.radians(angle)), np.sin(np.radians(angle))])
    middle = np.array([shape[1] * at[0], shape[0] * at[1]])
    for number in range(count):
        off = (number - (count - 1) / 2) * gap * scale * np.array([-along[1], along[0]])
        ends = [middle + off + sign * along * length * scale / 2 for sign in (-1, 1)]
        points = [tuple(int(v * fine) for v in end) for end in ends]
        cv2.line(cover, *points, 255, round(width * scale * fine))
    small = cv2.resize(cover, shape[::-1], interpolation=cv2.INTER_AREA)
    return cv2.GaussianBlur(small.astype(np.float32) / 255, (0, 0), 0.5 * ppi / 300)


def page(cover=0.0, depth=40.0, dtype=np.uint8, seed=1, shape=SHAPE, ppi=PPI, paper=PAPER):
    """Toothed paper with strokes ``depth`` tones dark on it."""
    noise = np.random.default_rng(seed + 100).normal(0, 0.7, shape)
    tone = paper + tooth(shape, seed, ppi) + noise - depth * cover
    full = np.iinfo(dtype).max
    return np.clip(np.rint(tone * full / 255), 0, full).astype(dtype)


def kept(plane, ppi=PPI, **fields):
    return KeepMarks(**fields).apply(Sheet(ppi=ppi, grey=plane)).grey


def lettered(blots, share, depth, seed=2, size=420):
    """Dense black lettering on paper that foxing and show-through have blotched; its cover too."""
    random = np.random.default_rng(seed)

    def soft(sigma):
        noise = random.normal(0, 1, (size, size))
        return cv2.GaussianBlur(noise, (0, 0), sigma) * sigma * 3.5

    stain = np.minimum(np.clip(soft(blots) + share, 0, None) * depth / 2, depth)
    paper = 230 + soft(1.2) * 4 - stain
    lines = np.zeros((size, size), np.uint8)
    for y, x in product(range(30, size - 30, 20), range(30, size - 30, 8)):
        cv2.line(lines, (x, y), (x + int(random.integers(-4, 5)), y + 10), 255, 2)
    cover = cv2.GaussianBlur(lines / 255, (0, 0), 0.7)
    return np.clip(np.rint(paper * (1 - 0.85 * cover)), 0, 254).astype(np.uint8), cover


@pytest.mark.parametrize(("blots", "share", "depth"), [
    (2, 1.0, 30), (2, 1.0, 60), (4, 1.0, 60), (9, 1.5, 60)])
def test_black_lettering_all_over_a_blotched_page_is_not_taken_for_its_grain(blots, share, depth):
    made, cover = lettered(blots, share, depth)
    assert (kept(made, ppi=150)[cover > 0.5] < 255).mean() > 0.99


def test_a_page_with_no_white_on_it_is_not_cut_off_however_wide_its_peak():
    made, _ = lettered(2, 1.0, 60)
    assert not measure_ground(made, 150).clipped
    assert measure_ground(np.minimum(page(paper=253), 255), PPI).clipped


@pytest.mark.parametrize("dtype", DEPTHS)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_blank_toothed_paper_turns_to_exact_white(dtype, seed):
    blank = page(dtype=dtype, seed=seed)
    made = kept(blank)
    assert made.dtype == dtype
    assert (made == np.iinfo(dtype).max).all()


def test_blank_paper_whose_lights_are_clipped_turns_to_white():
    blank = page(paper=254.0)
    assert (blank == 255).mean() > 0.3
    assert (kept(blank) < 255).mean() < 0.0005


def test_hatching_as_pale_as_the_tooth_is_kept_and_the_tooth_beside_it_is_not():
    cover = strokes()
    scan = page(cover, depth=3.5 * SWING)
    made = kept(scan)
    hatched, bare = cover > 0.5, cv2.dilate(cover, np.ones((31, 31))) < 0.01
    assert (scan[bare] < scan[hatched].mean()).mean() > 0.001  # no white point tells them apart
    assert (made[hatched] < 255).mean() > 0.8
    assert (made[bare] < 255).mean() < 0.0005


def test_parallel_strokes_are_kept_where_their_paper_alone_is_not():
    scan = page(strokes(count=1, length=40), depth=3.2 * SWING)
    assert (kept(scan)[strokes(count=1, length=36) > 0.5] < 255).mean() > 0.6


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_faint_stroke_goes_on_between_the_peaks_that_it_touches(seed):
    cover = strokes(gap=6.0, count=7, length=40.0)
    made = kept(page(cover, depth=10.0, seed=seed)) < 255
    assert made[cover > 0.8].mean() > 0.85
    assert made[cv2.dilate(cover, np.ones((9, 9))) < 0.01].mean() < 0.001


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_small_grains_far_darker_than_any_relief_are_kept_among_others_and_not_alone(seed):
    cover = np.zeros(SHAPE, np.float32)
    among = np.mgrid[40:400:16, 40:300:16].reshape(2, -1).T
    alone = np.mgrid[500:880:80, 400:680:80].reshape(2, -1).T
    for row, column in (*among, *alone):
        cv2.circle(cover, (int(column), int(row)), 2, 1.0, -1)
    rough = cv2.GaussianBlur(np.random.default_rng(seed).normal(size=SHAPE), (0, 0), 1.0)
    tone = PAPER + 7 * rough / rough.std() - 80 * cv2.GaussianBlur(cover, (0, 0), 0.5)
    made = kept(np.clip(np.rint(tone), 0, 255).astype(np.uint8), limit=3.5) < 255
    assert made[tuple(among.T)].mean() > 0.95
    assert made[tuple(alone.T)].mean() < 0.5


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_faint_hatching_on_rough_paper_is_kept_over_all_its_length(seed):
    cover = strokes(width=0.4, gap=1.2, count=8, length=14, angle=35)
    tone = PAPER + tooth(seed=seed, swing=5) - 12 * cover
    made = kept(np.rint(tone).astype(np.uint8)) < 255
    assert made[cover > 0.8].mean() > 0.945
    assert made[cv2.dilate(cover, np.ones((9, 9))) < 0.01].mean() < 0.001


def test_ink_vouches_for_no_relief_in_line_with_it_however_rough_the_paper_is():
    cover = np.maximum.reduce([
        strokes(width=0.5, gap=2.4, count=5, length=4, angle=0, at=at)
        for at in product((0.2, 0.5, 0.8), repeat=2)])
    off = cv2.distanceTransform((cover < 0.02).astype(np.uint8), cv2.DIST_L2, 5) * 25.4 / PPI
    beside, shares = (off > 0.15) & (off < 0.6), []
    for seed in (1, 2, 3):
        bumps = cv2.GaussianBlur(np.random.default_rng(seed).normal(size=SHAPE), (0, 0), 4.0)
        rough = np.sign(bumps) * bumps**2  # here and there far more than usual
        tone = PAPER + 5 * rough / rough.std() - 170 * cover
        made = kept(np.clip(np.rint(tone), 0, 255).astype(np.uint8)) < 255
        assert made[cover > 0.5].all()
        shares.append(made[beside].mean())
    assert np.mean(shares) < 0.021


@pytest.mark.parametrize(("seed", "turn"), [*product([1, 2, 3], [0, 1])])
def test_shade_along_a_side_of_the_page_is_no_stroke(seed, turn):
    scan = page(seed=seed).astype(np.float64)
    scan[:, :6] -= np.linspace(4, 0.5, 6)
    made = kept(np.rot90(np.rint(scan).astype(np.uint8), turn).copy())
    assert (made < 255).mean() < 0.0004


def test_a_faint_stroke_that_runs_off_the_page_is_kept_to_its_side():
    cover = strokes(width=0.4, gap=1.2, count=5, length=20, angle=90, at=(0.5, 1.0))
    made = kept(page(cover, depth=14)) < 255
    assert made[-6:][cover[-6:] > 0.8].all()


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_dots_of_ink_on_rough_paper_are_kept_among_others_though_the_lens_paled_them(seed):
    random, cover = np.random.default_rng(seed), np.zeros(SHAPE, np.float32)
    among = np.mgrid[40:400:17, 40:300:17].reshape(2, -1).T
    among += random.integers(-4, 5, among.shape)
    for row, column in among:
        cv2.circle(cover, (int(column), int(row)), 1, 1.0, -1)
    height = cv2.GaussianBlur(random.normal(size=SHAPE).astype(np.float32), (0, 0), 8)
    slope = np.gradient(height, axis=0)
    dots = 130 * cv2.GaussianBlur(cover, (0, 0), 0.8)
    tone = PAPER + 6 * slope / slope.std() + random.normal(0, 0.7, SHAPE) - dots
    made = kept(np.clip(np.rint(tone), 0, 255).astype(np.uint8), limit=3.5) < 255
    assert made[tuple(among.T)].mean() > 0.8
    assert not made[450:].any()


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_hatching_paler_than_one_stroke_must_be_is_kept_for_its_neighbours(seed):
    cover = strokes(count=12, gap=1.0, angle=120.0, length=14.0)
    made = kept(page(cover, depth=2.2 * SWING, seed=seed), limit=3.5) < 255
    assert made[cover > 0.8].mean() > 0.65
    assert made[cv2.dilate(cover, np.ones((9, 9))) < 0.01].mean() < 0.0005


def laid(seed, cover=0.0, depth=0.0):
    """Paper with the ribs of its mould, a millimetre apart and not quite straight, and a tooth."""
    random = np.random.default_rng(seed)
    drift = cv2.GaussianBlur(random.normal(size=SHAPE).astype(np.float32), (0, 0), 30)
    down = np.indices(SHAPE)[0] / (PPI / 25.4) + 0.15 * drift / drift.std()
    relief = (np.sin(2 * np.pi * down) + tooth(seed=seed, swing=1)) / np.sqrt(2)
    tone = PAPER + 6 * relief + random.normal(0, 0.7, SHAPE) - depth * cover
    return np.clip(np.rint(tone), 0, 255).astype(np.uint8)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_ribs_of_laid_paper_are_no_hatching_and_do_not_hide_it(seed):
    assert (kept(laid(seed)) == 255).all()
    cover = strokes(count=12, gap=1.0, angle=60.0, length=14.0)
    made = kept(laid(seed, cover, 12), limit=3.5) < 255
    assert made[cover > 0.8].mean() > 0.8
    assert made[cv2.dilate(cover, np.ones((9, 9))) < 0.01].mean() < 0.0005


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_noise_is_alike_at_all_wavelengths_once_it_is_whitened(seed):
    ground = measure_ground(laid(seed), PPI)
    assert flatness(whitened(ground.levels, ground)) > 2 * flatness(ground.levels)


def flatness(plane):
    """The geometric mean of the power at waves of 0.5 to 3 mm over the arithmetic one."""
    power = np.abs(np.fft.fft2(plane.astype(np.float64))) ** 2
    waves = np.hypot(*np.meshgrid(*(np.fft.fftfreq(side) for side in plane.shape), indexing="ij"))
    power = power[(waves > 25.4 / 150 / 3) & (waves < 25.4 / 150 / 0.5)]
    return np.exp(np.log(power + 1e-9).mean()) / power.mean()


@pytest.mark.parametrize("dtype", DEPTHS)
def test_inside_a_mark_nothing_is_touched(dtype):
    cover = strokes(width=1.5, gap=5, count=3)
    scan = page(cover, depth=120, dtype=dtype)
    made = kept(scan)
    deep = cv2.erode(cover, np.ones((5, 5))) > 0.99
    assert deep.any()
    assert (made[deep] == scan[deep]).all()


def test_the_feather_is_a_pixel_wide_and_lies_outside():
    scan = np.full(SHAPE, 225, np.uint8)
    scan[400:440, 200:500] = 60
    made = kept(scan)
    inside = made == scan
    ring = (made < 255) & ~inside
    assert inside[400:440, 200:500].all()
    reach = cv2.dilate(inside.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    assert (reach | ~ring).all()
    assert made[:380].min() == made[460:].min() == 255


def test_one_tone_of_wash_is_kept_without_an_edge():
    y, x = np.indices(SHAPE)
    soft = np.exp(-((y - 450) ** 2 + (x - 350) ** 2) / (2 * 120.0**2)).astype(np.float32)
    scan = page(soft, depth=20)
    made = kept(scan)
    assert (made[soft > 0.7] < 255).mean() > 0.6
    assert (made[soft < 0.02] < 255).mean() < 0.002


def test_a_list_made_at_300_ppi_gives_the_same_marks_at_600():
    shape = (1200, 1000)
    fine = page(strokes(shape, 600, length=14), depth=14, shape=shape, ppi=600)
    coarse = cv2.resize(fine, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    one = kept(coarse) < 255
    two = cv2.resize((kept(fine, 600) < 255).astype(np.float32), one.shape[::-1],
                     interpolation=cv2.INTER_AREA) > 0.5
    both, either = one & two, one | two
    around = np.ones((3, 3), np.uint8)
    rim = cv2.dilate(one.astype(np.uint8), around) != cv2.erode(one.astype(np.uint8), around)
    assert (both & ~rim).sum() / (either & ~rim).sum() > 0.97


def test_any_number_of_threads_gives_the_same_pixels():
    scan = page(strokes(), depth=12)
    before = cv2.getNumThreads()
    try:
        cv2.setNumThreads(1)
        one = kept(scan)
        cv2.setNumThreads(2)
        two = kept(scan)
    finally:
        cv2.setNumThreads(before)
    assert (one == two).all()


@pytest.mark.parametrize("shape", [(1, 1), (1, 400), (3, 3), (12, 500), (40, 40)])
@pytest.mark.parametrize("ppi", [72, 300, 1200])
def test_pages_smaller_than_any_kernel_work(shape, ppi):
    flat = np.full(shape, 231, np.uint8)
    assert (kept(flat, ppi) == 255).all()
    black = np.zeros(shape, np.uint8)
    assert (kept(black, ppi) == 0).all()


@pytest.mark.parametrize("dtype", DEPTHS)
def test_a_black_page_stays_black_and_a_white_one_white(dtype):
    full = np.iinfo(dtype).max
    assert (kept(np.zeros(SHAPE, dtype)) == 0).all()
    assert (kept(np.full(SHAPE, full, dtype)) == full).all()


def test_a_large_solid_keeps_its_middle():
    scan = page()
    scan[100:800, 100:600] = 35
    made = kept(scan)
    assert (made[110:790, 110:590] == 35).all()


def test_depth_hardly_matters():
    scan = page(strokes(), depth=14)
    narrow, wide = kept(scan) < 255, kept(to_depth(scan, 16)) < 65535
    assert (narrow ^ wide).mean() < 0.001


def test_input_is_not_written_to():
    scan = page(strokes())
    before = scan.copy()
    kept(scan)
    assert (scan == before).all()


def test_weakest_takes_a_pale_mark_out_and_leaves_a_dark_one_whole():
    dark, pale = strokes(angle=0, count=1), strokes(angle=90, count=1, at=(0.2, 0.5))
    scan = page(np.maximum(dark, 0.25 * pale), depth=170)
    all_of_it, strong = kept(scan), kept(scan, weakest=Dark(share=50))
    assert (all_of_it[pale > 0.5] < 255).mean() > 0.9
    assert (strong[pale > 0.5] < 255).mean() == 0
    assert ((strong < 255) == (all_of_it < 255))[dark > 0.05].all()


def test_weakest_cuts_a_pale_line_where_it_crosses_a_dark_one():
    dark, pale = strokes(angle=0, count=1), strokes(angle=90, count=1, length=20)
    strong = kept(page(np.maximum(dark, 0.25 * pale), depth=170), weakest=Dark(share=50))
    far = (cv2.dilate(dark, np.ones((15, 15))) < 0.05) & (pale > 0.5)
    assert far.any()
    assert (strong[far] == 255).all()


def test_a_higher_limit_keeps_less():
    scan = page(strokes(), depth=9)
    counts = [(kept(scan, limit=limit) < 255).sum() for limit in (2, 3, 6, 12)]
    assert counts == sorted(counts, reverse=True)
    assert counts[0] > counts[-1]


def test_connected_evidence_is_what_two_labelling_libraries_call_connected():
    ground = measure_ground(page(strokes(), depth=30), PPI)
    above = find_evidence(ground).near > ONE
    count, _ = cv2.connectedComponents(above.astype(np.uint8), connectivity=8)
    assert count - 1 == ndimage.label(above, np.ones((3, 3)))[1]
    assert count - 1 == measure.label(above, connectivity=2).max()


def test_the_scans_own_colour_is_lifted_only_from_marks():
    scan = np.stack([page(strokes(), depth=90)] * 3, axis=2)
    scan[..., 2] = scan[..., 2] * 0.8
    sheet = Sheet(ppi=PPI, colour=scan)
    done = whole(replay(StepList("own", (KeepMarks(), Lift(ink=Own()))), sheet).page)
    bare = KeepMarks().apply(sheet).grey == 255
    assert bare.mean() > 0.5
    assert done.alpha[bare].max() == 0
    assert done.alpha[strokes() > 0.9].mean() > 50


def test_the_paper_is_remembered():
    paper = Paper(peak=225, noise=3)
    assert KeepMarks().after(paper) == paper
    assert KeepMarks().needs_paper


def test_a_lifted_sheet_is_left_alone():
    sheet = Sheet(ppi=PPI, alpha=np.full((9, 9), 40, np.uint8))
    assert KeepMarks().apply(sheet) is sheet
