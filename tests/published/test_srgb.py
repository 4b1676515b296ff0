"""sRGB against IEC 61966-2-1:1999, 5.2, and against scikit-image's own conversion."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from skimage.color import rgb2xyz, xyz2rgb

from core.light import linear_to_srgb, srgb_to_linear


def iec_to_linear(code):
    """Equations 5 and 6, as they are printed."""
    return code / 12.92 if code <= 0.04045 else ((code + 0.055) / 1.055) ** 2.4


def iec_to_code(light):
    """Equations 9 and 10, as they are printed."""
    return 12.92 * light if light <= 0.0031308 else 1.055 * light ** (1 / 2.4) - 0.055


def test_every_8_bit_code_is_the_standards():
    codes = np.arange(256) / 255
    assert_allclose(srgb_to_linear(codes), [iec_to_linear(c) for c in codes], rtol=1e-14)


def test_light_of_a_fine_scale_is_the_standards():
    light = np.arange(1001) / 1000
    assert_allclose(linear_to_srgb(light), [iec_to_code(v) for v in light], rtol=1e-14)


def test_the_knee_belongs_to_the_straight_foot_and_the_branches_meet_there():
    above = np.nextafter(0.04045, 1)
    assert srgb_to_linear(0.04045) == 0.04045 / 12.92
    assert srgb_to_linear(above) == ((above + 0.055) / 1.055) ** 2.4
    assert linear_to_srgb(0.0031308) == 0.0031308 * 12.92
    # the standard's rounded constants leave a step of less than 1e-7 at the knee
    assert abs(srgb_to_linear(above) - srgb_to_linear(0.04045)) < 1e-7
    light = np.nextafter(0.0031308, 1)
    assert abs(linear_to_srgb(light) - linear_to_srgb(0.0031308)) < 1e-6
    assert abs(srgb_to_linear(0.04045) - 0.0031308) < 1e-7


@pytest.mark.parametrize(("code", "light"), [
    (0, 0.0), (1, 0.000303527), (10, 0.003035270), (11, 0.003346536), (128, 0.215860500),
    (188, 0.502886458), (255, 1.0),
])
def test_codes_as_tables_print_them(code, light):
    """Values from memory, to nine places; 10 and 11 are the codes beside the knee."""
    assert float(srgb_to_linear(code / 255)) == pytest.approx(light, abs=6e-10)
    assert round(float(linear_to_srgb(light)) * 255, 4) == code


def test_scikit_image_has_the_same_curve():
    grey = np.arange(256)[:, None, None] / 255 * np.ones((1, 1, 3))
    white = rgb2xyz(np.ones((1, 1, 3)))[0, 0, 1]
    assert_allclose(srgb_to_linear(grey[..., 0]), rgb2xyz(grey)[..., 1] / white, atol=1e-7)
    assert_allclose(linear_to_srgb(rgb2xyz(grey)[..., 1] / white), xyz2rgb(rgb2xyz(grey))[..., 1],
                    atol=1e-6)
