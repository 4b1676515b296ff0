"""The paper's own noise, as it is measured on a page."""

import numpy as np
import pytest

from app.filters.noise import measure_ground
from core.units import mm_to_px


@pytest.mark.parametrize("tone", [229.5, 229.75, 230.0, 230.25])
@pytest.mark.parametrize(("noise", "ppi"), [(1.5, 300), (2.5, 300), (3, 600), (5, 600)])
def test_noise_of_less_than_a_tone_is_measured_whatever_the_papers_tone(tone, noise, ppi):
    """The mean of n values deviates by their deviation over the root of n (any textbook).

    To it comes a twelfth of a squared tone of each value's rounding (Bennett, "Spectra of
    quantized signals", Bell System Technical Journal 27 (1948), from memory).
    """
    side = round(mm_to_px(60, ppi))
    page = np.random.default_rng(3).normal(tone, noise, (side, side))
    ground = measure_ground(page.round().astype(np.uint8), ppi)
    expected = np.sqrt(noise**2 + 1 / 12) / (ppi / 150)
    assert ground.noise == pytest.approx(expected, rel=0.05)
    assert ground.paper == pytest.approx(tone, abs=0.03)


@pytest.mark.parametrize("noise", [1.5, 2.5, 5])
def test_noise_is_the_same_at_8_and_at_16_bits(noise):
    page = np.random.default_rng(4).normal(228.4, noise, (700, 700))
    eight = measure_ground(page.round().astype(np.uint8), 300)
    sixteen = measure_ground((page * 257).round().astype(np.uint16), 300)
    assert eight.noise == pytest.approx(sixteen.noise, rel=0.04)
    assert eight.paper == pytest.approx(sixteen.paper, abs=0.03)


def test_squared_paper_is_measured_in_many_small_blocks_rather_than_in_one_or_two():
    """A block of 4 mm lies clear of the lines of 4.2 mm squares only by chance."""
    page = np.random.default_rng(5).normal(230, 3, (900, 900))
    lines = np.arange(20, 900, mm_to_px(4.2, 300)).astype(int)
    for width in range(3):
        page[lines[lines < 900 - width] + width] -= 60
        page[:, lines[lines < 900 - width] + width] -= 60
    ground = measure_ground(page.clip(0, 255).round().astype(np.uint8), 300)
    assert len(ground.bare) >= 4
    assert ground.side < mm_to_px(4, ground.ppi)
    assert ground.noise == pytest.approx(np.sqrt(9 + 1 / 12) / 2, rel=0.1)
