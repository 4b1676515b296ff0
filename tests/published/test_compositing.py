"""Ink over a ground, against the published formulas.

T. Porter and T. Duff, "Compositing digital images", SIGGRAPH 1984, p. 256: premultiplied
c = cA FA + cB FB, and for *over* FA = 1, FB = 1 - alphaA. W3C Compositing and Blending Level 1,
5.1, simple alpha compositing: co = Cs as + Cb ab (1 - as), ao = as + ab (1 - as).
"""

from fractions import Fraction

import numpy as np
import pytest

from core.matte import over

SOME = (0, 1, 2, 64, 100, 127, 128, 200, 253, 254, 255)


def porter_duff_over(ink, alpha, ground):
    """The whole operator on premultiplied (colour, alpha) pairs of 0-1; the ground is opaque."""
    a = (ink * alpha, alpha)
    b = (ground * 1, Fraction(1))
    factor_a, factor_b = Fraction(1), 1 - a[1]
    colour, cover = (a[i] * factor_a + b[i] * factor_b for i in range(2))
    assert cover == 1  # an opaque ground stays opaque, so straight and premultiplied are one
    return colour


@pytest.mark.parametrize("ground", SOME)
@pytest.mark.parametrize("ink", SOME)
def test_8_bits_are_porter_duff_over_to_the_nearest_integer(ink, ground):
    done = over(ink, np.arange(256, dtype=np.uint8), ground)
    for alpha in range(256):
        exact = 255 * porter_duff_over(*(Fraction(v, 255) for v in (ink, alpha, ground)))
        assert abs(done[alpha] - exact) < Fraction(1, 2)  # 255 is odd: there are no ties


@pytest.mark.parametrize("ground", [0, 1, 32767, 32768, 65535])
@pytest.mark.parametrize("ink", [0, 1, 32767, 32768, 65535])
def test_16_bits_are_porter_duff_over_to_the_nearest_integer(ink, ground):
    alphas = np.unique(np.linspace(0, 65535, 700).astype(np.uint16))
    done = over(ink, alphas, ground)
    for alpha, value in zip(alphas.tolist(), done.tolist(), strict=True):
        exact = 65535 * porter_duff_over(*(Fraction(v, 65535) for v in (ink, alpha, ground)))
        assert abs(value - exact) < Fraction(1, 2)


def test_every_8_bit_case_is_the_w3c_formula():
    """co = Cs as + Cb (1 - as) in double precision, which is exact enough to round by."""
    alpha, ground = np.indices((256, 256)).astype(np.uint8)
    for ink in range(0, 256, 5):
        share = alpha / 255
        formula = np.rint(255 * (ink / 255 * share + ground / 255 * (1 - share)))
        assert np.array_equal(over(ink, alpha, ground), formula)


def test_values_worked_by_hand():
    """Red at 40 % over a blue ground, Cs (1, 0, 0), as 0.4, Cb (0, 0, 1): co (0.4, 0, 0.6)."""
    done = [int(over(ink, np.array([102], np.uint8), ground)[0])
            for ink, ground in ((255, 0), (0, 0), (0, 255))]
    assert done == [102, 0, 153]
    # black at 25 % over white: 0.75 of 255 is 191.25, of 65535 is 49151.25 (alpha 16384 / 65535)
    assert over(0, np.array([64], np.uint8), 255).tolist() == [191]
    assert over(0, np.array([16384], np.uint16), 65535).tolist() == [49151]
