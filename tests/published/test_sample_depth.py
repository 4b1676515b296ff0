"""Portable Network Graphics (PNG) Specification, third edition, 13.12, sample depth rescaling."""

import numpy as np

from core.matte import to_depth


def test_16_bits_to_8_is_the_linear_equation():
    """output = floor((input * MAXOUTSAMPLE / MAXINSAMPLE) + 0.5), for every value."""
    value = np.arange(65536)
    rule = (2 * value * 255 + 65535) // (2 * 65535)  # the same in integers
    assert np.array_equal(to_depth(value.astype(np.uint16), 8), rule)


def test_8_bits_to_16_is_the_linear_equation_and_replicates_the_bits():
    value = np.arange(256)
    done = to_depth(value.astype(np.uint8), 16)
    assert np.array_equal(done, (2 * value * 65535 + 255) // (2 * 255))
    assert np.array_equal(done, value << 8 | value)  # "left bit replication", exact here


def test_colour_and_alpha_go_by_the_same_rule():
    plane = np.arange(65536).astype(np.uint16).reshape(128, -1)[:, :510].reshape(-1, 170, 3)
    for channel in range(3):
        assert np.array_equal(to_depth(plane, 8)[..., channel], to_depth(plane[..., channel], 8))
