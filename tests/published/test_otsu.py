"""N. Otsu, "A threshold selection method from gray-level histograms" (IEEE Trans. SMC 9, 1979),
against scikit-image's threshold_otsu on the pictures that lie in scikit-image's own wheel.
"""

from pathlib import Path

import numpy as np
import pytest
import skimage
from PIL import Image
from skimage.filters import threshold_otsu

from core.histogram import count_tones, find_peaks, otsu_threshold
from core.light import grey_of

DATA = Path(skimage.__file__).parent / "data"
GREY = ("camera", "page", "coins", "text", "moon", "brick", "grass", "gravel", "cell",
        "clock_motion", "horse")
COLOUR = ("astronaut", "chelsea", "coffee", "color")


def shipped(name):
    """A picture of the wheel as a grey plane."""
    with Image.open(DATA / f"{name}.png") as picture:
        if name in COLOUR:
            return grey_of(np.asarray(picture.convert("RGB")))
        return np.asarray(picture.convert("L"))


@pytest.mark.parametrize("name", GREY + COLOUR)
def test_8_bit_pictures_part_where_scikit_image_parts_them(name):
    plane = shipped(name)
    assert otsu_threshold(count_tones(plane)) == threshold_otsu(plane)


def exact_threshold(counts):
    """The first maximum of equation 18, the variance between the classes, in whole numbers."""
    total, sum_of_all = int(counts.sum()), int((counts * np.arange(len(counts))).sum())
    best, found, below, moment = (0, 1), 0, 0, 0
    for value in np.flatnonzero(counts).tolist()[:-1]:
        below += int(counts[value])
        moment += int(counts[value]) * value
        between = (sum_of_all * below - moment * total) ** 2, below * (total - below)
        if between[0] * best[1] > best[0] * between[1]:
            best, found = between, value
    return found


@pytest.mark.parametrize("name", ["camera", "page", "coins", "text"])
def test_16_bit_pictures_part_where_the_paper_parts_them(name):
    """In whole numbers; scikit-image sums the counts in 32-bit floats and may be a little off."""
    fine = np.random.default_rng(3).integers(0, 257, shipped(name).shape)
    plane = (shipped(name) * np.uint16(256) + fine).astype(np.uint16)
    counts = count_tones(plane)
    assert otsu_threshold(counts) == exact_threshold(counts)
    assert abs(otsu_threshold(counts) - int(threshold_otsu(plane))) < 8


def test_the_page_of_print_has_its_paper_above_and_its_ink_below_the_threshold():
    counts = count_tones(shipped("page"))
    peaks = find_peaks(counts)
    assert peaks.ink is None or peaks.ink < otsu_threshold(counts) < peaks.paper
