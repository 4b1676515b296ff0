"""Luma of ITU-R BT.601-7, 2.5.1, 0.299 R + 0.587 G + 0.114 B, against Pillow's own conversion."""

import numpy as np
from PIL import Image

from core.light import LUMA, grey_of, rgb_to_grey


def test_every_8_bit_colour_is_pillows_grey_exactly():
    green, blue = np.indices((256, 256)).astype(np.uint8)
    for red in range(256):
        colour = np.stack([np.full_like(green, red), green, blue], axis=2)
        pillow = np.asarray(Image.fromarray(colour).convert("L"))
        assert np.array_equal(grey_of(colour), pillow)


def test_the_weights_are_the_recommendations_to_the_nearest_65536th():
    assert [round(w * 65536) for w in (0.299, 0.587, 0.114)] == list(LUMA)


def test_16_bit_luma_is_the_recommendations_formula():
    colour = np.random.default_rng(1).integers(0, 65536, (200, 200, 3)).astype(np.uint16)
    formula = colour @ np.array((0.299, 0.587, 0.114))
    # the weights' own rounding is at most 0.4 of 65,536ths in sum: 0.8 at full scale
    assert np.abs(rgb_to_grey(colour) - formula).max() < 0.5 + 0.8
