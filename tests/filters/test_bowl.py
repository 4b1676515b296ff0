"""A bowl of light fitted to paper, some of which lies in a shadow."""

import numpy as np
import pytest

from app.filters.bowl import fit_bowl

SHAPE = (200, 150)


def page_of(share, depth, noise=0.006):
    """A lamp's fall-off, the same with so much of the page in a shadow so deep: logarithms."""
    down, across = (np.linspace(-1, 1, side) for side in SHAPE)
    light = -0.08 * (down[:, None] - 0.2) ** 2 - 0.05 * across**2 - 0.03 * across
    slope = down[:, None] + 0.4 * across
    shade = depth * (slope > np.quantile(slope, 1 - share))
    grain = np.random.default_rng(6).normal(0, noise, SHAPE)
    return light, (light - shade + grain).astype(np.float32)


@pytest.mark.parametrize("share", [0.25, 0.5, 0.7])
@pytest.mark.parametrize("depth", [0.1, 0.2, 0.4])
def test_a_bowl_lies_in_the_light_where_up_to_most_of_a_page_lies_in_a_shadow(share, depth):
    light, tone = page_of(share, depth)
    bowl = fit_bowl(tone, np.arange(tone.size), lighter=True)
    assert np.abs(bowl - light).max() < 0.015


def test_without_a_shadow_it_is_the_bowl_that_most_of_the_page_lies_close_to():
    light, tone = page_of(0, 0)
    for lighter in (False, True):
        assert np.abs(fit_bowl(tone, np.arange(tone.size), lighter=lighter) - light).max() < 0.01
