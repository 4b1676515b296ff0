"""Real scans and photographs, where the folder of them stands beside the project."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageOps

from app.pages.read import read
from app.pages.resolution import Ppi
from tests.pages.read_making import pixels

FOLDER = Path(__file__).resolve().parents[3] / "shared" / "real" / "pages"
PAGES = sorted(FOLDER.glob("*.*")) if FOLDER.is_dir() else []

pytestmark = pytest.mark.skipif(not PAGES, reason="no real pages in ../shared/real/pages")


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.name)
def test_real_pages_are_read_as_another_decoder_reads_them(path):
    page = pixels(path, rows=128, given=Ppi(300))
    with Image.open(path) as picture:
        judge = np.asarray(ImageOps.exif_transpose(picture))
        told = picture.info.get("icc_profile")
    assert page.shape == judge.shape
    if told is None:
        assert np.array_equal(page, judge)
    else:  # a profile moves the tones, but a drawing stays the same drawing
        assert abs(page.astype(int) - judge).mean() < 10


def test_the_flatbed_pages_state_their_resolution():
    """The README of the folder names those with a true 600 and 300 dpi."""
    stated = {"ex01_writer0002.jpg": 600, "ex06_writer0085.jpg": 600, "ex02_writer0006.jpg": 300,
              "ex10_writer0048.jpg": 300}  # fmt: skip
    for name, ppi in stated.items():
        assert read(FOLDER / name).ppi == ppi
