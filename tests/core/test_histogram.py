"""Counts, and the peaks in them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from core.histogram import count_tones, find_peaks, fold_counts, otsu_threshold
from core.matte import to_depth
from tests.strategies import DEPTHS, depths


def page(paper=228.0, noise=3.0, ink=30.0):
    """Paper of normal noise with strokes of normal noise on it, uint8."""
    random = np.random.default_rng(1)
    plane = random.normal(paper, noise, (300, 400))
    drawn = random.random(plane.shape) < 0.06
    plane[drawn] = random.normal(ink, 6, int(drawn.sum()))
    return np.clip(np.rint(plane), 0, 255).astype(np.uint8)


@given(st.data(), depths)
def test_counts_are_numpys_own(data, dtype):
    plane = data.draw(hnp.arrays(dtype, hnp.array_shapes(max_dims=3, min_side=0)))
    full = np.iinfo(dtype).max
    assert (count_tones(plane) == np.bincount(plane.ravel(), minlength=full + 1)).all()


@pytest.mark.parametrize("dtype", DEPTHS)
@pytest.mark.parametrize("size", [1 << 18, (1 << 18) + 1, 1_200_001])
def test_counts_in_pairs_and_strips_are_numpys_own(dtype, size):
    full = np.iinfo(dtype).max
    plane = np.random.default_rng(size).integers(0, full + 1, size).astype(dtype)
    counts = count_tones(plane)
    assert (counts == np.bincount(plane, minlength=full + 1)).all()
    assert counts.dtype == np.int64
    assert (count_tones(plane[1:]) == np.bincount(plane[1:], minlength=full + 1)).all()


def test_counts_of_views():
    large = np.random.default_rng(2).integers(0, 256, (700, 800, 3)).astype(np.uint8)
    for view in (large[..., 1], large[::-2, 1::3, 2], large[..., 0].T, large.reshape(-1)[1:]):
        assert (count_tones(view) == np.bincount(view.ravel(), minlength=256)).all()


@given(hnp.arrays(np.uint16, hnp.array_shapes(max_dims=2, max_side=20)))
def test_folding_counts_is_counting_at_8_bits(plane):
    assert (fold_counts(count_tones(plane)) == count_tones(to_depth(plane, 8))).all()


def test_folding_8_bit_counts_changes_nothing():
    counts = count_tones(page())
    assert fold_counts(counts) is counts


@given(hnp.arrays(np.uint8, st.integers(1, 60)))
def test_otsu_leaves_the_least_spread_within_the_classes(values):
    def spread(split):
        classes = [values[values <= split], values[values > split]]
        return sum(part.size * part.astype(float).var() for part in classes if part.size)

    best = min(spread(split) for split in range(256))
    assert spread(otsu_threshold(count_tones(values))) <= best + 1e-6 * (1 + best)


def test_otsu_of_one_value_or_none_is_0():
    assert otsu_threshold(count_tones(np.full(9, 200, np.uint8))) == 0
    assert otsu_threshold(count_tones(np.array([7], np.uint16))) == 0


@pytest.mark.parametrize("paper", [120.0, 180.0, 228.0, 240.0])
@pytest.mark.parametrize("noise", [1.5, 3.0, 6.0])
@pytest.mark.parametrize("ink", [20.0, 45.0])
def test_peaks_are_found_where_they_were_put(paper, noise, ink):
    peaks = find_peaks(count_tones(page(paper, noise, ink)))
    assert abs(peaks.paper - paper) < 1
    assert abs(peaks.noise - noise) < 0.15 * noise + 0.3
    assert abs(peaks.ink - ink) < 2


def test_pale_strokes_beside_the_papers_peak_are_no_noise_of_it():
    random = np.random.default_rng(5)
    plane = random.normal(228, 3, (300, 400))
    pale = random.random(plane.shape) < 0.3
    plane[pale] = random.normal(220, 4, int(pale.sum()))  # they widen the dark side alone
    peaks = find_peaks(count_tones(np.rint(plane).astype(np.uint8)))
    assert abs(peaks.noise - 3) < 0.4


def test_paper_cut_off_by_white_is_measured_on_its_dark_side():
    peaks = find_peaks(count_tones(page(paper=252, noise=4)))
    assert abs(peaks.paper - 252) < 3.5
    assert 2 < peaks.noise < 6


@pytest.mark.parametrize("value", [0, 1, 128, 231, 253, 255])
def test_a_page_of_one_tone_is_paper_without_noise_or_ink(value):
    peaks = find_peaks(count_tones(np.full((20, 30), value, np.uint8)))
    assert abs(peaks.paper - value) < 0.01
    assert peaks.noise < 0.5
    assert peaks.ink is None


def test_paper_one_tone_below_white_is_read_to_within_a_tone():
    # mirroring the counts at white keeps a peak that is cut off there, and draws this one to it
    peaks = find_peaks(count_tones(np.full((20, 30), 254, np.uint8)))
    assert abs(peaks.paper - 254) <= 1


def test_pencil_without_a_peak_of_its_own_has_no_ink_peak():
    random = np.random.default_rng(3)
    plane = random.normal(228, 3, (300, 400))
    pencil = random.random(plane.shape) < 0.1
    plane[pencil] -= np.abs(random.normal(0, 45, int(pencil.sum())))
    assert find_peaks(count_tones(np.clip(plane, 0, 255).astype(np.uint8))).ink is None


def test_gaps_that_a_tone_curve_left_in_the_counts_do_not_move_the_peaks():
    plain = page(paper=226, noise=4)
    gapped = plain // 2 * 2
    peaks, other = find_peaks(count_tones(plain)), find_peaks(count_tones(gapped))
    assert abs(peaks.paper - other.paper) < 1.1
    assert abs(peaks.noise - other.noise) < 0.15 * peaks.noise + 0.3


def test_both_depths_show_the_same_peaks():
    plain = page()
    assert find_peaks(count_tones(plain)) == find_peaks(count_tones(to_depth(plain, 16)))


def test_many_more_pixels_of_the_same_page_move_nothing():
    counts = count_tones(page())
    assert find_peaks(counts * 1000) == find_peaks(counts)


@given(hnp.arrays(np.int64, 256, elements=st.integers(0, 10**9), fill=st.just(0)))
def test_any_counts_give_peaks_within_the_scale(counts):
    counts[100] += 1
    peaks = find_peaks(counts)
    assert 0 <= peaks.paper <= 255
    assert 0 <= peaks.noise <= 255
    if peaks.ink is not None:
        assert 0 <= peaks.ink <= 255


def test_no_pixels_have_no_peaks():
    with pytest.raises(ValueError, match="without pixels"):
        find_peaks(np.zeros(256, np.int64))
