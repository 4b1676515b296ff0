"""Grey out of colour, and code values against light."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from core.light import LUMA, grey_of, linear_to_srgb, rgb_to_grey, srgb_to_linear
from tests.strategies import DEPTHS, scans


@pytest.mark.parametrize("dtype", DEPTHS)
def test_neutral_colours_keep_their_value(dtype):
    value = np.arange(np.iinfo(dtype).max + 1).astype(dtype).reshape(16, -1)
    assert (rgb_to_grey(np.stack([value] * 3, axis=2)) == value).all()


@pytest.mark.parametrize("channel", range(3))
def test_one_weight_alone_takes_one_channel(channel):
    weights = tuple(65536 if index == channel else 0 for index in range(3))
    colour = np.random.default_rng(1).integers(0, 65536, (7, 5, 3)).astype(np.uint16)
    assert (rgb_to_grey(colour, weights) == colour[..., channel]).all()


@given(scans(colour=True))
def test_grey_is_the_weighted_sum_to_the_nearest_integer(sheet):
    exact = sheet.colour.astype(object) @ np.array(LUMA, dtype=object)
    assert (rgb_to_grey(sheet.colour) == (exact * 2 + 65536) // (2 * 65536)).all()


@given(scans(colour=True, most=40))
def test_grey_strip_by_strip_is_grey_at_once(sheet):
    assert (grey_of(sheet.colour) == rgb_to_grey(sheet.colour)).all()
    assert grey_of(sheet.colour).dtype == sheet.colour.dtype


@pytest.mark.parametrize("weights", [(65536, 1, 0), (65537, -1, 0), (0, 0, 0)])
def test_weights_that_do_not_add_up_are_refused(weights):
    with pytest.raises(ValueError, match="add up"):
        rgb_to_grey(np.zeros((1, 1, 3), np.uint8), weights)


def test_no_pixels_give_no_grey():
    assert grey_of(np.zeros((0, 4, 3), np.uint8)).shape == (0, 4)
    assert rgb_to_grey(np.zeros((4, 0, 3), np.uint16)).shape == (4, 0)


@given(st.floats(0, 1))
def test_light_there_and_back(code):
    assert_allclose(linear_to_srgb(srgb_to_linear(code)), code, atol=5e-8)


def test_every_16_bit_code_survives_linear_light():
    code = np.arange(65536)
    back = linear_to_srgb(srgb_to_linear(code / 65535)) * 65535
    assert (np.rint(back) == code).all()


def test_lighter_codes_are_more_light():
    assert (np.diff(srgb_to_linear(np.arange(65536) / 65535)) > 0).all()
    assert (np.diff(linear_to_srgb(np.arange(65536) / 65535)) > 0).all()


@pytest.mark.parametrize("shape", [(), (0,), (3,), (2, 3, 3)])
def test_conversions_keep_the_shape(shape):
    assert srgb_to_linear(np.zeros(shape)).shape == shape
    assert linear_to_srgb(np.zeros(shape)).shape == shape


def test_what_is_no_number_stays_none():
    assert np.isnan(srgb_to_linear(np.nan))
    assert np.isnan(linear_to_srgb(np.nan))
    assert srgb_to_linear(-0.5) < 0  # below black the straight foot goes on
