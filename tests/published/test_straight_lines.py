"""Straighten against lines of known angle, drawn by scikit-image and found without OpenCV."""

import numpy as np
import pytest
from scipy import ndimage
from skimage.draw import line_aa
from skimage.transform import hough_line, hough_line_peaks

from app.filters.straighten import turn_plane

PAPER, HEIGHT, WIDTH = 230, 240, 320


def line_at(degrees):
    """A page with a black line through its middle, its right end ``degrees`` below level."""
    page = np.full((HEIGHT, WIDTH), float(PAPER))
    rise = np.tan(np.radians(degrees)) * 120
    y, x = (HEIGHT - 1) / 2, (WIDTH - 1) / 2
    rows, columns, cover = line_aa(round(y - rise), round(x - 120), round(y + rise), round(x + 120))
    page[rows, columns] *= 1 - cover
    return np.rint(page).astype(np.uint8)


def angle_of(page, margin=60):
    """The line's angle below level: a straight fit through each column's centre of ink."""
    ink = PAPER - page[:, margin:-margin].astype(float)
    ink[ink < 20] = 0
    centres = (ink * np.arange(HEIGHT)[:, None]).sum(axis=0) / ink.sum(axis=0)
    return np.degrees(np.arctan(np.polyfit(np.arange(centres.size), centres, 1)[0]))


@pytest.mark.parametrize("degrees", [-10, -3, -0.5, 0.4, 2.5, 7, 10])
def test_a_level_line_turns_clockwise_by_the_angle(degrees):
    """Clockwise as the page is seen: the right end goes down."""
    assert angle_of(turn_plane(line_at(0), degrees)) == pytest.approx(degrees, abs=0.05)


@pytest.mark.parametrize("degrees", [-8, -2, 1, 5])
def test_a_tilted_line_is_made_level(degrees):
    tilted = line_at(degrees)
    before = angle_of(tilted)  # whole pixels at its ends: near the angle asked for
    assert before == pytest.approx(degrees, abs=0.25)
    assert angle_of(turn_plane(tilted, -before)) == pytest.approx(0, abs=0.05)


def test_the_hough_transform_sees_the_same_turn():
    """P. V. C. Hough's transform as scikit-image has it, in steps of a tenth of a degree."""
    tested = np.radians(np.arange(84, 96, 0.1))
    dark = turn_plane(line_at(0), 3) < 150
    _, (found, *_), _ = hough_line_peaks(*hough_line(dark, tested), num_peaks=1)
    assert np.degrees(found) - 90 == pytest.approx(3, abs=0.2)


@pytest.mark.parametrize("degrees", [-6, 1.7])
def test_a_smooth_page_turns_as_scipy_turns_it(degrees):
    y, x = np.indices((HEIGHT, WIDTH), dtype=float)
    page = np.rint(150 + 60 * np.sin(x / 19) * np.cos(y / 23)).astype(np.uint8)
    other = ndimage.rotate(page.astype(float), -degrees, reshape=False, order=3)
    inside = (slice(40, -40), slice(40, -40))
    assert np.abs(turn_plane(page, degrees)[inside] - other[inside]).max() <= 2.5
