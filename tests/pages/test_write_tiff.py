"""The line and the print as TIFF: read by tifffile, Pillow, OpenCV; TIFF 6.0 and Adobe's notes."""

import io
import json

import cv2
import numpy as np
import pytest
import tifffile
from PIL import ImageCms

from app.pages import tiff
from app.pages.renditions import Line, Print
from core.fault import Refused
from tests.pages.writing import BROWN, STEPS, drawn, opened, over_ground, rgba_of, write

SIZES = [(1, 1), (1, 40), (40, 1), (128, 9), (129, 9), (400, 61)]


def tags_of(path):
    """The first page's tags by number, as tifffile reads them."""
    with tifffile.TiffFile(path) as file:
        return {tag.code: tag.value for tag in file.pages[0].tags.values()}


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("ink", [(0, 0, 0), BROWN, None])
def test_line_is_the_same_in_three_readers(tmp_path, size, ink):
    sheet = drawn(*size, ink=ink)
    path = write(sheet, Line("tiff"), tmp_path / "a.tif")
    expected = rgba_of(sheet)
    np.testing.assert_array_equal(tifffile.imread(path).reshape(expected.shape), expected)
    image = opened(path)
    assert image.mode == "RGBA"
    np.testing.assert_array_equal(np.asarray(image), expected)
    # OpenCV reads 8-bit RGBA through a libtiff call that multiplies colour by alpha
    bgra = cv2.imread(str(path), cv2.IMREAD_UNCHANGED)
    np.testing.assert_array_equal(bgra[..., 3], expected[..., 3])
    multiplied = expected[..., :3] * (expected[..., 3:] / 255)
    assert np.abs(bgra[..., 2::-1] - multiplied).max() <= 1


@pytest.mark.parametrize("size", [(1, 1), (129, 9)])
@pytest.mark.parametrize("ink", [(0, 0, 0), BROWN, None])
def test_16_bits_stay_16(tmp_path, size, ink):
    sheet = drawn(*size, bits=16, ink=ink)
    path = write(sheet, Line("tiff"), tmp_path / "a.tif")
    np.testing.assert_array_equal(tifffile.imread(path).reshape(rgba_of(sheet).shape),
                                  rgba_of(sheet))
    bgra = cv2.imread(str(path), cv2.IMREAD_UNCHANGED)
    np.testing.assert_array_equal(bgra[..., [2, 1, 0, 3]], rgba_of(sheet))


def test_alpha_is_unassociated_and_resolution_and_profile_are_there(tmp_path):
    path = write(drawn(300, 9, ppi=600.0), Line("tiff"), tmp_path / "a.tif")
    tags = tags_of(path)
    assert tags[338] == (tifffile.EXTRASAMPLE.UNASSALPHA,)  # TIFF 6.0, section 18
    assert tags[282] == tags[283] == (600, 1)
    assert tags[296] == tifffile.RESUNIT.INCH
    assert len(tags[273]) == 3
    profile = ImageCms.ImageCmsProfile(io.BytesIO(tags[34675]))
    assert profile.profile.xcolor_space == "RGB "


def test_the_step_list_is_there_in_ascii(tmp_path):
    tags = tags_of(write(drawn(9, 9), Line("tiff"), tmp_path / "a.tif"))
    assert tags[270].isascii()
    assert json.loads(tags[270]) == json.loads(STEPS)


@pytest.mark.parametrize(("ppi", "expected"), [
    (300.0, (300, 1)), (72.5, (145, 2)), (118.11, (11811, 100)),
])
def test_resolution_is_exact(tmp_path, ppi, expected):
    assert tags_of(write(drawn(9, 9, ppi=ppi), Print(), tmp_path / "a.tif"))[282] == expected


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("bits", [8, 16])
def test_print_of_black_ink_is_its_complement(tmp_path, size, bits):
    sheet = drawn(*size, bits=bits)
    path = write(sheet, Print(), tmp_path / "a.tif")
    expected = 255 - rgba_of(sheet, 8)[..., 3]
    np.testing.assert_array_equal(tifffile.imread(path).reshape(size), expected)
    assert opened(path).mode == "L"
    np.testing.assert_array_equal(np.asarray(opened(path)), expected)
    np.testing.assert_array_equal(cv2.imread(str(path), cv2.IMREAD_UNCHANGED), expected)


@pytest.mark.parametrize("ink", [BROWN, None])
def test_print_of_coloured_ink_is_luma_of_the_flattened_page(tmp_path, ink):
    # ITU-R BT.601-7, 2.5.1: 0.299 R + 0.587 G + 0.114 B
    sheet = drawn(150, 30, ink=ink)
    grey = tifffile.imread(write(sheet, Print(), tmp_path / "a.tif"))
    luma = over_ground(sheet, (255, 255, 255)) @ np.array([0.299, 0.587, 0.114])
    assert np.abs(grey - luma).max() <= 0.51


def test_print_holds_nothing_but_the_picture(tmp_path):
    path = write(drawn(300, 40), Print(), tmp_path / "a.tif")
    tags = tags_of(path)
    assert tags[259] == tifffile.COMPRESSION.LZW
    assert tags[262] == tifffile.PHOTOMETRIC.MINISBLACK
    assert (tags[277], tags[258]) == (1, 8)
    # no step list, software, name, date, alpha, profile
    assert not {270, 305, 269, 306, 338, 34675} & set(tags)
    assert str(tmp_path).encode() not in path.read_bytes()


def test_print_takes_the_step_list_when_asked(tmp_path):
    tags = tags_of(write(drawn(9, 9), Print(steps=True), tmp_path / "a.tif"))
    assert json.loads(tags[270]) == json.loads(STEPS)


def test_bytes_do_not_depend_on_the_number_of_workers(tmp_path):
    sheet = drawn(1500, 31, ink=BROWN)
    for rendition in (Line("tiff"), Print()):
        one, three = (
            write(sheet, rendition, tmp_path / f"{n}", workers=n).read_bytes() for n in (1, 3)
        )
        assert one == three


def test_past_four_gigabytes_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(tiff, "_LARGEST", 3000)
    with pytest.raises(Refused, match=r"a\.tif: a TIFF file holds 4 GB at most; write"):
        write(drawn(600, 40), Line("tiff"), tmp_path / "a.tif")
    assert not list(tmp_path.iterdir())
