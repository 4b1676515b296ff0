"""Lamp fall-off, gutter shadow and tint divided out: what must hold however it is done."""

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import cv2
import numpy as np
import pytest

from app.filters.even_light import PAPER_TONE, EvenLight
from core.matte import to_depth
from core.readings import survey
from core.sheet import Paper, Sheet
from sample_pages.request import Request, render
from tests.strategies import DEPTHS

REAL = Path(__file__).parents[3] / "shared" / "real" / "pages"
PPI = 100
SHAPE = (400, 300)  # 102 by 76 mm


def evened(plane, ppi=PPI, **fields):
    name = "colour" if plane.ndim == 3 else "grey"
    return getattr(EvenLight(**fields).apply(Sheet(ppi=ppi, **{name: plane})), name)


def ramp(dark, light, axis=0, shape=SHAPE):
    """Paper that gets lighter down the page, or across it, as floats."""
    along = np.linspace(dark, light, shape[axis])
    return np.broadcast_to(along[:, None] if axis == 0 else along[None, :], shape).copy()


def as_codes(tones, dtype=np.uint8, seed=1, noise=1.5):
    """Tones with the noise of a scan, as code values."""
    rough = tones + np.random.default_rng(seed).normal(0, noise, tones.shape)
    scale = np.iinfo(dtype).max / 255
    return np.clip(np.rint(rough * scale), 0, np.iinfo(dtype).max).astype(dtype)


def inside(plane, margin=0):
    return plane[margin:-margin, margin:-margin] if margin else plane


def blocks(plane, size=20):
    """Means of squares, in which noise is gone and the light is not."""
    height, width = (side // size * size for side in plane.shape)
    cut = plane[:height, :width].astype(float)
    return cut.reshape(height // size, size, width // size, size).mean(axis=(1, 3))


@pytest.mark.parametrize("dtype", DEPTHS)
@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize(("dark", "light"), [(150, 200), (235, 120), (228, 231)])
def test_a_ramp_comes_to_one_tone_at_its_own_depth(dark, light, axis, dtype):
    done = evened(as_codes(ramp(dark, light, axis), dtype))
    assert done.dtype == dtype
    assert done.shape == SHAPE
    tones = blocks(done) * 255 / np.iinfo(dtype).max
    assert np.abs(tones - PAPER_TONE).max() <= 3


def test_lamp_fall_off_and_a_gutter_go():
    y, x = np.indices(SHAPE, dtype=float)
    lamp = 1 - 0.25 * np.hypot(y / 400 - 0.5, x / 300 - 0.5) ** 2
    gutter = 1 - 0.35 * np.exp(-x / 25)
    tones = blocks(evened(as_codes(230 * lamp * gutter)))
    assert np.abs(tones[:, 1:] - PAPER_TONE).max() <= 4
    assert np.abs(tones - PAPER_TONE).max() <= 12  # the darkest 5 mm of the gutter


def test_the_papers_tint_goes_channel_by_channel():
    warm = ramp(0.8, 1.0)[..., None] * np.array((232.0, 224.0, 205.0))
    done = evened(as_codes(warm))
    for channel in range(3):
        assert np.abs(blocks(done[..., channel]) - PAPER_TONE).max() <= 3


def test_grey_made_before_goes_with_the_colour():
    colour = as_codes(ramp(170, 220)[..., None] * np.ones(3))
    grey = as_codes(ramp(170, 220), seed=2)
    done = EvenLight().apply(Sheet(ppi=PPI, grey=grey, colour=colour))
    assert np.abs(blocks(done.grey) - PAPER_TONE).max() <= 3
    assert np.abs(blocks(done.colour[..., 1]) - PAPER_TONE).max() <= 3


def test_ink_stays_as_dark_beside_its_paper_as_it_was():
    tones = ramp(150, 220)
    lines = np.zeros(SHAPE, bool)
    lines[::40] = lines[:, 20::60] = True
    tones[lines] *= 0.2
    done = evened(as_codes(tones, noise=1)).astype(float)
    assert np.abs(done[lines] / PAPER_TONE - 0.2).max() < 0.05
    away = ~lines & ~np.roll(lines, 1, 0) & ~np.roll(lines, 1, 1)
    assert abs(done[away].mean() - PAPER_TONE) < 2


@pytest.mark.parametrize("side_mm", [5, 10])
def test_a_solid_black_area_is_not_taken_for_a_shadow(side_mm):
    tones = ramp(190, 220)
    side = round(side_mm / 25.4 * PPI)
    tones[100 : 100 + side, 80 : 80 + side] = 25
    done = evened(as_codes(tones))
    assert done[105 : 95 + side, 85 : 75 + side].max() < 60
    around = done[80:95, 60:200].astype(float)
    assert abs(around.mean() - PAPER_TONE) < 4


def test_the_tooth_keeps_its_contrast_and_its_light_half():
    random = np.random.default_rng(6)
    tooth = random.normal(0, 5, SHAPE)
    done = evened(as_codes(ramp(160, 215) * (1 + tooth / 220), noise=0.01)).astype(float)
    assert (done == 255).mean() < 1e-3
    assert np.corrcoef(tooth.ravel(), done.ravel())[0, 1] > 0.95


def test_both_depths_come_out_alike():
    plane = as_codes(ramp(150, 220))
    fine = evened(to_depth(plane, 16)) / 257
    assert np.abs(fine - evened(plane)).max() <= 1.5


def test_twice_the_resolution_comes_out_alike():
    coarse = blocks(evened(as_codes(ramp(150, 220))), 20)
    fine = blocks(evened(as_codes(ramp(150, 220, shape=(800, 600))), ppi=2 * PPI), 40)
    assert np.abs(coarse - fine).max() <= 2


@pytest.mark.parametrize("dtype", DEPTHS)
@pytest.mark.parametrize("shape", [(1, 1), (1, 30), (30, 1), (3, 5), (7, 200), (12, 12)])
def test_a_page_smaller_than_what_it_looks_at_is_evened_too(shape, dtype):
    unit = np.iinfo(dtype).max // 255
    done = evened(np.full(shape, 180 * unit, dtype), ppi=300)
    assert done.shape == shape
    assert done.dtype == dtype
    assert np.abs(done / unit - PAPER_TONE).max() <= 1


@pytest.mark.parametrize("tone", [90, 180, 229, 255])
def test_a_blank_page_comes_to_the_papers_tone(tone):
    assert np.abs(evened(np.full((90, 90), tone, np.uint8)).astype(int) - PAPER_TONE).max() <= 1


def test_a_black_page_stays_black():
    assert (evened(np.zeros((90, 90), np.uint8)) == 0).all()


def test_even_light_again_changes_next_to_nothing():
    once = evened(as_codes(ramp(150, 220)))
    assert np.abs(blocks(evened(once)) - blocks(once)).max() <= 1.5


def test_a_lifted_page_is_left_alone():
    lifted = Sheet(ppi=PPI, alpha=np.zeros((5, 5), np.uint8))
    assert EvenLight().apply(lifted) is lifted


def test_the_same_page_gives_the_same_bytes_from_any_thread():
    plane = as_codes(ramp(150, 220))
    with ThreadPoolExecutor(3) as pool:
        done = list(pool.map(evened, [plane] * 3))
    assert np.array_equal(done[0], evened(plane))
    assert np.array_equal(done[0], done[1])
    assert np.array_equal(done[0], done[2])


def test_the_paper_is_measured_anew_and_found_where_it_was_put():
    sheet = EvenLight().apply(Sheet(ppi=PPI, grey=as_codes(ramp(150, 220))))
    assert abs(survey(sheet).paper().peak - PAPER_TONE) < 1.5
    assert EvenLight().after(Paper(peak=200, noise=3)) is None


TRUE_PPI = 200


def sheet_of(shape_mm, ppi=TRUE_PPI, seed=5, tooth=4.0):
    """Paper with a tooth under a lamp that falls off, as floats, and its rows and columns in mm."""
    height, width = (round(side / 25.4 * ppi) for side in shape_mm)
    y, x = np.mgrid[0:height, 0:width] * (25.4 / ppi)
    rough = cv2.GaussianBlur(np.random.default_rng(seed).normal(0, 1, (height, width)), (0, 0), 1.2)
    lamp = 226 - 0.002 * (x - 50) ** 2 - 0.05 * y
    return lamp * (1 + tooth / 230 * rough / rough.std()), y, x


def peak_tone(pixels):
    """The middle of the commonest tones."""
    counts = np.convolve(np.bincount(pixels.ravel(), minlength=256), np.ones(5), "same")
    top = int(counts.argmax())
    near = np.arange(max(top - 4, 0), min(top + 5, 256))
    return float(np.average(near, weights=counts[near]))


def windows(done, bare, ppi, side_mm=6):
    """The paper peak of each square of the page in which a third at least is bare."""
    side = round(side_mm / 25.4 * ppi)
    squares = [(slice(top, top + side), slice(left, left + side))
               for top in range(0, done.shape[0] - side + 1, side)
               for left in range(0, done.shape[1] - side + 1, side)]
    return np.array([peak_tone(done[square][bare[square]]) for square in squares
                     if bare[square].mean() > 0.33])


@pytest.mark.parametrize(("power", "depth"), [(2, 0.25), (4, 0.45)])
@pytest.mark.parametrize("scene", ["mill-across-the-water", "sluice-wheel"])
def test_a_lens_that_darkens_the_corners_of_a_drawn_page_is_evened(scene, power, depth):
    # by how much a lens darkens with the distance from the middle: common practice, no source
    drawn = render(Request(scene=scene, seed=3, ppi=150, dust=0))
    scan = (drawn.scan[..., 1] >> 8).astype(float)
    y, x = np.mgrid[-1 : 1 : scan.shape[0] * 1j, -1 : 1 : scan.shape[1] * 1j]
    if power == 4:  # a round one
        y, x = np.array([y * scan.shape[0], x * scan.shape[1]]) / np.hypot(*scan.shape)
    reach = np.hypot(y, x)
    done = evened(np.rint(scan * (1 - depth * reach**power)).astype(np.uint8), 150).astype(float)
    bare = cv2.erode((drawn.cover == 0).astype(np.uint8), np.ones((3, 3), np.uint8)).astype(float)
    share = blocks(bare, 16)
    paper = blocks(done * bare, 16)[share > 0.3] / share[share > 0.3]
    assert np.abs(paper - PAPER_TONE).max() <= 2


@pytest.mark.parametrize("side", ["left", "right"])
def test_the_papers_peak_is_the_same_in_every_window_of_a_made_page(side):
    drawn = render(Request(scene="lantern", seed=31, ppi=TRUE_PPI, tint="cream", gutter=0.35,
                           gutter_side=side, fall_off=0.08, dust=5))
    done = evened((drawn.scan >> 8).astype(np.uint8), TRUE_PPI)
    # far from any ink, for the paper beneath faint pencil is the valleys alone, which are darker
    inked = (drawn.cover > 0.002).astype(np.uint8)
    bare = cv2.dilate(inked, np.ones((15, 15), np.uint8)) == 0
    for channel in range(3):
        peaks = windows(done[..., channel], bare, TRUE_PPI)
        assert len(peaks) >= 10
        assert np.abs(peaks - PAPER_TONE).max() <= 1.0


@pytest.mark.parametrize("bleeds", [False, True])
def test_a_black_panel_80_mm_wide_stays_black(bleeds):
    tones, y, x = sheet_of((130, 105))
    panel = (y > 20) & (y < 100) & ((x > 12) & (x < 92) | bleeds)
    tones[panel] = 28
    done = evened(as_codes(tones), TRUE_PPI)
    assert done[panel].max() <= 40
    assert abs(peak_tone(done[(y < 18) | (y > 102)]) - PAPER_TONE) <= 1


@pytest.mark.parametrize("penumbra_mm", [0.3, 1.0, 3.0])
def test_a_shadow_across_a_page_goes_hard_edged_or_soft(penumbra_mm):
    tones, y, x = sheet_of((120, 105))
    away = x + 0.3 * y - 60
    tones *= 1 - 0.28 * np.clip(away / penumbra_mm, 0, 1)
    done = evened(as_codes(tones), TRUE_PPI)
    assert abs(peak_tone(done[away < -2]) - PAPER_TONE) <= 1
    assert abs(peak_tone(done[away > penumbra_mm + 2]) - PAPER_TONE) <= 1


@pytest.mark.parametrize(("scene", "slope", "middle"), [
    ("sluice-wheel", 0.5, 0.35), ("marsh-path", -0.6, 0.45), ("rowing-boat", 1.5, 0.5),
    ("mill-across-the-water", 0.5, 0.5)])
def test_a_shadow_over_half_a_page_that_is_drawn_all_over_goes(scene, slope, middle):
    """As a hand or a telephone throws it on a page that is photographed from above."""
    made = render(Request(scene=scene, ppi=150, tooth=1.0, seed=8, dust=0))
    down, across = (np.linspace(0, 1, side) for side in made.cover.shape)
    past = (down[:, None] + slope * (across - 0.5) - middle) * made.cover.shape[0] * 25.4 / 150
    # of a hand 13 cm above, the sun being half a degree wide (from memory)
    soft = np.clip(past / 1.2 + 0.5, 0, 1)
    scan = as_codes(made.scan[..., 1] / 257 * (1 - 0.2 * soft), noise=0.3)
    done = evened(scan, 150)
    bare = (made.cover == 0) & ~made.stray
    for part in (past < -3, past > 3):
        peaks = windows(done, bare & part, 150)
        assert len(peaks) >= 20
        assert np.abs(peaks - PAPER_TONE).max() <= 2


def test_a_flat_tone_is_kept_if_it_is_narrower_than_the_reach():
    tones, y, x = sheet_of((90, 90))
    wash = (np.hypot(y - 45, x - 45) < 15).astype(float)
    tones *= 1 - 0.2 * cv2.GaussianBlur(wash, (0, 0), 0.8)
    plane = as_codes(tones)
    inner = np.hypot(y - 45, x - 45) < 14
    assert abs(np.median(evened(plane, TRUE_PPI)[inner]) - 0.8 * PAPER_TONE) <= 2
    assert abs(np.median(evened(plane, TRUE_PPI, reach=12)[inner]) - PAPER_TONE) <= 2


def shade_in(paper, x, y):
    """What light from one side makes of a paper's relief, deviation 1, (H, W)."""
    rng = np.random.default_rng(17)
    waves = (0.12, 0.4) if paper == "rough" else (0.08, 0.2)
    rises = sum(part / part.std() for part in (
        cv2.GaussianBlur(rng.normal(0, 1, x.shape), (0, 0), wave / 25.4 * TRUE_PPI)
        for wave in waves))
    if paper == "laid":  # how far its lines lie apart: common practice, no source
        rises = rises + 1.5 * np.sin(2 * np.pi * y / 1.05 + 0.5 * np.sin(x / 20))
    down, across = np.gradient(rises)
    return (down + across) / (down + across).std()


@pytest.mark.parametrize("dark", [0.04, 0.06, 0.1])
@pytest.mark.parametrize(
    ("paper", "tooth"), [("smooth", 0.004), ("cold", 0.01), ("laid", 0.012), ("rough", 0.016)])
def test_a_pale_wash_within_an_outline_keeps_its_tone(paper, tooth, dark):
    tones, y, x = sheet_of((90, 100), tooth=0.5)
    tones *= 1 + tooth * shade_in(paper, x, y)
    right, down = x - 52, y - 42
    away = np.hypot(right, down / 0.8) + 1.5 * np.sin(3 * np.arctan2(down, right)) - 20
    tones *= 1 - dark * cv2.GaussianBlur((away < 0) * 1.0, (0, 0), 0.1 / 25.4 * TRUE_PPI)
    broken = np.abs(down - 3) < 0.4  # the outline is open there
    lines = (np.abs(away) < 0.2) & ~broken | (np.abs(y - 46 - 0.05 * x) < 0.15)
    tones[lines] *= 0.2
    done = evened(as_codes(tones), TRUE_PPI).astype(float)
    bare = cv2.dilate(lines.astype(np.uint8), np.ones((7, 7), np.uint8)) == 0
    sheet = done[(away > 3) & bare].mean()
    for part in (y < 46 + 0.05 * x, y > 46 + 0.05 * x):
        kept = 1 - done[(away < -2) & bare & part].mean() / sheet
        assert kept == pytest.approx(dark, rel=0.1)


def test_an_outline_in_which_a_soft_shade_ends_keeps_nothing_of_it():
    tones, y, x = sheet_of((90, 100), tooth=2.0)
    away = np.hypot(x - 52, y - 42) - 16
    shade = np.clip((x - 45) / 12, 0, 1) * np.clip((75 - y) / 12, 0, 1)
    tones *= 1 - 0.045 * shade
    outline = np.abs(away) < 0.3
    tones[outline] *= 0.2
    done = evened(as_codes(tones), TRUE_PPI)
    for part in (shade == 0, shade == 1):
        assert abs(peak_tone(done[part & (away < -2)]) - PAPER_TONE) <= 1.5


@pytest.mark.parametrize(("tooth", "dark"), [(0.02, 0.06), (0.03, 0.1)])
def test_a_pale_wash_on_rough_paper_is_not_taken_for_shade(tooth, dark):
    tones, y, x = sheet_of((90, 90))
    rises = cv2.GaussianBlur(np.random.default_rng(7).normal(0, 1, tones.shape), (0, 0), 2)
    shade = np.diff(rises, axis=1, append=rises[:, :1])
    wash = (np.hypot((y - 45) / 0.6, x - 45) < 9).astype(float)
    tones *= 1 - dark * cv2.GaussianBlur(wash, (0, 0), 0.8)
    tones *= 1 + tooth * shade / shade.std()
    done = evened(as_codes(tones), TRUE_PPI)
    inner = np.hypot((y - 45) / 0.6, x - 45) < 8
    assert abs(done[inner].mean() - (1 - dark) * PAPER_TONE) <= 2.5
    assert abs(peak_tone(done[np.hypot((y - 45) / 0.6, x - 45) > 12]) - PAPER_TONE) <= 1


def test_a_narrow_shadow_that_falls_in_from_the_side_goes():
    tones, y, x = sheet_of((110, 100), tooth=6.0)
    away = np.hypot((y - 55) / 2, x) - 15
    tones *= 1 - 0.12 * np.clip(0.5 - away / 1.5, 0, 1)
    done = evened(as_codes(tones), TRUE_PPI)
    assert abs(peak_tone(done[away < -4]) - PAPER_TONE) <= 1.5
    assert abs(peak_tone(done[away > 4]) - PAPER_TONE) <= 1


def lettered(x, y):
    """Where strokes 0.4 mm wide lie, 3 mm apart in rows 5 mm high with 4 mm between."""
    return (np.abs((x + 0.4 * y) % 3 - 1.5) < 0.2) & (y % 9 < 5) & (x % 40 < 34)


def hand(x, y):
    """1 in the shadow of an arm that reaches in from the right and of two fingers, (H, W)."""
    arm = (x > 62) & (np.abs(y - 62) < 16)
    return (arm | ((x > 30) & (np.abs(y - 54 - 0.1 * x) < 5.5))
            | ((x > 36) & (np.abs(y - 76 + 0.1 * x) < 5.0))).astype(float)


@pytest.mark.parametrize("ppi", [200, 300])
@pytest.mark.parametrize("tint", [(1, 1, 1), (1, 0.97, 0.88), (0.8, 0.8, 0.8)])
def test_the_shadow_of_a_hand_goes_to_its_rim_and_between_strokes(tint, ppi):
    # the sun is half a degree wide (from memory), so the rim of a hand's shadow 10 cm above the
    # page is 0.9 mm wide: a deviation of 0.3 mm
    tones, y, x = sheet_of((110, 95), ppi)
    strokes = lettered(x, y)
    tones[strokes] *= 0.2
    shadow = cv2.GaussianBlur(hand(x, y), (0, 0), 0.35 / 25.4 * ppi)
    page = as_codes((tones * (1 - 0.18 * shadow))[..., None] * np.array(tint))
    done = evened(page, ppi)[..., 1]
    bare = cv2.dilate(strokes.astype(np.uint8), np.ones((5, 5), np.uint8)) == 0
    deep, rim = shadow > 0.98, (shadow > 0.02) & (shadow < 0.98)
    for part in (deep, rim, shadow < 0.02):
        assert abs(peak_tone(done[part & bare]) - PAPER_TONE) <= 1.5
        assert (done[part & bare] < PAPER_TONE - 20).mean() < 0.01


def lettered_tone(ppi, rim_mm, dark, tooth=3.0):
    """A tone with such a rim among letters; what lies under it and well within it, and bare."""
    tones, y, x = sheet_of((110, 95), ppi, tooth=tooth)
    strokes = (np.abs((x + 0.4 * y) % 2.4 - 1.2) < 0.2) & (y % 5 < 3) & (x > 12) & (x < 84)
    away = np.hypot((x - 45) / 1.8, y - 55) - 6.5
    tone = cv2.GaussianBlur((away < 0).astype(float), (0, 0), rim_mm / 25.4 * ppi)
    bare = cv2.dilate(strokes.astype(np.uint8), np.ones((5, 5), np.uint8)) == 0
    tones *= 1 - dark * tone
    tones[strokes] *= 0.2
    return tones, away < 0, bare


@pytest.mark.parametrize("ppi", [200, 300])
@pytest.mark.parametrize("dark", [0.03, 0.05, 0.07])
def test_a_smudge_among_letters_goes(dark, ppi):
    # a hand drags graphite over some mm, so that no side of it is sharp: common practice, no source
    tones, smudge, bare = lettered_tone(ppi, 1.8, dark)
    done = evened(as_codes(tones), ppi)
    for part in (smudge, ~smudge):
        assert abs(peak_tone(done[part & bare]) - PAPER_TONE) <= 1.5
    colour = evened(as_codes(tones[..., None] * np.array([1, 0.95, 0.85])), ppi)
    assert np.abs(np.median(colour[smudge & bare], axis=0) - PAPER_TONE).max() <= 1.5


def test_a_blot_that_a_smudge_touches_stays_as_dark():
    tones, smudge, bare = lettered_tone(TRUE_PPI, 1.8, 0.05)
    blot = np.zeros(tones.shape, bool)
    blot[421:446, 440:465] = True  # 3.2 mm square
    tones[blot] = 30
    done = evened(as_codes(tones), TRUE_PPI)
    clear = bare & (cv2.dilate(blot.astype(np.uint8), np.ones((25, 25), np.uint8)) == 0)
    assert abs(peak_tone(done[smudge & clear]) - PAPER_TONE) <= 1.5
    assert done[blot].max() <= 42


@pytest.mark.parametrize("dark", [0.05, 0.07])
def test_a_wash_among_letters_is_no_smudge(dark):
    tones, wash, bare = lettered_tone(TRUE_PPI, 0.1, dark)
    done = evened(as_codes(tones), TRUE_PPI).astype(float)
    kept = 1 - done[wash & bare].mean() / done[~wash & bare].mean()
    assert kept == pytest.approx(dark, rel=0.1)


@pytest.mark.parametrize("cover", [0.15, 0.3])
def test_pencil_laid_softly_among_letters_is_no_smudge(cover):
    tones, shaded, bare = lettered_tone(TRUE_PPI, 1.8, 0.0)
    rises = cv2.GaussianBlur(np.random.default_rng(3).normal(0, 1, tones.shape), (0, 0), 1.5)
    soft = cv2.GaussianBlur(shaded.astype(float), (0, 0), 1.8 / 25.4 * TRUE_PPI)
    touched = rises > np.quantile(rises, 1 - cover)
    drawn = np.where(touched, tones * (1 - 0.25 * soft), tones)
    before, after = (evened(as_codes(page), TRUE_PPI).astype(float) for page in (tones, drawn))
    here = shaded & bare
    laid = (1 - drawn[here] / tones[here]).mean() * PAPER_TONE
    assert (before - after)[here].mean() == pytest.approx(laid, rel=0.1)


@pytest.mark.parametrize("dark", [0.09, 0.12, 0.2])
@pytest.mark.parametrize("tooth", [2.0, 4.0])
def test_a_wash_that_runs_off_the_sheet_is_not_taken_for_shade(dark, tooth):
    tones, y, x = sheet_of((110, 95), tooth=tooth)
    wash = ((x > 62 + 3 * np.sin(y / 6)) & (y > 55 + 4 * np.sin(x / 7))).astype(float)
    tones *= 1 - dark * cv2.GaussianBlur(wash, (0, 0), 0.8)
    done = evened(as_codes(tones), TRUE_PPI)
    inner = cv2.erode(wash, np.ones((25, 25))) > 0
    assert abs(np.median(done[inner]) - (1 - dark) * PAPER_TONE) <= 2.5
    assert abs(peak_tone(done[cv2.dilate(wash, np.ones((25, 25))) == 0]) - PAPER_TONE) <= 1


@pytest.mark.parametrize("rim_mm", [0.4, 4.0])
@pytest.mark.parametrize("paper", ["smooth", "rough"])
def test_a_soft_wash_that_runs_off_a_drawn_page_is_told_from_a_shadow_by_its_clouds(paper, rim_mm):
    drawn = render(Request("keepers-notes", 7, ppi=150, paper=paper, tooth=0.8, dust=0))
    scan = drawn.scan[..., 1]
    y, x = (place * 25.4 / 150 for place in np.indices(scan.shape))
    away = np.hypot(x, 0.8 * (y - 150)) + 3 * np.sin(4 * np.arctan2(y - 150, x)) - 55
    cast = cv2.GaussianBlur((away < 0) * 0.13, (0, 0), rim_mm / 25.4 * 150)
    grid = np.random.default_rng(3).normal(0, 1, [side // 9 for side in scan.shape])
    clouds = cv2.resize(grid, scan.shape[::-1], interpolation=cv2.INTER_CUBIC)
    plain = EvenLight().apply(Sheet(ppi=150, grey=scan)).grey
    inner = (away < -8) & (plain > 0.8 * np.iinfo(plain.dtype).max)
    kept = []
    for depth in (cast * (1 + 0.12 * clouds), cast):
        page = np.rint(scan * (1 - depth)).astype(scan.dtype)
        done = EvenLight().apply(Sheet(ppi=150, grey=page)).grey
        kept.append(1 - done[inner].mean() / plain[inner].mean())
    assert 0.11 < kept[0] < 0.15
    assert abs(kept[1]) < 0.02


@pytest.mark.parametrize(("rim_mm", "outlined"), [(0.08, False), (0.08, True), (0.3, True)])
@pytest.mark.parametrize("cloudy", [0.0, 0.2])
@pytest.mark.parametrize("middle", [12, 26])
def test_a_wash_that_a_gutter_joins_keeps_its_tone(middle, cloudy, rim_mm, outlined):
    # of the whole rim the gutter's is the softest, and all of it that an outline leaves to see
    tones, y, x = sheet_of((110, 95), tooth=2.0)
    right, down = x - middle, y - 38
    away = np.hypot(0.9 * right, down) + 2 * np.sin(3 * np.arctan2(down, right)) - 22
    clouds = cv2.GaussianBlur(np.random.default_rng(5).normal(0, 1, tones.shape), (0, 0), 25)
    dark = 0.15 * (1 + cloudy * clouds / clouds.std())
    tones *= 1 - dark * cv2.GaussianBlur((away < 0) * 1.0, (0, 0), rim_mm / 25.4 * TRUE_PPI)
    tones[outlined & (np.abs(away) < 0.3)] *= 0.2
    tones *= 1 - 0.34 * np.clip(1 - x / 7, 0, 1) ** 1.5
    done = evened(as_codes(tones), TRUE_PPI)
    inner = (away < -4) & (x > 8)
    assert np.median(np.abs(done - (1 - dark) * PAPER_TONE)[inner]) <= 2.5
    assert abs(peak_tone(done[(away > 6) & (x > 12)]) - PAPER_TONE) <= 1


@pytest.mark.parametrize("lid", [40, 150])
def test_a_gutter_is_followed_to_the_edge_of_a_sheet_on_a_lid(lid):
    tones, y, x = sheet_of((90, 80))
    tones *= 1 - 0.3 * np.clip(1 - (x - 6) / 7, 0, 1) ** 1.5
    away = x < 6 + 0.1 * np.sin(y)
    tones[away] = lid
    done = evened(as_codes(tones), TRUE_PPI)
    for near in (2.0, 4.0, 7.0):
        strip = (x > 6 + near) & (x < 7 + near)
        assert abs(peak_tone(done[strip]) - PAPER_TONE) <= 2.5


def test_a_gutter_beside_a_dense_drawing_is_light_on_paper():
    tones, y, x = sheet_of((110, 90), tooth=1.0)
    drawn = (x > 5) & (x < 70) & (np.abs((y + 0.7 * x) % 2.4 - 1.2) < 0.25)
    tones[drawn] *= 0.2
    tones *= 1 - 0.3 * np.clip(1 - x / 8, 0, 1) ** 1.3
    done = evened(as_codes(tones), TRUE_PPI)
    margin = (x > 1) & (x < 4)
    assert abs(peak_tone(done[margin]) - PAPER_TONE) <= 4


def test_hatching_is_neither_lightened_nor_does_it_pump_the_paper():
    tones, y, x = sheet_of((90, 90))
    inside = (x > 25) & (x < 65) & (y > 25) & (y < 65)
    line = np.abs((y + 0.6 * x) % 1.0 - 0.5) < 0.17
    tones[inside & line] *= 0.2
    done = evened(as_codes(tones), TRUE_PPI)
    ring = (x > 20) & (x < 70) & (y > 20) & (y < 70) & ~((x > 24) & (x < 66) & (y > 24) & (y < 66))
    assert abs(peak_tone(done[ring]) - PAPER_TONE) <= 1
    core = cv2.erode((inside & line).astype(np.uint8), np.ones((2, 2), np.uint8)) > 0
    assert abs(np.median(done[core]) - 0.2 * PAPER_TONE) <= 2


@pytest.mark.parametrize("along", ["row", "column"])
@pytest.mark.parametrize("brighter", [-0.1, 0.05, 0.1])
def test_a_long_straight_stroke_leaves_no_band_in_the_paper_beyond_its_end(brighter, along):
    y, x = np.indices((472, 394), dtype=float) * 25.4 / PPI
    light = 1 + brighter * np.exp(-((x - 95) / 12) ** 2 - ((y - 60) / 20) ** 2)
    scan = as_codes(215 * light, noise=3)
    scan[236:239, 24:323] = 45
    scan, turn = (scan, 0) if along == "row" else (np.rot90(scan), -1)
    beyond = np.rot90(evened(np.ascontiguousarray(scan)), turn)[:, 339:382]
    beside = np.concatenate([beyond[220:228], beyond[248:256]]).mean()
    assert abs(beyond[235:240].mean() - beside) < 0.7


def test_a_dark_surround_stays_dark():
    tones, y, x = sheet_of((110, 100))
    around = (y < 12) | (y > 100) | (x < 8) | (x > 90)
    tones[around] = 30
    done = evened(as_codes(tones, noise=3), TRUE_PPI)
    assert done[around].max() <= 60
    inner = (y > 14) & (y < 98) & (x > 10) & (x < 88)
    assert abs(peak_tone(done[inner]) - PAPER_TONE) <= 1


def test_threads_change_no_pixel():
    tones, y, _ = sheet_of((90, 90))
    tones[(y > 40) & (y < 41)] = 40
    plane, used = as_codes(tones), cv2.getNumThreads()
    try:
        done = []
        for threads in (1, 2, 4):
            cv2.setNumThreads(threads)
            done.append(evened(plane, TRUE_PPI))
    finally:
        cv2.setNumThreads(used)
    assert np.array_equal(done[0], done[1])
    assert np.array_equal(done[0], done[2])


def test_a_page_without_paper_is_left_as_it_is():
    dark = np.random.default_rng(3).integers(5, 35, (120, 90)).astype(np.uint8)
    assert np.array_equal(evened(dark), dark)


@pytest.mark.skipif(not REAL.exists(), reason="the real pages are not kept with the program")
@pytest.mark.parametrize(("name", "box"), [
    ("garlic.jpg", (300, 2600, 300, 2800)),  # a hard shadow falls across it
    ("ex10_writer0083.jpg", (2200, 3700, 400, 2500)),  # blank paper, the lamp falling off
])
def test_photographed_paper_is_even_where_it_is_bare(name, box):
    top, bottom, left, right = box
    photo = cv2.imread(str(REAL / name))[::2, ::2]
    done = evened(photo, 150)[top // 2 : bottom // 2, left // 2 : right // 2, 1]
    peaks = windows(done, np.ones(done.shape, bool), 150, side_mm=12)
    assert np.abs(np.median(peaks) - PAPER_TONE) <= 1
    assert (np.abs(peaks - PAPER_TONE) <= 3).mean() > 0.95
