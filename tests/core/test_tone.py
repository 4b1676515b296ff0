"""The tone curve as a table, and tables applied."""

import math

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from core.matte import build_up_table
from core.tone import apply_table, complement, compose, tone_table
from tests.strategies import DEPTHS, depths, every_value

FULL = (255, 65535)
points = st.tuples(st.floats(0, 254), st.floats(1, 255)).filter(lambda p: p[0] < p[1])
middles = st.floats(1, 99)


def random_table(dtype, seed=3):
    full = np.iinfo(dtype).max
    return np.random.default_rng(seed).integers(0, full + 1, full + 1).astype(dtype)


@given(st.sampled_from(FULL), points, middles)
def test_the_curve_never_falls_and_ends_at_black_and_white(full, ends, middle):
    black, white = ends
    table = tone_table(full, black, white, middle)
    tone = np.arange(full + 1) * 255 / full
    assert (np.diff(table.astype(int)) >= 0).all()
    assert (table[tone <= black] == 0).all()
    assert (table[tone >= white] == full).all()
    assert table.shape == (full + 1,)
    assert table.dtype == (np.uint8 if full == 255 else np.uint16)


@pytest.mark.parametrize("full", FULL)
def test_points_at_the_ends_and_a_straight_middle_change_nothing(full):
    assert (tone_table(full, 0, 255) == np.arange(full + 1)).all()


@given(points, st.integers(2, 98))
def test_the_middle_is_the_tone_that_becomes_half(ends, middle):
    black, white = ends
    tone = black + (white - black) * middle / 100
    table = tone_table(65535, black, white, middle)
    below, above = math.floor(tone * 257), math.ceil(tone * 257)
    assert table[below] <= 32768
    assert table[above] >= 32767


def test_a_higher_middle_darkens_and_a_lower_one_lightens():
    straight = tone_table(255, 20, 230).astype(int)
    assert (tone_table(255, 20, 230, 70) <= straight).all()
    assert (tone_table(255, 20, 230, 30) >= straight).all()
    assert tone_table(255, 20, 230, 70)[125] < straight[125] < tone_table(255, 20, 230, 30)[125]


def test_half_values_round_up_as_worked_by_hand():
    # 100 to 200: tone 150 is half of 255 = 127.5, rounded up
    assert tone_table(255, 100, 200)[[100, 110, 150, 175, 200]].tolist() == [0, 26, 128, 191, 255]
    # middle 25: y = 1.5 x / (x + 0.5); 65535 * 24576 / 49151.5 and 65535 * 49152 / 65535.5
    assert tone_table(65535, 0, 255, 25)[[16384, 32768]].tolist() == [32768, 49152]


@given(points, middles)
def test_both_depths_have_one_curve(ends, middle):
    coarse = tone_table(255, *ends, middle).astype(float)
    fine = tone_table(65535, *ends, middle)[::257] / 257
    assert (np.abs(coarse - fine) <= 0.5 + 0.5 / 257 + 1e-9).all()


def test_fractions_of_a_tone_count():
    whole = tone_table(65535, 20, 230)
    assert (tone_table(65535, 20.25, 230) <= whole).all()
    assert (tone_table(65535, 20.25, 230) != whole).any()
    assert (tone_table(255, 20.4, 229.6) != tone_table(255, 20, 230)).any()


def test_a_white_point_above_white_never_reaches_it():
    assert tone_table(255, 0, 510)[255] == 128


@pytest.mark.parametrize("ends", [
    (100, 100), (200, 100), (math.nan, 200), (0, math.nan), (math.nan, math.nan),
    (-math.inf, 200), (0, math.inf), (math.inf, math.inf), (-math.inf, math.inf),
])
def test_points_out_of_order_are_refused(ends):
    with pytest.raises(ValueError, match="black point"):
        tone_table(255, *ends)


@pytest.mark.parametrize("middle", [0, 5e-324, 100, -1, 101, math.nan, math.inf])
def test_a_middle_outside_the_points_is_refused(middle):
    with pytest.raises(ValueError, match="middle"):
        tone_table(255, 0, 255, middle)


@example((100.0, math.nextafter(100.0, 101.0)), 50.0)
@example((0.0, 255.0), 1e-300)
@example((0.0, 255.0), 99.9999999)
@given(points, st.floats(1e-300, 99.9999999))
def test_points_a_hair_apart_and_extreme_middles_still_rise(ends, middle):
    assert (np.diff(tone_table(255, *ends, middle).astype(int)) >= 0).all()


@pytest.mark.parametrize("dtype", DEPTHS)
def test_a_complement_is_the_same_change_of_the_inverted_plane(dtype):
    table, plane = random_table(dtype), every_value(dtype)
    assert (complement(table)[np.invert(plane)] == np.invert(table[plane])).all()
    assert (complement(complement(table)) == table).all()
    assert complement(table).dtype == dtype


@pytest.mark.parametrize("dtype", DEPTHS)
def test_composed_tables_do_what_they_do_in_turn(dtype):
    first, second, third = (random_table(dtype, seed) for seed in (1, 2, 3))
    plane = every_value(dtype)
    assert (compose(first, second, third)[plane] == third[second[first[plane]]]).all()
    assert (compose(first) == first).all()


@given(st.data(), depths)
def test_applying_is_plain_indexing_at_every_shape(data, dtype):
    plane = data.draw(hnp.arrays(dtype, hnp.array_shapes(min_dims=0, max_dims=3, min_side=0)))
    table = random_table(dtype)
    done = apply_table(table, plane)
    assert done.shape == plane.shape
    assert done.dtype == dtype
    assert (done == table[plane]).all()


@pytest.mark.parametrize("dtype", DEPTHS)
@pytest.mark.parametrize("size", [1 << 16, (1 << 16) + 1, (1 << 16) + 2, (1 << 19) + 1, 1_100_003])
def test_applying_in_strips_and_pairs_is_plain_indexing(dtype, size):
    plane = np.random.default_rng(size).integers(0, np.iinfo(dtype).max + 1, size).astype(dtype)
    table = random_table(dtype)
    assert (apply_table(table, plane) == table[plane]).all()


@pytest.mark.parametrize("dtype", DEPTHS)
def test_applying_to_views_is_plain_indexing(dtype):
    large = np.random.default_rng(5).integers(0, 256, (601, 703, 3)).astype(dtype)
    table = random_table(dtype)
    for view in (large[..., 1], large[::2, 1::3, 0], large[::-1, :, 2].T,
                 large.reshape(-1)[1:400_000], large[5:5], large[:1, :1, 0]):
        before = view.copy()
        assert (apply_table(table, view) == table[view]).all()
        assert (view == before).all()


def test_the_result_can_be_written_to_without_harm():
    table = build_up_table(255, 2)
    first = apply_table(table, np.zeros(200_000, np.uint8))
    first[:] = 9
    assert (apply_table(table, np.zeros(200_000, np.uint8)) == 0).all()
