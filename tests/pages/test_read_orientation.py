"""The eight orientations of EXIF, in every file that can state one."""

from io import BytesIO

import numpy as np
import pytest
from PIL import Image, ImageOps

from app.pages.read import read
from tests.pages.read_making import AT_300, grey_page, pixels, png, png_chunk, rgb_page, tiff


def exif(code, across=300, down=300):
    data = Image.Exif()
    data[274] = code
    data[282], data[283], data[296] = across, down, 2
    return data.tobytes()


def upright(picture, code):
    """What Pillow makes of the same picture and the same word."""
    file = BytesIO()
    picture.save(file, "png", exif=exif(code))
    return np.asarray(ImageOps.exif_transpose(Image.open(file)))


@pytest.mark.parametrize("code", range(1, 9))
def test_every_orientation_in_every_file_that_states_one(tmp_path, code):
    page = rgb_page(24, 40)
    picture = Image.fromarray(page)
    picture.save(tmp_path / "a.png", exif=exif(code))
    picture.save(tmp_path / "a.webp", lossless=True, exif=exif(code))
    rows = [page[top:top + 7].tobytes() for top in range(0, 24, 7)]
    (tmp_path / "a.tif").write_bytes(
        tiff(rows, 40, 24, t258=[8] * 3, t262=2, t277=3, t278=7, t274=code)
    )
    expected = upright(picture, code)
    for name in ("a.png", "a.webp", "a.tif"):
        np.testing.assert_array_equal(pixels(tmp_path / name), expected, name)
    picture.save(tmp_path / "a.jpg", exif=exif(code), quality=95)
    as_stored = np.asarray(Image.open(tmp_path / "a.jpg"))
    np.testing.assert_array_equal(
        pixels(tmp_path / "a.jpg"), upright(Image.fromarray(as_stored), code)
    )


@pytest.mark.parametrize("code", range(1, 9))
def test_grey_pages_of_sixteen_bits_turn_too(tmp_path, code):
    page = grey_page(300, 41, np.uint16)
    path = tmp_path / "a.tif"
    path.write_bytes(tiff([page.tobytes()], 41, 300, t258=16, t262=1, t274=code))
    low = Image.fromarray((page & 255).astype(np.uint8))
    high = Image.fromarray((page >> 8).astype(np.uint8))
    expected = upright(low, code) + upright(high, code) * np.uint16(256)
    np.testing.assert_array_equal(pixels(path, rows=129), expected)


def test_resolution_turns_with_the_page(tmp_path):
    path = tmp_path / "a.tif"
    data = {"t258": 8, "t262": 1, "t282": (5, [(602, 1)]), "t283": (5, [(598, 1)])}
    path.write_bytes(tiff([grey_page().tobytes()], 53, 37, t274=6, **data))
    scan = read(path)
    assert scan.shape == (53, 37)
    assert scan.ppi == 600


def test_nonsense_counts_as_upright(tmp_path):
    for n, word in enumerate((b"", b"Exif", exif(6)[6:40], b"II*\0\xff\xff\xff\xff", b"II*\0")):
        path = tmp_path / f"{n}.png"
        rows = [row.tobytes() for row in grey_page()]
        path.write_bytes(png(53, 37, (8, 0), rows, after=png_chunk(b"eXIf", word)))
        assert read(path, given=AT_300).shape == (37, 53)
    path = tmp_path / "a.tif"
    path.write_bytes(tiff([grey_page().tobytes()], 53, 37, t258=8, t262=1, t274=9))
    assert read(path, given=AT_300).shape == (37, 53)
