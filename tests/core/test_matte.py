"""Darkness to alpha, ink over a ground, build-up, the scan's own colour."""

import math
from decimal import Decimal, localcontext
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from core.matte import (
    build_up_table,
    lift_ink,
    lift_own,
    over,
    paper_codes,
    scale_alpha,
    to_depth,
    unmix,
)
from core.sheet import full_scale
from core.tone import tone_table
from tests.strategies import DEPTHS, depths, every_value, rgb

FULL = (255, 65535)
papers = st.tuples(*[st.floats(0, 255)] * 3) | rgb


@st.composite
def own_colour_scans(draw):
    """Random colours, mixtures with the paper, and the paper itself; and that paper."""
    dtype, paper = draw(depths), draw(papers)
    full = np.iinfo(dtype).max
    shape = (draw(st.integers(1, 5)), draw(st.integers(1, 5)))
    scan = draw(hnp.arrays(dtype, (*shape, 3)))
    share = draw(hnp.arrays(np.uint8, shape)).astype(np.int64)[..., None]
    mixed = (scan * share + np.array(paper_codes(paper, full)) * (255 - share)) // 255
    return mixed.astype(dtype), paper


@pytest.mark.parametrize("dtype", DEPTHS)
def test_ink_over_white_is_the_scan_bit_for_bit(dtype):
    """Fact of the trade (common practice, no source): the line art on white is the page."""
    grey = every_value(dtype)
    alpha = lift_ink(grey)
    assert (over(0, alpha, full_scale(grey)) == grey).all()
    assert alpha.dtype == dtype


@pytest.mark.parametrize("dtype", DEPTHS)
@given(st.floats(0, 200), st.floats(201, 255), st.floats(1, 99))
def test_toned_ink_over_white_is_the_toned_scan(dtype, black, white, middle):
    toned = tone_table(np.iinfo(dtype).max, black, white, middle)[every_value(dtype)]
    assert (over(0, lift_ink(toned), full_scale(toned)) == toned).all()


@pytest.mark.parametrize(("dtype", "half"), [(np.uint8, (127, 128)), (np.uint16, (32767, 32768))])
def test_half_grey_is_half_ink(dtype, half):
    """Fact of the trade (common practice, no source): 50 % grey is 50 % ink."""
    assert lift_ink(np.array(half, dtype)).tolist() == list(half[::-1])


@given(st.data(), depths)
def test_over_is_the_nearest_integer_for_planes_and_for_values(data, dtype):
    full = np.iinfo(dtype).max
    shape = data.draw(hnp.array_shapes(max_dims=2, max_side=4, min_side=0))
    ink, alpha, ground = (data.draw(hnp.arrays(dtype, shape)) for _ in range(3))
    exact = ink.astype(object) * alpha + ground.astype(object) * (full - alpha.astype(object))
    nearest = ((2 * exact + full) // (2 * full)).astype(dtype)
    assert (over(ink, alpha, ground) == nearest).all()
    one, other = (data.draw(st.integers(0, full)) for _ in range(2))
    filled = over(np.full(shape, one, dtype), alpha, np.full(shape, other, dtype))
    assert (over(one, alpha, other) == filled).all()


@pytest.mark.parametrize("dtype", DEPTHS)
def test_over_at_its_ends(dtype):
    full = np.iinfo(dtype).max
    ends = np.array([0, full], dtype)
    assert over(full, ends, full).tolist() == [full, full]  # the largest sum does not overflow
    assert over(0, ends, full).tolist() == [full, 0]
    assert over(ends, ends, ends[::-1]).tolist() == [full, full]


@pytest.mark.parametrize("full", FULL)
def test_the_line_laid_over_itself_twice(full):
    """Fact of the trade (common practice, no source): two coats are 1 - (1 - a)^2."""
    dtype = np.uint8 if full == 255 else np.uint16
    alpha = np.arange(full + 1).astype(dtype)
    table = build_up_table(full, 2)
    a = alpha.astype(object)
    nearest = (2 * (full * full - (full - a) ** 2) + full) // (2 * full)
    assert (table == nearest).all()
    # the line's alpha laid over a ground that has its alpha already
    twice = over(full, alpha, alpha)
    assert (np.abs(table.astype(int) - twice) <= 1).all()


@pytest.mark.parametrize("full", FULL)
def test_once_changes_nothing_and_more_only_adds(full):
    assert (build_up_table(full, 1) == np.arange(full + 1)).all()
    tables = [build_up_table(full, n).astype(int) for n in (0.1, 0.5, 1, 1.5, 2, 7, 20)]
    for less, more in pairwise(tables):
        assert (less <= more).all()
        assert less[1:-1].sum() < more[1:-1].sum()
    for table in tables:
        assert (np.diff(table) >= 0).all()
        assert (table[0], table[-1]) == (0, full)


@pytest.mark.parametrize("times", [0.1, 0.3, 0.5, 1.5, 2.2, 3, 5, 19.99, 20, math.pi])
@pytest.mark.parametrize("full", FULL)
def test_build_up_is_exact_in_decimals(full, times):
    alphas = np.unique(np.linspace(0, full, 256).astype(int))
    with localcontext() as context:
        context.prec = 60
        exact = [
            full * (1 - (Decimal(full - int(a)) / full) ** Decimal(times)) if a < full
            else Decimal(full) for a in alphas
        ]
        nearest = [int(value + Decimal("0.5")) for value in exact]
    assert build_up_table(full, times)[alphas].tolist() == nearest


def test_a_half_that_a_float_misses_is_decided_surely():
    # 255 (1 - (1 - a/255)^n) = 127.5 for n = log(1/2) / log(1 - a/255): next to a half
    for alpha in range(3, 250, 13):
        times = math.log(0.5) / math.log(1 - alpha / 255)
        with localcontext() as context:
            context.prec = 60
            exact = 255 * (1 - (Decimal(255 - alpha) / 255) ** Decimal(times))
            assert abs(exact - Decimal("127.5")) < Decimal("1e-9")
            assert build_up_table(255, times)[alpha] == int(exact + Decimal("0.5"))


@given(st.floats(0.1, 4.4), st.floats(1, 4.4))
def test_building_up_by_parts_is_building_up_at_once(first, second):
    steps = build_up_table(255, second)[build_up_table(255, first)].astype(int)
    once = build_up_table(255, first * second).astype(int)
    # the first rounding, at most a half, grows by the second curve's steepest rise
    assert (np.abs(steps - once) <= 0.5 * second + 1).all()


@pytest.mark.parametrize("times", [0, -1, math.nan, -math.inf])
def test_a_line_laid_down_no_times_is_refused(times):
    with pytest.raises(ValueError, match="more than 0"):
        build_up_table(255, times)


def test_a_line_laid_over_itself_for_ever_is_solid():
    assert build_up_table(255, math.inf).tolist() == [0] + [255] * 255


@given(own_colour_scans())
def test_own_colour_recomposes_over_its_paper(made):
    """The design allows 2 of 255; two roundings of at most a half can never reach it."""
    scan, paper = made
    full = full_scale(scan)
    alpha = lift_own(scan, paper)
    ink = unmix(scan, alpha, paper, (0, 0, 0))
    for channel, ground in enumerate(paper_codes(paper, full)):
        again = over(ink[..., channel], alpha, ground).astype(int)
        assert (np.abs(again - scan[..., channel]) <= 1).all()
    assert alpha.dtype == ink.dtype == scan.dtype
    assert alpha.shape == scan.shape[:2]


@given(own_colour_scans())
def test_the_inks_own_colour_is_the_nearest_that_explains_the_scan(made):
    scan, paper = made
    full = full_scale(scan)
    alpha = lift_own(scan, paper)
    ink = unmix(scan, alpha, paper, (0, 0, 0))
    for channel, ground in enumerate(paper_codes(paper, full)):
        for s, a, own in zip(scan[..., channel].ravel().tolist(), alpha.ravel().tolist(),
                             ink[..., channel].ravel().tolist(), strict=True):
            exact = ground + Fraction((s - ground) * full, a) if a else 0
            assert abs(own - exact) <= Fraction(1, 2)


def explained(pixel, paper, alpha, full):
    """Whether ink of this alpha can be any colour at all that gives the pixel over the paper."""
    if alpha == 0:
        return tuple(pixel) == tuple(paper)
    share = Fraction(alpha, full)
    inks = ((s - (1 - share) * p) / share for s, p in zip(pixel, paper, strict=True))
    return all(0 <= ink <= full for ink in inks)


@given(rgb, rgb)
def test_alpha_is_the_least_that_explains_all_three_channels(pixel, paper):
    least = next(a for a in range(256) if explained(pixel, paper, a, 255))
    assert lift_own(np.array([[pixel]], np.uint8), paper)[0, 0] == least


@given(st.tuples(*[st.integers(0, 65535)] * 3), rgb)
def test_at_16_bits_alpha_is_the_least_too(pixel, paper):
    ground = paper_codes(paper, 65535)
    alpha = int(lift_own(np.array([[pixel]], np.uint16), paper)[0, 0])
    assert explained(pixel, ground, alpha, 65535)
    assert alpha == 0 or not explained(pixel, ground, alpha - 1, 65535)


@given(rgb)
def test_bare_paper_is_clear_and_carries_the_given_colour(paper):
    scan = np.full((2, 2, 3), paper, np.uint8)
    alpha = lift_own(scan, paper)
    assert (alpha == 0).all()
    assert (unmix(scan, alpha, paper, (9, 8, 7)) == (9, 8, 7)).all()
    deep = to_depth(scan, 16)
    ink = unmix(deep, lift_own(deep, paper), paper, (9, 8, 7))
    assert (ink == (9 * 257, 8 * 257, 7 * 257)).all()


def test_white_and_black_paper_leave_no_division_by_nothing():
    scan = every_value(np.uint8)[..., None].repeat(3, axis=2)
    assert (lift_own(scan, (255, 255, 255)) == 255 - scan[..., 0]).all()
    assert (lift_own(scan, (0, 0, 0)) == scan[..., 0]).all()


@given(papers)
def test_paper_codes_are_near_and_within_the_depth(paper):
    for full in FULL:
        for tone, code in zip(paper, paper_codes(paper, full), strict=True):
            assert 0 <= code <= full
            assert abs(code - tone * full / 255) <= 0.5 + 1e-9


def test_paper_codes_outside_the_scale_are_brought_in():
    assert paper_codes((-3.0, 255.4, 999.0), 255) == (0, 255, 255)


@given(st.data(), depths)
def test_untoned_grey_keeps_alpha_and_white_grey_clears_it(data, dtype):
    alpha, grey = (data.draw(hnp.arrays(dtype, (3, 4))) for _ in range(2))
    full = full_scale(grey)
    kept = scale_alpha(alpha, grey, grey)
    assert (kept == np.where(grey == full, 0, alpha)).all()
    assert (scale_alpha(alpha, np.full_like(grey, full), grey) == 0).all()


@given(st.data(), depths)
def test_alpha_is_scaled_by_the_change_of_darkness(data, dtype):
    alpha, grey, plain = (data.draw(hnp.arrays(dtype, (3, 4))) for _ in range(3))
    full = full_scale(grey)
    done = scale_alpha(alpha, grey, plain)
    for a, g, p, scaled in zip(*(x.ravel().tolist() for x in (alpha, grey, plain, done)),
                               strict=True):
        exact = Fraction(a * (full - g), max(full - p, 1))
        assert scaled == min(full, math.floor(exact + Fraction(1, 2)))


def test_a_scan_a_shade_off_white_stays_a_shade_off():
    # luma rounds (255, 255, 253) to white, but a grey of blue alone sees it
    one = np.array([[2]], np.uint8)
    scaled = scale_alpha(one, np.array([[253]], np.uint8), np.array([[255]], np.uint8))
    assert scaled[0, 0] == 4


@pytest.mark.parametrize("shape", [(0, 3), (1, 1), (5, 1)])
@pytest.mark.parametrize("dtype", DEPTHS)
def test_any_shape_of_page_is_lifted(shape, dtype):
    scan = np.zeros((*shape, 3), dtype)
    alpha = lift_own(scan, (255, 255, 255))
    assert alpha.shape == shape
    assert unmix(scan, alpha, (255, 255, 255), (0, 0, 0)).shape == (*shape, 3)
    assert scale_alpha(alpha, alpha, alpha).shape == shape
    assert over(0, alpha, 255).shape == shape


@pytest.mark.parametrize("dtype", DEPTHS)
def test_a_depth_asked_for_and_had_is_left_alone(dtype):
    plane = every_value(dtype)
    assert to_depth(plane, np.iinfo(dtype).bits) is plane


def test_8_bits_come_back_through_16():
    plane = every_value(np.uint8)
    assert (to_depth(to_depth(plane, 16), 8) == plane).all()
    assert to_depth(np.zeros((0, 2, 3), np.uint8), 16).shape == (0, 2, 3)
