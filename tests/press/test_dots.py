"""Dot area from densities, and gain; the examples are worked by hand from the formulas."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.press.dots import MOST_GAIN, murray_davies, printed_cover, yule_nielsen

COVERS = st.floats(0, 1)


@pytest.mark.parametrize(("tint", "solid", "percent"), [
    # (1 - 10^-Dt) / (1 - 10^-Ds), Murray 1936; each also worked out by hand to a tenth
    (0.0, 1.5, 0.0), (1.5, 1.5, 100.0), (0.30, 1.50, 51.5), (0.54, 1.50, 73.5),
    (0.22, 1.40, 41.4),
])
def test_murray_davies_worked_examples(tint, solid, percent):
    assert float(murray_davies(tint, solid)) * 100 == pytest.approx(percent, abs=0.05)


@pytest.mark.parametrize(("tint", "solid", "n", "percent"), [
    # Yule and Nielsen 1951, n as read off coated (1.7) and uncoated (2.7) paper in practice
    (0.30, 1.50, 1.0, 51.5), (0.30, 1.50, 1.7, 38.4), (0.30, 1.50, 2.7, 31.3),
])
def test_yule_nielsen_worked_examples(tint, solid, n, percent):
    assert float(yule_nielsen(tint, solid, n)) * 100 == pytest.approx(percent, abs=0.05)


def test_a_large_n_gives_the_share_of_the_density():
    # the limit of (1 - 10^(-Dt/n)) / (1 - 10^(-Ds/n)) is Dt / Ds
    assert float(yule_nielsen(0.3, 1.5, 1e6)) == pytest.approx(0.2, abs=1e-5)


def test_shapes_go_together():
    assert murray_davies(np.zeros((4, 3)), 1.2).shape == (4, 3)
    assert murray_davies(np.zeros((4, 1)), np.ones(5)).shape == (4, 5)


@pytest.mark.parametrize(("tint", "solid", "n"), [
    (0.3, 0.0, 1), (0.3, -1, 1), (0.3, 1.5, 0.5), (np.nan, 1.5, 1), (0.3, np.inf, 1),
    (0.3, 1.5, np.nan),
])
def test_what_is_no_density_is_refused(tint, solid, n):
    with pytest.raises(ValueError, match=r"solid|n is"):
        yule_nielsen(tint, solid, n)


@given(COVERS, st.floats(0, MOST_GAIN))
def test_no_gain_takes_away_or_passes_the_solid(cover, gain):
    assert cover <= float(printed_cover(cover, gain)) <= 1 + 1e-12


@given(st.floats(0, MOST_GAIN))
def test_the_gain_is_that_of_the_middle_and_rises(gain):
    curve = printed_cover(np.linspace(0, 1, 101), gain)
    assert curve[50] == pytest.approx(0.5 + gain / 100)
    assert curve[0] == 0
    assert curve[-1] == pytest.approx(1)
    assert (np.diff(curve) >= -1e-12).all()


def test_too_much_gain_is_refused():
    with pytest.raises(ValueError, match="gain"):
        printed_cover(0.5, MOST_GAIN + 1)
